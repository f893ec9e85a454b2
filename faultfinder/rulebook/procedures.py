"""Test procedures: what is fitted at the board, what is read where, and against which limit."""

from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from faultfinder.rulebook.folder import Rule, Sentence, refused
from faultfinder.source.decode import Schema
from faultfinder.source.problem import listed, shown
from faultfinder.source.spelling import nearest
from faultfinder.wiring.circuit import CONDUCTORS

_PAIRS = "conductors as in A-N, A+N-E, or E alone"
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
    end: Annotated[str, Field(alias="to")]
    ohms: Terminator | None = None


class LimitRule(Schema):
    """Which limit a reading is held to, and what the test adds to it."""

    between: str
    limit: Literal["earth-loop", "earth", "insulation"]
    plus: tuple[Terminator, ...] = ()


class Leakage(Schema):
    """Insulation resistance of one metre of sound cable. [ohm m]"""

    ohm_m: Annotated[float, Field(gt=0)]
    why: Sentence


class Effort(Schema):
    """What the test costs in minutes: once to set up, then for each place read."""

    set_up: Annotated[float, Field(ge=0)]
    each: Annotated[float, Field(gt=0)]


class Procedure(Rule):
    """A test procedure, as ``rules/tests/<id>.yaml`` declares it.

    ``pairs`` are what is read: ``A-N`` between two conductors, ``A+N-E`` between two joined and a
    third, a single ``E`` from the board's end of a conductor to the point, with a trailing lead,
    or at the board itself to the conductor's far end. ``ring`` says whether the two ends of a ring
    stay ``joined`` at the board meanwhile, or are ``parted``: such a test is for rings alone.
    """

    kind: Literal["test"]
    supply: Literal["dead", "live"]
    quantity: Literal["resistance", "insulation"]
    at: tuple[Literal["outlet", "joint-box", "board"], ...]
    switch: Literal["both", "on"]
    pairs: Annotated[tuple[str, ...], Field(min_length=1)]
    ring: Literal["joined", "parted"] = "joined"
    fit: tuple[Fit, ...] = ()
    leakage: Leakage | None = None
    limits: tuple[LimitRule, ...] = ()
    minutes: Effort
    steps: Annotated[tuple[Sentence, ...], Field(min_length=1)]
    cautions: Annotated[tuple[Sentence, ...], Field(min_length=1)]

    @field_validator("pairs")
    @classmethod
    def _can_be_read(cls, pairs: tuple[str, ...]) -> tuple[str, ...]:
        for place, pair in enumerate(pairs):
            first, second = leads(pair)
            both = (*first, *second)
            if ("-" in pair and not second) or not set(both) <= set(CONDUCTORS):
                raise refused(f"{shown(pair)} is no pair of conductors", _PAIRS, (place,))
            if len(set(both)) < len(both):
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

    @property
    def unit(self) -> str:
        """The unit a bare number is in."""
        return "Mohm" if self.quantity == "insulation" else "ohm"

    @property
    def unit_ohm(self) -> float:
        """How many ohms the unit is."""
        return 1e6 if self.quantity == "insulation" else 1.0

    @property
    def for_rings_only(self) -> bool:
        """Whether there is nothing to read on a radial circuit."""
        return self.ring == "parted"

    @property
    def needs_terminators(self) -> bool:
        """Whether known resistors are fitted at the board."""
        return any(fit.ohms is not None for fit in self.fit)


def leads(between: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the conductors under each lead; a single conductor has none under the second."""
    first, _, second = between.partition("-")
    return tuple(first.split("+")), tuple(second.split("+")) if second else ()
