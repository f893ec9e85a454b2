"""Test procedures: what is fitted at the board, what is read where, and against which limit."""

from functools import cache
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from faultfinder.readings.reading import Quantity
from faultfinder.rulebook.folder import Rule, Sentence, refused
from faultfinder.rulebook.spoken import Told
from faultfinder.source.decode import Schema
from faultfinder.source.problem import listed, shown
from faultfinder.source.quantity import Millisecond, Ohm, Volt
from faultfinder.source.spelling import nearest
from faultfinder.standards.regions import LimitKind
from faultfinder.wiring.circuit import CONDUCTORS, Point, pairs_of

_PAIRS = "conductors as in A-N, A+N-E, A-A, or E alone"
FAR = " far"
_CONDUCTORS_HERE = tuple(
    name + end for end in ("", FAR) for name in (*CONDUCTORS, "first", "second")
)

Terminator = Literal["terminators.active", "terminators.neutral"]


class Fit(Schema):
    """Something joined at the board: ``A``, ``N``, ``E`` are the circuit's own conductors there.

    ``first`` and ``second`` stand for the two conductors being read; with ``far`` after it, the
    other end of a ring is meant: ``second far``. Any other words, in small letters, are a bar or a
    link at the board. Without ``ohms`` it is a bolted joint.
    """

    start: Annotated[str, Field(alias="from")]
    """A conductor, first or second of those read, or a bar or link in small letters."""
    end: Annotated[str, Field(alias="to")]
    """What it is joined to."""
    ohms: Terminator | None = None
    """The resistor between; a bolted joint if left out."""


class LimitRule(Schema):
    """Which limit a reading is held to, and what the test adds to it.

    ``A`` in ``between`` stands for what it does in ``Procedure.pairs``.
    """

    between: str
    """What is read."""
    limit: LimitKind
    """The limit it is held to."""
    plus: tuple[Terminator, ...] = ()
    """What the test itself adds."""


class Leakage(Schema):
    """Insulation resistance of one metre of sound cable. [ohm m]"""

    ohm_m: Annotated[float, Field(gt=0)]
    """Insulation of one metre. [ohm m]"""
    why: Sentence
    """Where that is from."""


_UNITS: dict[Quantity, tuple[str, float]] = {
    "resistance": ("ohm", 1.0),
    "insulation": ("Mohm", 1e6),
    "voltage": ("V", 1.0),
    "voltage-drop": ("V", 1.0),
    "loop": ("ohm", 1.0),
    "fault-current": ("A", 1.0),
    "residual": ("mA", 1e-3),
    "trip-time": ("ms", 1e-3),
}
_LIMITED: dict[str, Quantity] = {
    "earth-loop": "resistance",
    "earth": "resistance",
    "insulation": "insulation",
    "loop": "loop",
    "fault-current": "fault-current",
    "voltage-drop": "voltage-drop",
    "trip-time": "trip-time",
}
"""What each limit is of."""
_BY_DEVICE = frozenset({"residual", "trip-time"})
_RATED_RESIDUAL = "rated residual current"
_LIVE = frozenset(_UNITS) - {"resistance", "insulation"}


class TripsIn(Schema):
    """How long a residual current device usually takes, a selective one too. [ms]"""

    general: Millisecond
    """One without a delay. [ms]"""
    selective: Millisecond
    """One of type S, which lets others trip first. [ms]"""
    why: Sentence
    """How these were chosen."""


class Effort(Schema):
    """What the test costs in minutes: once to set up, then for each place read."""

    set_up: Annotated[float, Field(ge=0)]
    """Minutes, once."""
    each: Annotated[float, Field(gt=0)]
    """Minutes, for each place read."""
    pair: Annotated[float, Field(ge=0)] = 0.0
    """Minutes at the board to change over to another pair, where its arrangement depends on it."""


