"""What a circuit file may say: its keys, their units and their bounds."""

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, model_validator
from pydantic_core import PydanticCustomError

from faultfinder.source.decode import Schema, YesNo
from faultfinder.source.problem import listed, shown
from faultfinder.source.quantity import (
    Ampere,
    DegC,
    Metre,
    Milliampere,
    Ohm,
    SquareMillimetre,
    Volt,
)
from faultfinder.source.spelling import nearest
from faultfinder.standards import gauge
from faultfinder.standards.regions import DEFAULT_REGION
from faultfinder.wiring.circuit import PointKind

_MOST_POINTS = 500  # a final subcircuit has tens; a file with more is another file
_LONGEST_NAME = 40
# Letters of any language, so long as a name is one word and ".." is left to runs.
_NAME = re.compile(r"[^\W_][\w'/-]*(\.[\w'/-]+)*")


def _named(value: str) -> str:
    """Accept a name that can stand in a sentence such as ``open E at S3..S4``."""
    if _NAME.fullmatch(value) and len(value) <= _LONGEST_NAME:
        return value
    near = re.sub(r"\.{2,}", ".", re.sub(r"[^\w'/.-]+", "-", value)).strip("-./'_")
    parts = {
        "found": f"{shown(value)} cannot be a name" if value else "a name is missing here",
        "expected": f"one word of at most {_LONGEST_NAME} letters, digits, - _ / ' and single "
        "points, that begins with a letter or a digit",
        "nearest": near if _NAME.fullmatch(near) and len(near) <= _LONGEST_NAME else "",
    }
    raise PydanticCustomError("bad-name", "{found}", parts)


POLES: dict[str, tuple[str, ...]] = {"none": (), "active": ("A",), "both": ("A", "N")}
"""The conductors that an outlet's switch breaks, by the word for them."""

_SWITCHED = {
    **dict.fromkeys(("yes", "true", "on"), "active"),
    **dict.fromkeys(("no", "false", "off"), "none"),
}


def _switched(value: object) -> object:
    """Read which conductors an outlet's switch breaks."""
    if not isinstance(value, str):
        return value
    word = value.strip().lower()
    meant = _SWITCHED.get(word, word)
    if meant in POLES:
        return meant
    wanted = ("yes", "no", "active", "both")
    parts = {
        "found": f"unknown switched {shown(value)}" if value else "nothing is written here",
        "expected": listed(wanted),
        "nearest": nearest(word, (*wanted, "true", "false")),
    }
    raise PydanticCustomError("unknown-value", "{found}", parts)


Name = Annotated[str, AfterValidator(_named)]


# The bounds below catch slips of the pen and keep sums finite; common practice, no source.


class DeviceFile(Schema):
    """``device: {curve: C, rating: 20, rcd: 30 mA}``; a bare ``rcd`` is in mA.

    ``curve`` is left out in regions whose devices have none; ``selective: yes`` is for a residual
    current device of type S.
    """

    curve: str | None = None
    rating: Annotated[Ampere, Field(ge=0.1, le=10_000)]
    rcd: Annotated[Milliampere, Field(ge=1, le=100_000)] | None = None
    selective: YesNo = False


def _size(value: object) -> object:
    """Read a size by wire gauge; any other is left to be read as an area."""
    if not isinstance(value, str):
        return value
    try:
        area_mm2 = gauge.written(value)
    except ValueError as error:
        sizes = listed(map(gauge.name, gauge.NUMBERS))
        parts = {"found": str(error), "expected": sizes, "nearest": ""}
        raise PydanticCustomError("unknown-value", "{found}", parts) from error
    return value if area_mm2 is None else area_mm2


Size = Annotated[SquareMillimetre, BeforeValidator(_size)]
"""``2.5``, ``2.5 mm2`` or ``12 AWG``; in mm²."""


class OwnCableFile(Schema):
    """``cable: {active: 4}`` of a run; what it does not say is as in the circuit's cable."""

    active: Size | None = None
    neutral: Size | None = None
    earth: Size | None = None
    material: str | None = None
    conductors: str | None = None


