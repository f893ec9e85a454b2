"""Set-up mistakes: how a test can be set up, taken or noted otherwise than its procedure says.

A mistake acts on the arrangement (what is fitted at the board, what is still connected, what the
leads add) or on the rows (which reading was really taken where). The wiring is sound meanwhile.
"""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, field_validator, model_validator

from faultfinder.network.edits import Side
from faultfinder.rulebook.folder import Rule, Sentence, refused
from faultfinder.rulebook.modes import Conductor, OhmRange
from faultfinder.rulebook.procedures import Fit, Procedure
from faultfinder.rulebook.spoken import Told, check_blanks
from faultfinder.source.decode import Schema
from faultfinder.source.problem import listed

Where = Literal["test", "outlet", "switched-outlet", "two-outlets"]
Arranging = Literal["exchange-terminators", "leave-out", "join", "add-to-leads"]
Noting = Literal[
    "turn-switch", "exchange-columns", "exchange-rows", "take-other-row", "exchange-places"
]
_TWO = ("exchange-rows", "exchange-places")


class Act(Schema):
    """One thing a set-up mistake does.

    ``exchange-terminators`` fits each terminator where the other belongs; ``leave-out`` leaves out
    what the procedure joins ``from`` one thing ``to`` another; ``join`` joins two conductors of
    the circuit, at the board or at the outlet, through the mistake's ohms if it has any;
    ``add-to-leads`` adds those ohms to every reading of resistance. ``turn-switch`` notes on for
    off; ``exchange-columns`` notes readings of each of the conductors for those of the next;
    ``exchange-rows`` notes the rows of two outlets each for the other; ``take-other-row`` notes
    for an outlet what was read at another, whichever; ``exchange-places`` draws each where the
    other is.

    With ``when`` it is done only where the mistake has these conductors.
    """

    do: Arranging | Noting
    """What is done otherwise than the procedure says."""
    start: Annotated[str | None, Field(alias="from")] = None
    """One thing that is joined, or left unjoined."""
    end: Annotated[str | None, Field(alias="to")] = None
    """The other thing."""
    side: Side = "supply"
    """Where at an outlet two conductors are joined."""
    when: tuple[Conductor, ...] = ()
    """Only where the mistake has these conductors."""

    @property
    def is_noting(self) -> bool:
        """Whether it is a mistake of writing down, over with the next reading."""
        return self.do in {"turn-switch", "exchange-columns", "exchange-rows", "take-other-row"}

    def concerns(self, conductors: tuple[str, ...]) -> bool:
        """Return whether it is done where the mistake has these conductors."""
        return set(self.when) <= set(conductors)

    def refitted(self, fits: tuple[Fit, ...]) -> tuple[Fit, ...]:
        """Return what was really fitted at the board instead of what should have been."""
        if self.do == "leave-out":
            return tuple(fit for fit in fits if {fit.start, fit.end} != {self.start, self.end})
        if self.do == "exchange-terminators":
            other = {
                "terminators.active": "terminators.neutral",
                "terminators.neutral": "terminators.active",
            }
            return tuple(
                fit.model_copy(update={"ohms": other[fit.ohms]}) if fit.ohms else fit
                for fit in fits
            )
        return fits


def _with_blanks(text: str) -> str:
    """Refuse a text that has a blank no set-up mistake can fill."""
    return check_blanks(text, "conductors", "columns", "place", "first", "second", "ohms")


class SetUpPrior(Schema):
    """How often: a chance each time a circuit is tested, or at each outlet where it can be."""

    chance: Annotated[float, Field(gt=0, lt=1)]
    """Each time a circuit is tested, or at each outlet."""
    why: Sentence
    """How the chance was chosen."""


class SetUpCheck(Schema):
    """How to see whether it is so without opening anything, and how long that takes."""

    look_at: Annotated[Sentence, AfterValidator(_with_blanks)]
    """What to look at."""
    minutes: Annotated[float, Field(gt=0)]
    """How long that takes."""


