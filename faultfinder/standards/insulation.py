"""The least insulation resistance that a standard allows, by the circuit's nominal voltage.

The rows are in `rules/limits`, one file a standard; the region says which.
"""

from functools import cache
from typing import Annotated, ClassVar, Literal, TypeAlias

from pydantic import Field

from faultfinder.source.shelf import Shelf
from faultfinder.standards.conductors import Positive
from faultfinder.standards.files import MaybeCited, read
from faultfinder.standards.limit import Limit, LimitFile
from faultfinder.standards.regions import Region
from faultfinder.standards.unknown import UnknownStandard

Load: TypeAlias = Literal["any", "heating-elements", "equipment"]

_CONNECTED: dict[Load, str] = {
    "any": "",
    "heating-elements": " with heating elements connected",
    "equipment": " with equipment connected",
}


_USUAL_TEST_V = 500.0  # common practice, no source


class _Row(MaybeCited):
    load: Load = "any"
    """What is left connected."""
    up_to_v: Positive
    """The highest nominal voltage it is for. [V]"""
    test_v: Positive
    """The test voltage, d.c. [V]"""
    minimum_mohm: Positive
    """The least insulation. [Mohm]"""


class InsulationFile(LimitFile):
    """The insulation limits of a standard, which a region names."""

    blanks: ClassVar = frozenset({"value", "nominal", "test", "load"})

    rows: Annotated[tuple[_Row, ...], Field(min_length=1)]
    """The least insulation, by nominal voltage."""


def insulation_minimum_mohm(region: Region, nominal_v: float, *, load: Load = "any") -> Limit:
    """Return the least insulation resistance [Mohm] of a circuit of a nominal voltage [V].

    A circuit up to 50 V is taken for SELV or PELV; for an FELV circuit, ask with the voltage of
    the circuit that feeds it. `load` is what was left connected; a region that makes no difference
    for it answers as for any other. Sources stand with the rows. Raises `UnknownStandard` for a
    voltage that no row covers.
    """
    file, row = _row(region, nominal_v, load)
    return _limit(file, row, nominal_v)


def insulation_minimum_at(region: Region, nominal_v: float, test_v: float) -> Limit | None:
    """Return the least insulation resistance [Mohm] in a test with a certain voltage [V d.c.].

    The row of the nominal voltage holds for its own test voltage; where a lower one is allowed
    once equipment is connected, that row does for it. Any other test voltage has no limit, nor has
    a region without insulation limits. Raises as `insulation_minimum_mohm` does.
    """
    if region.insulation is None:
        return None
    loads: tuple[Load, ...] = ("any", "equipment")
    for file, row in (_row(region, nominal_v, load) for load in loads):
        if row.test_v == test_v:
            return _limit(file, row, nominal_v)
    return None


def insulation_test_v(region: Region, nominal_v: float) -> float:
    """Return with how many volts d.c. the insulation of a circuit is tested. [V]

    Where the region does not say, with the usual ones. Raises as `insulation_minimum_mohm` does.
    """
    if region.insulation is None:
        return _USUAL_TEST_V
    return _row(region, nominal_v, "any")[1].test_v


def _row(region: Region, nominal_v: float, load: Load) -> tuple[InsulationFile, _Row]:
    if region.insulation is None:
        found = f"insulation limit in region {region.id}"
        raise UnknownStandard(found, "a region that has one")
    file = _insulation_file(region.insulation, region.shelf)
    covering = [row for row in file.rows if 0.0 < nominal_v <= row.up_to_v]
    if not covering:
        highest_v = max(row.up_to_v for row in file.rows)
        raise UnknownStandard(
            f"nominal voltage {nominal_v:g} V in {file.id}",
            f"a voltage above 0, up to {highest_v:g} V",
        )
    # A row for this very load comes before one for any; then the narrowest voltage band.
    special = [row for row in covering if row.load == load != "any"]
    ordinary = [row for row in covering if row.load == "any"]
    return file, min(special or ordinary, key=lambda row: row.up_to_v)


def _limit(file: InsulationFile, row: _Row, nominal_v: float) -> Limit:
    words = {
        "nominal": f"{nominal_v:g}",
        "test": f"{row.test_v:g}",
        "load": _CONNECTED[row.load],
    }
    return file.limit(row.minimum_mohm, (row.citation(file.citation()),), words)


@cache
def _insulation_file(id_: str, shelf: Shelf) -> InsulationFile:
    return read("limits", id_, "insulation limit", InsulationFile, shelf)
