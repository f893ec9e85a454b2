"""Whose figures and words apply to a circuit: Australia and New Zealand, the United Kingdom, IEC.

The regions are in `rules/regions`. They differ because each standard chose its own point of the
same tripping band and its own allowance for a low supply: a limit without a region means nothing.
"""

from dataclasses import dataclass
from functools import cache
from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from faultfinder.source.decode import Schema
from faultfinder.source.shelf import Shelf, shipped_shelf
from faultfinder.standards.conductors import ConductorTable, Positive, conductor_table
from faultfinder.standards.files import Basis, Citation, Cited, StandardFile, ids, read
from faultfinder.standards.unknown import unknown_name

DEFAULT_REGION = "au-nz"

Share: TypeAlias = Annotated[float, Field(gt=0, le=1)]


@dataclass(frozen=True, slots=True)
class Curve:
    """A tripping curve: the multiple of rated current that counts as tripping at once."""

    name: str
    multiple: float
    citation: Citation


@dataclass(frozen=True, slots=True)
class Portion:
    """A share of another figure; ``says`` are the words it is spoken of in, if it has any."""

    value: float
    basis: Basis
    citation: Citation
    says: str = ""


@dataclass(frozen=True, slots=True)
class Words:
    """What the conductors are called."""

    active: str
    neutral: str
    earth: str


@dataclass(frozen=True, slots=True)
class Region:
    """The figures and words of one set of wiring rules.

    Attributes
    ----------
    id, title : str
        The id that circuit files use, and the name for people.
    nominal_voltage_v : float
        Active to neutral, U0. [V]
    voltage_factor : float
        Share of U0 that is counted on in a fault.
    curves : tuple of Curve
        The tripping curves of circuit-breakers.
    internal_share : float
        Share of the voltage for the circuit's own part of the loop.
    share_basis : {'derived', 'practice'}
        Whether the wiring rules have that share; where not, a limit that uses it is practice.
    measured_loop : Portion
        What a loop that is read with its conductors near ambient may have of what it may when hot.
    lighting_drop, other_drop : Portion
        What may be lost of the nominal voltage from the point of supply to a light, or elsewhere.
    hot_temperature_c, test_temperature_c : float
        A conductor at full load, and during a dead test unless it is stated. [°C]
    copper_table, aluminium_table : str
        Ids of the conductor tables.
    insulation : str
        Id of the insulation limits in `rules/limits`.
    words : Words
        What the conductors are called.
    citation, share_citation : Citation
        Where the region's figures, and its internal share, are from.
    shelf : Shelf
        The rules it is one of, and in which its tables and limits are found.

    """

    id: str
    title: str
    nominal_voltage_v: float
    voltage_factor: float
    curves: tuple[Curve, ...]
    internal_share: float
    share_basis: Basis
    measured_loop: Portion
    lighting_drop: Portion
    other_drop: Portion
    hot_temperature_c: float
    test_temperature_c: float
    copper_table: str
    aluminium_table: str
    insulation: str
    words: Words
    citation: Citation
    share_citation: Citation
    shelf: Shelf

    def curve(self, name: str) -> Curve:
        """Return a tripping curve by its letter; raise `UnknownStandard` if there is none."""
        for curve in self.curves:
            if curve.name == name:
                return curve
        raise unknown_name("tripping curve", name, [curve.name for curve in self.curves])

    def conductor_table(self, material: str = "copper") -> ConductorTable:
        """Return the table of a material here; raise `UnknownStandard` if there is none."""
        by_material = {"copper": self.copper_table, "aluminium": self.aluminium_table}
        if material not in by_material:
            raise unknown_name("conductor material", material, by_material)
        return conductor_table(by_material[material], self.shelf)

    def word(self, conductor: str) -> str:
        """Return what people here call a conductor: ``A``, ``L1``, ``N``, ``E`` and so on."""
        words = {
            "A": self.words.active,
            "N": self.words.neutral,
            "E": self.words.earth,
            "S": f"switched {self.words.active}",
        }
        if conductor in {"T1", "T2"}:
            return f"two-way conductor {conductor}"
        return words.get(conductor) or f"{self.words.active} {conductor}"


class _Curve(Cited):
    multiple: Positive


class _Share(Cited):
    value: Share
    basis: Literal["derived", "practice"]


class _MeasuredLoop(_Share):
    says: Annotated[str, Field(min_length=1)]


class _DropShare(Cited):
    value: Share


class _Drop(Schema):
    lighting: _DropShare
    other: _DropShare


class _Tables(Schema):
    copper: str
    aluminium: str


class _Words(Schema):
    active: str
    neutral: str
    earth: str


class RegionFile(StandardFile):
    """Whose figures and words apply, as ``rules/regions/<id>.yaml`` says."""

    kind: Literal["region"]
    nominal_voltage_v: Positive
    voltage_factor: Share
    curves: dict[str, _Curve]
    internal_share: _Share
    measured_loop: _MeasuredLoop
    voltage_drop: _Drop
    hot_temperature_c: float
    test_temperature_c: float
    conductor_tables: _Tables
    insulation: str
    words: _Words


def region(id_: str = DEFAULT_REGION, shelf: Shelf | None = None) -> Region:
    """Return the region of that id, such as ``au-nz``, from a shelf of rules.

    It is the program's own unless given. Raises `UnknownStandard` if there is none, `BadInput` if
    its file is wrong.
    """
    return _region(id_, shelf or shipped_shelf())


@cache
def _region(id_: str, shelf: Shelf) -> Region:
    file = read("regions", id_, "region", RegionFile, shelf)
    measured, drop = file.measured_loop, file.voltage_drop
    return Region(
        id=file.id,
        title=file.title,
        nominal_voltage_v=file.nominal_voltage_v,
        voltage_factor=file.voltage_factor,
        curves=tuple(
            Curve(name, curve.multiple, curve.citation()) for name, curve in file.curves.items()
        ),
        internal_share=file.internal_share.value,
        share_basis=file.internal_share.basis,
        measured_loop=Portion(measured.value, measured.basis, measured.citation(), measured.says),
        lighting_drop=Portion(drop.lighting.value, "table", drop.lighting.citation()),
        other_drop=Portion(drop.other.value, "table", drop.other.citation()),
        hot_temperature_c=file.hot_temperature_c,
        test_temperature_c=file.test_temperature_c,
        copper_table=file.conductor_tables.copper,
        aluminium_table=file.conductor_tables.aluminium,
        insulation=file.insulation,
        words=Words(file.words.active, file.words.neutral, file.words.earth),
        citation=file.citation(),
        share_citation=file.internal_share.citation(),
        shelf=shelf,
    )


def regions() -> tuple[str, ...]:
    """Return the ids of the regions, sorted."""
    return ids("regions")