class Procedure(Rule):
    """A test procedure, as ``rules/tests/<id>.yaml`` declares it.

    ``pairs`` are what is read: ``A-N`` between two conductors, ``A+N-E`` between two joined and a
    third, a single ``E`` from the board's end of a conductor to the point, with a trailing lead,
    or at the board itself to the conductor's far end. ``ring`` says whether the two ends of a ring
    stay ``joined`` at the board meanwhile, or are ``parted``: such a test is for rings alone.

    ``A`` stands for each active in turn at a point that has several, ``A-A`` for every two of
    them, and ``A+N`` for all of them with neutral.

    A live test reads ``voltage`` with an instrument of ``meter`` ohms, under ``load`` across the
    pair if there is one; ``voltage-drop``, by how much the load lowers it; ``loop`` impedance; the
    ``fault-current`` that it lets flow; or the ``residual`` current that the circuit's device sees
    with the load on; or the ``trip-time`` of that device, ``trips_in`` being the usual one. A load
    is in ohm, or what draws the device's ``rated current`` or its ``rated
    residual current``, so many ``times``, where all is sound.

    ``at`` names kinds of places; ``outlet`` stands for lights and fixed appliances too,
    ``socket-outlet`` for what a plug goes into alone.

    A test of insulation says with how many ``volts``, d.c.
    """

    kind: Literal["test"]
    supply: Literal["dead", "live"]
    """Whether the circuit is dead or live."""
    quantity: Quantity
    """What is read, and so the unit of a bare number."""
    at: tuple[Literal["outlet", "socket-outlet", "joint-box", "board"], ...]
    """The kinds of places it is read at."""
    switch: Literal["both", "on"]
    """Which positions of a switch are read."""
    pairs: Annotated[tuple[str, ...], Field(min_length=1)]
    """What is read between: ``A-N``, ``A+N-E``, ``A-A``, or ``E`` alone from the board."""
    ring: Literal["joined", "parted"] = "joined"
    """Whether the ends of a ring stay joined at the board."""
    fit: tuple[Fit, ...] = ()
    """What is joined at the board."""
    meter: Ohm | None = None
    """Ohms of the voltmeter. [ohm]"""
    load: Ohm | Literal["rated current", "rated residual current"] | None = None
    """What a live test puts on, in ohm, or the current it draws."""
    times: Annotated[float, Field(gt=0)] = 1.0
    """How many times the rated residual current the load draws."""
    trips_in: TripsIn | None = None
    """How long a residual current device usually takes."""
    volts: Volt | None = None
    """Test voltage of insulation, d.c. [V]"""
    leakage: Leakage | None = None
    """Insulation of one metre of sound cable."""
    limits: tuple[LimitRule, ...] = ()
    """The limits its readings are held to."""
    minutes: Effort
    """What it costs."""
    steps: Annotated[tuple[Told, ...], Field(min_length=1)]
    """How it is done."""
    cautions: Annotated[tuple[Told, ...], Field(min_length=1)]
    """What to mind."""

    @field_validator("pairs")
    @classmethod
    def _can_be_read(cls, pairs: tuple[str, ...]) -> tuple[str, ...]:
        for place, pair in enumerate(pairs):
            first, second = leads(pair)
            both = (*first, *second)
            if ("-" in pair and not second) or not set(both) <= set(CONDUCTORS):
                raise refused(f"{shown(pair)} is no pair of conductors", _PAIRS, (place,))
            if len(set(both)) < len(both) and pair != "A-A":
                raise refused(f"{shown(pair)} names a conductor twice", _PAIRS, (place,))
        return pairs

    @model_validator(mode="after")
    def _hangs_together(self) -> "Procedure":
        for place, rule in enumerate(self.limits):
            if rule.between not in self.pairs:
                raise refused(
                    f"a limit for {shown(rule.between)}, which this test does not read",
                    listed(self.pairs),
                    ("limits", place, "between"),
                    nearest(rule.between, self.pairs),
                )
            if _LIMITED[rule.limit] != self.quantity:
                raise refused(
                    f"a limit of {_LIMITED[rule.limit]}, and this test reads {self.quantity}",
                    listed(limit for limit, of in _LIMITED.items() if of == self.quantity)
                    or "no limit",
                    ("limits", place, "limit"),
                )
        self._is_dead_or_live()
        alone = [pair for pair in self.pairs if not leads(pair)[1]]
        if self.ring == "joined" and "board" in self.at and alone:
            raise refused(
                f"{shown(alone[0])} at the board has no other end there",
                "ring: parted, or at: the points it is read at",
                ("pairs", self.pairs.index(alone[0])),
            )
        joints = [name for fit in self.fit for name in (fit.start, fit.end)]
        for place, fit in enumerate(self.fit):
            for key, name in (("from", fit.start), ("to", fit.end)):
                if name.endswith(FAR) and self.ring == "joined":
                    raise refused(
                        f"{shown(name)} is joined to the near end already",
                        f"ring: parted, or {name.removesuffix(FAR)}",
                        ("fit", place, key),
                    )
                if name in _CONDUCTORS_HERE:
                    continue
                if not name.islower():
                    raise refused(
                        f"no conductor {shown(name)}",
                        f"{listed(_CONDUCTORS_HERE)}, or a bar in small letters",
                        ("fit", place, key),
                    )
                if joints.count(name) == 1:
                    raise refused(
                        f"nothing else is joined to {shown(name)}",
                        "what two or more things are joined to",
                        ("fit", place, key),
                        nearest(name, sorted(bar for bar in joints if joints.count(bar) > 1)),
                    )
        return self

    def _is_dead_or_live(self) -> None:
        """Refuse what only a dead or only a live test can have."""
        if self.is_live != (self.quantity in _LIVE):
            others = sorted(_LIVE if self.is_live else {*_UNITS} - _LIVE)
            found = f"{self.quantity} is not read {'live' if self.is_live else 'dead'}"
            raise refused(found, listed(others), ("quantity",))
        wants_meter = self.quantity in {"voltage", "voltage-drop"}
        if wants_meter != (self.meter is not None):
            found = f"{self.quantity} {'without' if wants_meter else 'with'} the meter's ohms"
            raise refused(found, "meter: 10 Mohm, for voltage and voltage-drop", ("quantity",))
        if (self.quantity == "insulation") != (self.volts is not None):
            found = f"{self.quantity} {'with' if self.volts else 'without'} volts"
            raise refused(found, "volts: 500, for insulation alone", ("quantity",))
        if (self.quantity == "trip-time") != (self.trips_in is not None):
            found = f"{self.quantity} {'with' if self.trips_in else 'without'} trips_in"
            raise refused(found, "trips_in, for trip-time alone", ("quantity",))
        if self.quantity in _BY_DEVICE and self.times != 1 and self.load != _RATED_RESIDUAL:
            raise refused("times of no rated current", f"load: {_RATED_RESIDUAL}", ("times",))
        if self.quantity in {"residual", "trip-time", "voltage-drop"} and self.load is None:
            raise refused(f"{self.quantity} without a load", "load: rated current", ("quantity",))
        if self.is_live and self.fit:
            raise refused("nothing is fitted to a live board", "no fit", ("fit",))

    @property
    def unit(self) -> str:
        """The unit a bare number is in."""
        return _UNITS[self.quantity][0]

    @property
    def unit_size(self) -> float:
        """How many ohms, volts or amperes the unit is."""
        return _UNITS[self.quantity][1]

    @property
    def is_live(self) -> bool:
        """Whether it is read with the supply on."""
        return self.supply == "live"

    def pairs_of(self, actives: tuple[str, ...]) -> tuple[str, ...]:
        """Return what is read at a place that has these actives."""
        found = dict[str, None]()
        for pair in self.pairs:
            found |= dict.fromkeys(_written_out(pair, actives))
        return tuple(found)

    def limit_rule(self, between: str, actives: tuple[str, ...]) -> LimitRule | None:
        """Return the limit of a pair read at a place that has these actives, or None."""
        for rule in self.limits:
            if between in _written_out(rule.between, actives):
                return rule
        return None

    def is_read_at(self, point: Point | None) -> bool:
        """Return whether it is read at a point, or, with none, at the board."""
        if point is None:
            return "board" in self.at
        if point.kind == "outlet" and "socket-outlet" in self.at:
            return True
        return point.kind in self.at or (point.has_contacts and "outlet" in self.at)

    @property
    def for_rings_only(self) -> bool:
        """Whether there is nothing to read on a radial circuit."""
        return self.ring == "parted"

    def arrangement(self, between: str) -> str:
        """Return what of a pair decides how the board is arranged; nothing where all are read so.

        That is the pair, where it is what is joined there or has a trailing lead on it.
        """
        first, second = leads(between)
        joined = any(
            name.removesuffix(FAR) in {"first", "second"}
            for fit in self.fit
            for name in (fit.start, fit.end)
        )
        trailing = not second and not self.for_rings_only
        return between if first and (joined or trailing) else ""

    @property
    def needs_terminators(self) -> bool:
        """Whether known resistors are fitted at the board."""
        return any(fit.ohms is not None for fit in self.fit)


def _written_out(pair: str, actives: tuple[str, ...]) -> list[str]:
    """Return a pair of a rule file with the actives of a place in it."""
    if pair == "A-A":
        return ["-".join(two) for two in pairs_of(actives)]
    first, second = leads(pair)
    each = "A" in {*first, *second} and ["A"] in ([*first], [*second])
    said = []
    for active in actives if each else ("all",):
        standing = actives if active == "all" else (active,)
        ends = [
            "+".join(name for word in lead for name in (standing if word == "A" else (word,)))
            for lead in (first, second)
            if lead
        ]
        said.append("-".join(ends))
    return said


@cache
def leads(between: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the conductors under each lead; a single conductor has none under the second."""
    first, _, second = between.partition("-")
    return tuple(first.split("+")), tuple(second.split("+")) if second else ()
