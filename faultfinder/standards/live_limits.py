"""What a standard allows a live test to read: the earth fault loop, and the voltage that is lost.

- loop, TN: a share of factor x U0 / Ia (`faultfinder.standards.limits`), the region's own, for
  conductors that are near ambient while it is read and hot when it matters;
- loop, TT behind a residual current device: 50 V over its rated residual current (IEC 60364-4-41
  clause 411.5.3, from memory);
- voltage drop: the region's share of the nominal voltage;
- trip time of a residual current device, by the current of the test (IEC 61008-1, as tabled).
"""

import math
from functools import cache
from typing import Annotated, ClassVar, Literal, TypeAlias

from pydantic import Field

from faultfinder.source.shelf import Shelf, shipped_shelf
from faultfinder.standards.files import MaybeCited, read
from faultfinder.standards.limit import Limit, LimitFile
from faultfinder.standards.limits import limit_file, loop_limit_ohm, no_limit, tripping_current_a
from faultfinder.standards.regions import Region

Kind: TypeAlias = Literal["general", "selective"]
Use: TypeAlias = Literal["lighting", "other"]


class MeasuredFile(LimitFile):
    """``rules/limits/measured-loop.yaml``."""

    blanks: ClassVar = frozenset({"value", "whole", "share", "current", "device"})


class ResidualFile(LimitFile):
    """``rules/limits/residual-loop.yaml``, with the touch voltage. [V]"""

    blanks: ClassVar = frozenset({"value", "touch", "current"})

    touch_v: Annotated[float, Field(gt=0)]
    """The touch voltage that is allowed. [V]"""


class CurrentFile(LimitFile):
    """``rules/limits/fault-current.yaml``."""

    blanks: ClassVar = frozenset({"value", "nominal", "loop"})


class DropFile(LimitFile):
    """``rules/limits/voltage-drop.yaml``."""

    blanks: ClassVar = frozenset({"value", "percent", "nominal", "use"})


class _TripRow(MaybeCited):
    kind: Kind
    """Which devices: general, or selective (type S)."""
    times: Annotated[float, Field(gt=0)]
    """How many times the rated residual current flows."""
    at_most_ms: Annotated[float, Field(gt=0)]
    """The longest time it may take. [ms]"""


class TripFile(LimitFile):
    """How long residual current devices may take, which a region names."""

    blanks: ClassVar = frozenset({"value", "kind", "rated", "current"})

    rows: Annotated[tuple[_TripRow, ...], Field(min_length=1)]
    """The longest times, by kind of device and current."""


def measured_loop_limit_ohm(region: Region, curve: str, rating_a: float) -> Limit:
    """Return the greatest impedance [ohm] that a loop test may read, conductors near ambient.

    The region's share of what the loop may have when they are hot; its source stands with it in
    `rules/regions`. Raises as `loop_limit_ohm` does.
    """
    file = limit_file("measured-loop", MeasuredFile, region.shelf)
    whole_ohm, share = loop_limit_ohm(region, curve, rating_a).value, region.measured_loop
    if share is None:
        raise no_limit(region)
    words = {
        "whole": f"{whole_ohm:.3g}",
        "share": share.says,
        "current": f"{tripping_current_a(region, curve, rating_a):g}",
        "device": f"{curve}{rating_a:g}",
    }
    sources = (file.citation(), region.curve(curve).citation, share.citation)
    return file.limit(share.value * whole_ohm, sources, words, share.basis)


def residual_loop_limit_ohm(residual_ma: float, shelf: Shelf | None = None) -> Limit:
    """Return the greatest loop impedance [ohm] in TT, by the rated residual current [mA].

    From a shelf of rules, the program's own unless given. 50 V over it: IEC 60364-4-41 clause
    411.5.3, from memory. Raises `ValueError` for a current that is not above zero.
    """
    if not (residual_ma > 0.0 and math.isfinite(residual_ma)):
        raise ValueError(f"a device cannot be rated {residual_ma:g} mA")
    file = _residual_file(shelf or shipped_shelf())
    words = {"touch": f"{file.touch_v:g}", "current": f"{residual_ma:g}"}
    return file.limit(file.touch_v / (residual_ma / 1e3), (file.citation(),), words)


def fault_current_limit_a(region: Region, loop: Limit) -> Limit:
    """Return the least prospective earth fault current [A], from the loop's own limit [ohm]."""
    file = limit_file("fault-current", CurrentFile, region.shelf)
    words = {"nominal": f"{region.nominal_voltage_v:g}", "loop": f"{loop.value:.3g}"}
    return file.limit(region.nominal_voltage_v / loop.value, (file.citation(),), words, loop.basis)


def voltage_drop_limit_v(region: Region, use: Use = "other") -> Limit:
    """Return what may be lost of the nominal voltage [V] up to a point of some use.

    The region's share, with its source in `rules/regions`.
    """
    file = limit_file("voltage-drop", DropFile, region.shelf)
    share = region.lighting_drop if use == "lighting" else region.other_drop
    words = {
        "percent": f"{100 * share.value:g}",
        "nominal": f"{region.nominal_voltage_v:g}",
        "use": "a light" if use == "lighting" else "a point",
    }
    value_v = share.value * region.nominal_voltage_v
    return file.limit(value_v, (file.citation(), share.citation), words, share.basis)


def trip_time_limit_ms(region: Region, kind: Kind, rated_ma: float, times: float) -> Limit | None:
    """Return the longest trip time [ms] of a kind of device at so many times its rated current.

    None where the region has no such limit, or none for that current.
    """
    if region.trip_time is None:
        return None
    file = _trip_file(region.trip_time, region.shelf)
    for row in file.rows:
        if (row.kind, row.times) == (kind, times):
            words = {"kind": kind, "rated": f"{rated_ma:g}", "current": f"{times * rated_ma:g}"}
            return file.limit(row.at_most_ms, (row.citation(file.citation()),), words)
    return None


@cache
def _trip_file(id_: str, shelf: Shelf) -> TripFile:
    return read("limits", id_, "trip times", TripFile, shelf)


@cache
def _residual_file(shelf: Shelf) -> ResidualFile:
    return read("limits", "residual-loop", "limit", ResidualFile, shelf)
