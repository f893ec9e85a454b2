"""What a standard allows: greatest loop and earth resistances, by device and size.

The wording and the source of each limit are in `rules/limits`; the figures that differ from place
to place are the region's. A limit is not what a sound circuit should read.

How the limits hang together, with Ia the current that trips the device at once:

- whole loop, conductors hot: factor x U0 / Ia (IEC 60364-4-41 clause 411.4.4, from memory);
- the circuit's active and earth in series, hot: ``internal_share`` of that (AS/NZS 3000:2018
  Appendix B5, from memory), brought to the test's temperature by the conductor's coefficient;
- its earth alone: the earth's part of that, by the resistances per metre of the two sizes.
"""

import math
from functools import cache
from typing import ClassVar

from faultfinder.source.shelf import Shelf
from faultfinder.standards.conductors import ConductorTable
from faultfinder.standards.files import read
from faultfinder.standards.gauge import size_in_words
from faultfinder.standards.limit import Limit, LimitFile
from faultfinder.standards.regions import Region
from faultfinder.standards.unknown import UnknownStandard


class LoopFile(LimitFile):
    """``rules/limits/earth-fault-loop.yaml``."""

    blanks: ClassVar = frozenset({"value", "current", "device", "active", "earth"})


class InternalFile(LoopFile):
    """``rules/limits/internal-loop.yaml``."""

    blanks: ClassVar = LoopFile.blanks | {"temperature"}


class EarthFile(InternalFile):
    """``rules/limits/earth-continuity.yaml``."""

    blanks: ClassVar = InternalFile.blanks | {"sizes"}


def tripping_current_a(region: Region, curve: str, rating_a: float) -> float:
    """Return the current [A] that counts as tripping a circuit-breaker at once.

    It is the region's multiple of the rated current [A]: a mean in Australia and New Zealand,
    the top of the tripping band elsewhere; sources with the multiples in `rules/regions`. Raises
    `UnknownStandard` for the curve, `ValueError` for a rating that is not above zero.
    """
    if not (rating_a > 0.0 and math.isfinite(rating_a)):
        raise ValueError(f"a device cannot be rated {rating_a:g} A")
    return region.curve(curve).multiple * rating_a


def loop_limit_ohm(region: Region, curve: str, rating_a: float) -> Limit:
    """Return the greatest impedance [ohm] of the whole earth fault loop, conductors hot.

    voltage factor x U0 / Ia: IEC 60364-4-41 clause 411.4.4, from memory. Raises as
    `tripping_current_a` does.
    """
    file = limit_file("earth-fault-loop", LoopFile, region.shelf)
    value_ohm = _loop_ohm(region, curve, rating_a)
    sources = (file.citation(), region.curve(curve).citation)
    return file.limit(value_ohm, sources, _words(region, curve, rating_a))


def internal_loop_limit_ohm(
    region: Region,
    curve: str,
    rating_a: float,
    *,
    table: ConductorTable | None = None,
    test_temperature_c: float | None = None,
) -> Limit:
    """Return the greatest resistance [ohm] of a circuit's active and earth in series, in a test.

    internal share x voltage factor x U0 / Ia holds for conductors at the region's operating
    temperature; a reading at the test's temperature [°C] (the region's unless given) is held to
    that times (1 + alpha (test - 20)) / (1 + alpha (operating - 20)), with the coefficient of
    `table` (the region's copper unless given). Form of the derivation: AS/NZS 3000:2018 Table 8.2
    and Appendix B5, from memory. Raises as `tripping_current_a` does, and `ValueError` for an
    impossible temperature.
    """
    table = table or region.conductor_table()
    test_c = region.test_temperature_c if test_temperature_c is None else test_temperature_c
    file = limit_file("internal-loop", InternalFile, region.shelf)
    value_ohm = _internal_ohm(region, curve, rating_a, table, test_c)
    sources = (
        file.citation(),
        region.curve(curve).citation,
        region.share_citation,
        table.alpha_citation,
    )
    words = _words(region, curve, rating_a) | {"temperature": f"{test_c:g}"}
    return file.limit(value_ohm, sources, words, region.share_basis)


def earth_limit_ohm(
    region: Region,
    curve: str,
    rating_a: float,
    active_mm2: float,
    earth_mm2: float,
    *,
    table: ConductorTable | None = None,
    test_temperature_c: float | None = None,
) -> Limit:
    """Return the greatest resistance [ohm] of a circuit's earth, board to point, in a test.

    The internal loop's limit times r_earth / (r_active + r_earth), resistances per metre of the
    two sizes [mm²] in `table` (the region's copper unless given), so both conductors are taken to
    be of that table and of one length. Form of the derivation: AS/NZS 3000:2018 Table 8.2 and
    Appendix B5, from memory. Raises as `internal_loop_limit_ohm` does, and `UnknownStandard` for a
    size.
    """
    table = table or region.conductor_table()
    test_c = region.test_temperature_c if test_temperature_c is None else test_temperature_c
    file = limit_file("earth-continuity", EarthFile, region.shelf)
    active, earth = table.row(active_mm2), table.row(earth_mm2)
    share = earth.ohm_per_km_20c / (active.ohm_per_km_20c + earth.ohm_per_km_20c)
    value_ohm = share * _internal_ohm(region, curve, rating_a, table, test_c)
    sources = (
        file.citation(),
        region.curve(curve).citation,
        region.share_citation,
        table.alpha_citation,
        active.citation,
        earth.citation,
    )
    words = _words(region, curve, rating_a) | {
        "temperature": f"{test_c:g}",
        "sizes": _sizes(active_mm2, earth_mm2),
    }
    return file.limit(value_ohm, sources, words, region.share_basis)


def _loop_ohm(region: Region, curve: str, rating_a: float) -> float:
    available_v = region.voltage_factor * region.nominal_voltage_v
    return available_v / tripping_current_a(region, curve, rating_a)


def _internal_ohm(
    region: Region, curve: str, rating_a: float, table: ConductorTable, test_c: float
) -> float:
    whole_ohm, share = _loop_ohm(region, curve, rating_a), region.internal_share
    if share is None:
        raise no_limit(region)
    hot_ohm = share * whole_ohm
    hot_factor = table.temperature_factor(region.hot_temperature_c)
    return hot_ohm * table.temperature_factor(test_c) / hot_factor


def no_limit(region: Region) -> UnknownStandard:
    """Return the error for a limit of loops in a region that has none."""
    return UnknownStandard(f"limit of loops in region {region.id}", "a region that has one")


def _words(region: Region, curve: str, rating_a: float) -> dict[str, str]:
    return {
        "device": f"{curve}{rating_a:g}",
        "current": f"{tripping_current_a(region, curve, rating_a):g}",
        "active": region.words.active,
        "earth": region.words.earth,
    }


def _sizes(active_mm2: float, earth_mm2: float) -> str:
    said = f"{size_in_words(active_mm2)}/{size_in_words(earth_mm2)}"
    return said.replace(" mm²/", "/").replace(" AWG/", "/")


@cache
def limit_file(id_: str, model: type[LimitFile], shelf: Shelf) -> LimitFile:
    """Return the file of a limit by its id; raise `BadInput` if it is wrong."""
    return read("limits", id_, "limit", model, shelf)