class SetUp(Rule):
    """A set-up mistake, as ``rules/set-ups/<id>.yaml`` declares it.

    ``at`` says where it can be: of the whole ``test``, at an ``outlet``, at a ``switched-outlet``,
    or between ``two-outlets``. ``tests`` names those it can be made in, all dead ones if left out.
    ``conductors`` lists the choices it has, one of none if left out.
    """

    kind: Literal["set-up"]
    at: Where
    """Where it can be."""
    tests: tuple[str, ...] = ()
    """The tests it can be made in; all dead ones if left out."""
    conductors: Annotated[tuple[tuple[Conductor, ...], ...], Field(min_length=1)] = ((),)
    """The choices of conductors it has."""
    does: Annotated[tuple[Act, ...], Field(min_length=1)]
    """What it does."""
    ohms: OhmRange | None = None
    """The range of its ohms, every ratio equally likely."""
    prior: SetUpPrior
    """How often it is made."""
    says: Sentence
    """The mistake in a few words."""
    check: SetUpCheck
    """How to see whether it is so without opening anything."""
    remedy: Sentence
    """How it is put right."""
    cautions: Annotated[tuple[Told, ...], Field(min_length=1)]
    """What to mind."""

    @field_validator("says", "remedy")
    @classmethod
    def _names_its_place(cls, text: str) -> str:
        return _with_blanks(text)

    @model_validator(mode="after")
    def _can_be_made(self) -> "SetUp":
        for place, act in enumerate(self.does):
            if flaw := self._flaw(act):
                raise refused(*flaw, ("does", place))
        needs_ohms = any(act.do == "add-to-leads" for act in self.does)
        if needs_ohms and self.ohms is None:
            raise refused("do: add-to-leads needs ohms", "ohms: {from: 0.05 ohm, to: 1 ohm}")
        return self

    def _flaw(self, act: Act) -> tuple[str, str] | None:
        """Return what keeps an act from being done, and what would not."""
        between = act.do in {"leave-out", "join"}
        if between != (act.start is not None and act.end is not None):
            said = "without from and to" if between else "with from or to"
            return f"do: {act.do} {said}", "from and to, for leave-out and join alone"
        if act.do == "join" and not {act.start, act.end} <= {"A", "N", "E"}:
            return f"do: join {act.start} and {act.end}", "two of the conductors A, N, E"
        if (act.do in _TWO) != (self.at == "two-outlets"):
            return f"do: {act.do} at: {self.at}", f"{listed(_TWO)}, with at: two-outlets"
        if act.do in {"exchange-terminators", "leave-out", "add-to-leads"} and self.at != "test":
            return f"do: {act.do} at: {self.at}", "at: test"
        if act.do == "take-other-row" and self.at != "outlet":
            return f"do: take-other-row at: {self.at}", "at: outlet"
        if act.do == "turn-switch" and self.at not in {"test", "switched-outlet"}:
            return f"do: turn-switch at: {self.at}", "at: switched-outlet, or test for all"
        if act.do == "exchange-columns" and not all(len(c) > 1 for c in self.conductors):
            return "do: exchange-columns of fewer than two", "conductors: [[A, N], [N, E]]"
        if not any(act.concerns(choice) for choice in self.conductors):
            return f"no choice of conductors has {listed(act.when, 'and')}", "one that has"
        return None

    @property
    def look_for(self) -> str:
        """What to look at, as a fault mode says what to look for."""
        return self.check.look_at

    def cautions_for(self, _conductors: tuple[str, ...]) -> tuple[str, ...]:
        """Return what to mind, whatever the conductors."""
        return self.cautions

    def acts(self, conductors: tuple[str, ...]) -> tuple[Act, ...]:
        """Return what is done where the mistake has these conductors."""
        return tuple(act for act in self.does if act.concerns(conductors))

    def refit(self, procedure: Procedure, conductors: tuple[str, ...]) -> tuple[Fit, ...]:
        """Return what was really fitted at the board for a test."""
        fits = procedure.fit
        for act in self.acts(conductors):
            fits = act.refitted(fits)
        return fits
