"""Whose figures and words apply to a circuit: Australia and New Zealand, the UK, the US, or IEC.

The regions are in `rules/regions`. They differ because each standard chose its own point of the
same tripping band and its own allowance for a low supply: a limit without a region means nothing.
Where a region's rules set no limit there is none, and ``unlimited`` says so.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Annotated, Literal, TypeAlias

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from faultfinder.source.decode import Schema
from faultfinder.source.shelf import Shelf, shipped_shelf
from faultfinder.standards.conductors import ConductorTable, Positive, conductor_table
from faultfinder.standards.files import Basis, Citation, Cited, StandardFile, ids, read
from faultfinder.standards.unknown import unknown_name

DEFAULT_REGION = "au-nz"

Letter: TypeAlias = Literal["A", "L1", "L2", "L3", "N", "E"]
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
    """What the conductors are called; ``earthing`` is what goes before bar, fault or electrode."""

    active: str
    neutral: str
    earth: str
    earthing: str


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
        The tripping curves of circuit-breakers; none where devices are known by rating alone.
    internal_share : float or None
        Share of the voltage for the circuit's own part of the loop; none without curves.
    share_basis : {'derived', 'practice'}
        Whether the wiring rules have that share; where not, a limit that uses it is practice.
    measured_loop : Portion or None
        What a loop that is read with its conductors near ambient may have of what it may when hot.
    lighting_drop, other_drop : Portion
        What may be lost of the nominal voltage from the point of supply to a light, or elsewhere.
    hot_temperature_c, test_temperature_c : float
        A conductor at full load, and during a dead test unless it is stated. [°C]
    copper_table, aluminium_table : str
        Ids of the conductor tables.
    insulation : str or None
        Id of the insulation limits in `rules/limits`.
    trip_time : str or None
        Id of the trip times of residual current devices in `rules/limits`.
    words : Words
        What the conductors are called.
    colours : mapping
        What colours conductors have, by their letters.
    unlimited : mapping
        Why there is no limit, by the kind of limit that the region's rules do not set.
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
    internal_share: float | None
    share_basis: Basis
    measured_loop: Portion | None
    lighting_drop: Portion
    other_drop: Portion
    hot_temperature_c: float
    test_temperature_c: float
    copper_table: str
    aluminium_table: str
    insulation: str | None
    words: Words
    citation: Citation
    share_citation: Citation
    shelf: Shelf
    trip_time: str | None = None
    colours: Mapping[str, str] = field(default_factory=dict, hash=False)
    unlimited: Mapping[str, str] = field(default_factory=dict, hash=False)

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
    """Current that trips it at once, as a multiple of its rated current."""


class _Share(Cited):
    value: Share
    """The share."""
    basis: Literal["derived", "practice"]
    """Whether the rules have it, or it is practice."""


class _MeasuredLoop(_Share):
    says: Annotated[str, Field(min_length=1)]
    """The share in words."""


class _DropShare(Cited):
    value: Share
    """The share."""
    basis: Literal["table", "practice"] = "table"
    """Whether the rules set it, or recommend it."""


class _Drop(Schema):
    lighting: _DropShare
    """Up to a light."""
    other: _DropShare
    """Up to anything else."""


class _Tables(Schema):
    copper: str
    """Of copper."""
    aluminium: str
    """Of aluminium."""


class _Words(Schema):
    active: str
    """The active: active, line, hot."""
    neutral: str
    """The neutral."""
    earth: str
    """A circuit's protective conductor."""
    earthing: str
    """What goes before bar, link, fault or electrode."""


class _Colour(Cited):
    says: Annotated[str, Field(min_length=1)]
    """The colours."""


class _Unlimited(Cited):
    says: Annotated[str, Field(min_length=1)]
    """Why there is no limit."""


LimitKind: TypeAlias = Literal[
    "earth-loop", "earth", "insulation", "loop", "fault-current", "voltage-drop", "trip-time"
]
"""What a test's reading may be held to."""