class CableFile(OwnCableFile):
    """``cable: {active: 2.5, earth: 2.5, material: copper}``; neutral as active, earth as active.

    ``conductors`` names a conductor table; without it the region's for the material is taken, or
    the table by wire gauge for sizes such as ``12 AWG``.
    """

    active: Size

    def with_own(self, own: OwnCableFile) -> "CableFile":
        """Return this cable with what a run's own says instead."""
        said = own.model_dump(exclude_none=True)
        if "material" in said:  # the circuit's table would be of the other material
            said.setdefault("conductors", None)
        return self.model_copy(update=said)


Conductor = Literal["A", "L1", "L2", "L3", "S", "T1", "T2", "N", "E"]


class PointFile(Schema):
    """``S1: {kind: outlet, switched: true}``; ``switched`` may be true, false, active or both.

    ``phase`` is the active it takes of a circuit that has several. ``floor`` (the board's is 0),
    ``room`` and ``distance`` from the board on foot say how far there is to walk.
    """

    kind: PointKind = "outlet"
    switched: Annotated[
        Literal["active", "both", "none"],
        BeforeValidator(_switched),
        WithJsonSchema({"enum": [True, False, "active", "both", "none"]}),
    ] = "none"
    phase: Literal["L1", "L2", "L3"] | None = None
    floor: Annotated[int, Field(ge=-20, le=200)] = 0
    room: str = ""
    distance: Annotated[Metre, Field(ge=0.001, le=10_000)] | None = None


class RunFile(Schema):
    """``{from: DB, to: S1, length: 14}``, with a cable of its own if it differs.

    ``carries`` names its conductors where they are not those of the circuit: ``[A, S, E]`` down to
    a light's switch, ``[T1, T2, E]`` between two-way switches.
    """

    start: Annotated[str, Field(alias="from")]
    end: Annotated[str, Field(alias="to")]
    length: Annotated[Metre, Field(ge=0.001, le=10_000)]
    cable: OwnCableFile | None = None
    carries: Annotated[tuple[Conductor, ...], Field(min_length=1)] | None = None


class LoadFile(Schema):
    """``{at: S1, ohms: 26}`` or ``{at: S1, watts: 2000}``; between active and neutral if not said.

    ``watts`` are at ``volts``, or else at the circuit's own voltage. What is not ``fixed`` is
    unplugged for dead tests.
    """

    at: str
    between: str = ""
    ohms: Ohm | None = None
    watts: Annotated[float, Field(gt=0, le=1e6)] | None = None
    volts: Annotated[Volt, Field(le=1000)] | None = None
    what: str = "load"
    fixed: YesNo = False

    @model_validator(mode="after")
    def _has_one_size(self) -> "LoadFile":
        if (self.ohms is None) == (self.watts is None):
            found = "a load of no size" if self.ohms is None else "a load of two sizes"
            raise PydanticCustomError(
                "missing-key" if self.ohms is None else "impossible-value",
                "{found}",
                {"found": found, "expected": "ohms: 26 or watts: 2000", "nearest": ""},
            )
        return self


class CircuitFile(Schema):
    """A circuit as ``circuit:`` in a case, or as a file of its own."""

    format: Literal["1"] = "1"
    name: str = ""
    region: str = DEFAULT_REGION
    kind: Literal["radial", "ring"] = "radial"
    board: Name
    device: DeviceFile
    cable: CableFile
    temperature: Annotated[DegC, Field(ge=-50, le=150)] | None = None
    phase: Literal["L1", "L2", "L3"] | None = None
    actives: Annotated[tuple[Literal["L1", "L2", "L3"], ...], Field(min_length=2)] | None = None
    loads: tuple[LoadFile, ...] = ()
    points: Annotated[dict[Name, PointFile], Field(max_length=_MOST_POINTS)]
    runs: Annotated[tuple[RunFile, ...], Field(max_length=2 * _MOST_POINTS)]
