"""Test procedures: what is fitted at the board, what is read where, and against which limit."""

from typing import Annotated, Literal

from pydantic import Field

from faultfinder.rulebook.folder import Rule, Sentence
from faultfinder.source.decode import Schema

Terminator = Literal["terminators.active", "terminators.neutral"]


class Fit(Schema):
    """Something joined at the board: ``A``, ``N``, ``E`` are the circuit's own conductors there.

    ``first`` and ``second`` stand for the two conductors being read; any other word is a bar or a
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
    third, a single ``E`` from the board's end of a conductor to the point, with a trailing lead.
    """

    kind: Literal["test"]
    supply: Literal["dead", "live"]
    quantity: Literal["resistance", "insulation"]
    at: tuple[Literal["outlet", "joint-box", "board"], ...]
    switch: Literal["both", "on"]
    pairs: Annotated[tuple[str, ...], Field(min_length=1)]
    fit: tuple[Fit, ...] = ()
    leakage: Leakage | None = None
    limits: tuple[LimitRule, ...] = ()
    minutes: Effort
    steps: Annotated[tuple[Sentence, ...], Field(min_length=1)]
    cautions: Annotated[tuple[Sentence, ...], Field(min_length=1)]

    @property
    def unit(self) -> str:
        """The unit a bare number is in."""
        return "Mohm" if self.quantity == "insulation" else "ohm"

    @property
    def unit_ohm(self) -> float:
        """How many ohms the unit is."""
        return 1e6 if self.quantity == "insulation" else 1.0

    @property
    def needs_terminators(self) -> bool:
        """Whether known resistors are fitted at the board."""
        return any(fit.ohms is not None for fit in self.fit)


def leads(between: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the conductors under each lead; a single conductor has none under the second."""
    first, _, second = between.partition("-")
    return tuple(first.split("+")), tuple(second.split("+")) if second else ()