class RegionFile(StandardFile):
    """Whose figures and words apply, as ``rules/regions/<id>.yaml`` says."""

    kind: Literal["region"]
    """What kind of rule it is."""
    nominal_voltage_v: Positive
    """Active to neutral. [V]"""
    voltage_factor: Share = 1.0
    """Share of it that is counted on in a fault."""
    curves: dict[str, _Curve] = {}
    """The tripping curves of circuit-breakers; none where devices have no letters."""
    internal_share: _Share | None = None
    """Share of the voltage for the circuit's own part of the loop; with curves."""
    measured_loop: _MeasuredLoop | None = None
    """Share of the limit for a loop that is read near ambient; with curves."""
    voltage_drop: _Drop
    """What may be lost of the voltage."""
    hot_temperature_c: float
    """A conductor at full load. [°C]"""
    test_temperature_c: float
    """A conductor during a dead test. [°C]"""
    conductor_tables: _Tables
    """Ids of the conductor tables."""
    insulation: str | None = None
    """Id of the insulation limits; none if the rules have none."""
    trip_time: str | None = None
    """Id of the trip times of residual current devices; none if the rules have none."""
    words: _Words
    """What the conductors are called."""
    colours: dict[Letter, _Colour]
    """What colours they have, by their letters."""
    unlimited: dict[LimitKind, _Unlimited] = {}
    """The limits that the rules do not set, and why."""

    @model_validator(mode="after")
    def _has_loop_limits_or_none(self) -> "RegionFile":
        shares = (self.internal_share, self.measured_loop)
        missing = [bool(self.curves) != (share is not None) for share in shares]
        if any(missing):
            parts = {
                "found": "a region with only some of curves, internal_share and measured_loop",
                "expected": "all three, or none where no loop is limited",
                "nearest": "",
            }
            raise PydanticCustomError("impossible-value", "{found}", parts)
        return self


def region(id_: str = DEFAULT_REGION, shelf: Shelf | None = None) -> Region:
    """Return the region of that id, such as ``au-nz``, from a shelf of rules.

    It is the program's own unless given. Raises `UnknownStandard` if there is none, `BadInput` if
    its file is wrong.
    """
    return _region(id_, shelf or shipped_shelf())


@cache
def _region(id_: str, shelf: Shelf) -> Region:
    file = read("regions", id_, "region", RegionFile, shelf)
    share, measured, drop = file.internal_share, file.measured_loop, file.voltage_drop
    return Region(
        id=file.id,
        title=file.title,
        nominal_voltage_v=file.nominal_voltage_v,
        voltage_factor=file.voltage_factor,
        curves=tuple(
            Curve(name, curve.multiple, curve.citation()) for name, curve in file.curves.items()
        ),
        internal_share=share.value if share else None,
        share_basis=share.basis if share else "practice",
        measured_loop=Portion(measured.value, measured.basis, measured.citation(), measured.says)
        if measured
        else None,
        lighting_drop=_drop(drop.lighting),
        other_drop=_drop(drop.other),
        hot_temperature_c=file.hot_temperature_c,
        test_temperature_c=file.test_temperature_c,
        copper_table=file.conductor_tables.copper,
        aluminium_table=file.conductor_tables.aluminium,
        insulation=file.insulation,
        words=Words(**file.words.model_dump()),
        citation=file.citation(),
        share_citation=share.citation() if share else file.citation(),
        trip_time=file.trip_time,
        colours={letter: colour.says for letter, colour in file.colours.items()},
        unlimited={kind: _said(one) for kind, one in file.unlimited.items()},
        shelf=shelf,
    )


def _said(one: _Unlimited) -> str:
    how = "read" if one.provenance == "read" else "from memory"
    return f"{one.says} ({one.source}, {how})"


def _drop(share: _DropShare) -> Portion:
    return Portion(share.value, share.basis, share.citation())


def regions() -> tuple[str, ...]:
    """Return the ids of the regions, sorted."""
    return ids("regions")
