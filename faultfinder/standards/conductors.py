"""Resistance of conductors by size and temperature, from the published maximum at 20 °C.

The tables are in `rules/conductors`, in ohm per km. Real conductors are at or a few percent
below the figure of their size, which is a maximum. Tables by American wire gauge hold a
resistivity instead, and their sizes follow from the gauge's definition.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Literal, TypeAlias

from pydantic import Field, field_validator, model_validator
from pydantic_core import PydanticCustomError

from faultfinder.source.shelf import Shelf, shipped_shelf
from faultfinder.standards import gauge
from faultfinder.standards.files import Citation, Cited, MaybeCited, StandardFile, ids, read
from faultfinder.standards.unknown import UnknownStandard

Material: TypeAlias = Literal["copper", "aluminium"]
Positive: TypeAlias = Annotated[float, Field(gt=0)]


@dataclass(frozen=True, slots=True)
class SizeRow:
    """One row of a table: a nominal size [mm²] and its resistance at 20 °C [ohm/km]."""

    area_mm2: float
    ohm_per_km_20c: float
    citation: Citation


@dataclass(frozen=True, slots=True)
class ConductorTable:
    """Resistance of one kind of conductor by size.

    Attributes
    ----------
    id, title : str
        The id that circuit files use, and the name for people.
    material : {'copper', 'aluminium'}
    rows : tuple of SizeRow
        Maximum d.c. resistance at 20 °C, by increasing size. [ohm/km]
    alpha_20 : float
        Change of resistance with temperature, as a share of that at 20 °C. [1/K]
    citation, alpha_citation : Citation
        Where the rows (unless a row says otherwise) and the coefficient are from.

    """

    id: str
    title: str
    material: Material
    rows: tuple[SizeRow, ...]
    alpha_20: float
    citation: Citation
    alpha_citation: Citation

    @property
    def ohm_per_km_20c(self) -> Mapping[float, float]:
        """Resistance at 20 °C [ohm/km] by size [mm²]."""
        return {row.area_mm2: row.ohm_per_km_20c for row in self.rows}

    def sizes(self) -> tuple[float, ...]:
        """Return the sizes in the table [mm²], smallest first."""
        return tuple(row.area_mm2 for row in self.rows)

    def row(self, area_mm2: float) -> SizeRow:
        """Return the row of a size [mm²]; raise `UnknownStandard` naming the sizes next to it."""
        for row in self.rows:
            if row.area_mm2 == area_mm2:
                return row
        sizes = self.sizes()
        of_gauge = gauge.is_gauge(sizes[0])
        known = {s: gauge.size_in_words(s) if of_gauge else f"{s:g}" for s in sizes}
        beside = [
            *[said for size, said in known.items() if size < area_mm2][-1:],
            *[said for size, said in known.items() if size > area_mm2][:1],
        ]
        raise UnknownStandard(
            f"size {gauge.size_in_words(area_mm2)} in {self.id}",
            ", ".join(known.values()) + ("" if of_gauge else " mm²"),
            " or ".join(beside),
        )

    def temperature_factor(self, temperature_c: float) -> float:
        """Return resistance at a temperature [°C] over resistance at 20 °C: 1 + alpha (t - 20).

        The linear form is that of IEC 60228 and AS/NZS 3008.1 (from memory). It is good for the
        temperatures of insulated cable; raises `ValueError` where it would give no resistance.
        """
        factor = 1.0 + self.alpha_20 * (temperature_c - 20.0)
        if not (factor > 0.0 and math.isfinite(factor)):
            raise ValueError(f"no conductor can be at {temperature_c:g} °C")
        return factor

    def ohm_per_m(self, area_mm2: float, temperature_c: float) -> float:
        """Return the resistance [ohm/m] of one conductor of a size [mm²] at a temperature [°C].

        Raises `UnknownStandard` for a size that is not in the table, `ValueError` for an impossible
        temperature.
        """
        r20_ohm_per_m = self.row(area_mm2).ohm_per_km_20c / 1000.0
        return r20_ohm_per_m * self.temperature_factor(temperature_c)


class _Coefficient(Cited):
    per_k: Positive
    """Change with temperature, as a share of the resistance at 20 °C. [1/K]"""


class _Row(MaybeCited):
    area_mm2: Positive
    """Nominal size. [mm²]"""
    ohm_per_km: Positive
    """Greatest resistance at 20 °C. [ohm/km]"""


class _Resistivity(Cited):
    ohm_mm2_per_m: Positive
    """At 20 °C. [ohm mm²/m]"""


class ConductorFile(StandardFile):
    """Conductors by size, as ``rules/conductors/<id>.yaml`` lists them.

    ``rows`` hold a size each; ``gauge_resistivity`` is for all sizes of American wire gauge.
    """

    kind: Literal["conductor-table"]
    """What kind of rule it is."""
    material: Material
    """What the conductors are of."""
    temperature_coefficient: _Coefficient
    """How resistance changes with temperature."""
    rows: Annotated[tuple[_Row, ...] | None, Field(min_length=1)] = None
    """Resistance by size."""
    gauge_resistivity: _Resistivity | None = None
    """What the sizes of American wire gauge are worked out from, instead of rows."""

    @model_validator(mode="after")
    def _has_sizes(self) -> "ConductorFile":
        if (self.rows is None) == (self.gauge_resistivity is None):
            found = "both rows and gauge_resistivity" if self.rows else "no sizes"
            parts = {"found": found, "expected": "rows, or gauge_resistivity", "nearest": ""}
            raise PydanticCustomError("impossible-value", "{found}", parts)
        return self

    @field_validator("rows")
    @classmethod
    def _each_size_once(cls, rows: tuple[_Row, ...] | None) -> tuple[_Row, ...] | None:
        seen: set[float] = set()
        for i, row in enumerate(rows or ()):
            if row.area_mm2 in seen:
                parts = {
                    "found": f"{row.area_mm2:g} mm² is in this table twice",
                    "expected": "each size once",
                    "at": (i, "area_mm2"),
                }
                raise PydanticCustomError("repeated-size", "{found}", parts)
            seen.add(row.area_mm2)
        return rows

    def sizes(self) -> Iterator[SizeRow]:
        """Yield the rows, those of wire gauge worked out: resistivity over cross-section."""
        for row in self.rows or ():
            yield SizeRow(row.area_mm2, row.ohm_per_km, row.citation(self.citation()))
        if self.gauge_resistivity is not None:
            for area_mm2 in map(gauge.area_mm2, gauge.NUMBERS):
                ohm_per_km = 1000.0 * self.gauge_resistivity.ohm_mm2_per_m / area_mm2
                yield SizeRow(area_mm2, ohm_per_km, self.gauge_resistivity.citation())


def conductor_table(id_: str, shelf: Shelf | None = None) -> ConductorTable:
    """Return the conductor table of that id, such as ``as-nzs-copper``, from a shelf of rules.

    It is the program's own unless given. Raises `UnknownStandard` if there is none, `BadInput` if
    its file is wrong.
    """
    return _conductor_table(id_, shelf or shipped_shelf())


@cache
def _conductor_table(id_: str, shelf: Shelf) -> ConductorTable:
    file = read("conductors", id_, "conductor table", ConductorFile, shelf)
    return ConductorTable(
        id=file.id,
        title=file.title,
        material=file.material,
        rows=tuple(sorted(file.sizes(), key=lambda row: row.area_mm2)),
        alpha_20=file.temperature_coefficient.per_k,
        citation=file.citation(),
        alpha_citation=file.temperature_coefficient.citation(),
    )


def tables() -> tuple[str, ...]:
    """Return the ids of the conductor tables, sorted."""
    return ids("conductors")
