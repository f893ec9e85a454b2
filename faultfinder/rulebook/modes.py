"""Fault modes: what a fault does to the wiring, where it can be, how often, and what to do."""

from itertools import combinations
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from faultfinder.network.edits import Action, Side, Step
from faultfinder.rulebook.folder import Sentence, refused
from faultfinder.rulebook.signs import SignBearer
from faultfinder.rulebook.spoken import Told, check_blanks
from faultfinder.source.decode import Schema
from faultfinder.source.problem import listed
from faultfinder.source.quantity import Ohm
from faultfinder.wiring.circuit import ACTIVES, CONDUCTORS, Circuit, pairs_of
from faultfinder.wiring.fault import Fault

Place = Literal["run", "outlet", "switched-outlet", "switch", "board"]
Conductor = Literal["A", "N", "E"]
Conductors = Literal["one", "pair", "exchange", "none"]


class StepRule(Schema):
    """One step of a mode, as a rule file writes it; see ``faultfinder.network.edits.Step``."""

    do: Action
    """What happens to the conductors."""
    to: Literal["given", "switched", "all", "A", "N", "E"] = "given"
    """Which conductors: the fault's own, those the switch breaks, all, or one by its letter."""
    side: Side = "supply"
    """Where a bridge is: where cables meet, behind the switch, or behind one that rests off."""
    along: Annotated[float, Field(gt=0, lt=1)] = 0.5
    """How far along a run a bridge is, as a share of its length."""
    by: Annotated[float, Field(gt=1)] | None = None
    """How many times the ohms, for scale."""

    def step(self) -> Step:
        """Return the step the network understands."""
        return Step(self.do, (self.to,), self.side, self.along, self.by or 1.0)


class Way(Schema):
    """One way the mode can be built at a kind of place; readings seldom say which it was."""

    at: Annotated[tuple[Place, ...], Field(min_length=1)]
    """The kinds of places."""
    steps: Annotated[tuple[StepRule, ...], Field(min_length=1)]
    """What happens there, in turn."""
    weight: Annotated[float, Field(gt=0)] = 1.0
    """How much likelier than the other ways."""


class OhmRange(Schema):
    """The range of a joint's or a bridge's ohms, every ratio in it held equally likely. [ohm]"""

    from_ohm: Annotated[Ohm, Field(alias="from", gt=0)]
    """The least. [ohm]"""
    to_ohm: Annotated[Ohm, Field(alias="to", gt=0)]
    """The most. [ohm]"""

    @model_validator(mode="after")
    def _is_a_range(self) -> "OhmRange":
        if self.from_ohm >= self.to_ohm:
            found = f"from {self.from_ohm:g} ohm to {self.to_ohm:g} ohm is no range"
            raise refused(found, "the smaller value first", ("to",))
        return self


class Prior(Schema):
    """How often the mode is met: chance per run, outlet and board, all its conductors together."""

    run: Annotated[float, Field(gt=0, lt=1)] | None = None
    """Chance per run."""
    outlet: Annotated[float, Field(gt=0, lt=1)] | None = None
    """Chance per outlet, or whatever is no run."""
    board: Annotated[float, Field(gt=0, lt=1)] | None = None
    """Chance per board."""
    why: Sentence
    """How these chances were chosen."""


class Caution(Schema):
    """``{when: [A, E], say: …}``: something to mind with certain conductors only.

    ``when`` names conductors that the fault has, one after the other: in an exchange each lands
    where the next belongs, so that a cyclic one has ``[A, E]`` or ``[E, A]``, a pair both.
    """

    when: Annotated[tuple[Conductor, ...], Field(min_length=1)]
    """Conductors that the fault has, one after the other."""
    say: Told
    """What to mind."""

    def concerns(self, conductors: tuple[str, ...]) -> bool:
        """Tell whether a fault of these conductors is meant."""
        turned = (conductors[i:] + conductors[:i] for i in range(len(conductors)))
        return any(round_[: len(self.when)] == self.when for round_ in turned)


_OF_BOARD = ("link", "unlink", "earth-path", "cut-off")


def _counts_as(place: Place) -> str:
    """Return by which chance a mode is met at a kind of place."""
    return place if place in {"run", "board"} else "outlet"


def _links(way: Way) -> bool | None:
    """Return whether a way leaves a board with a link, as it must not be drawn; None if neither."""
    return next((step.do == "link" for step in way.steps if step.do in {"link", "unlink"}), None)


def _plainly(conductors: tuple[str, ...]) -> str:
    """Write conductors with a hyphen between them, every active as ``A``."""
    return "-".join("A" if conductor in ACTIVES else conductor for conductor in conductors)


class FaultMode(SignBearer):
    """A fault mode, as ``rules/faults/<id>.yaml`` declares it.

    ``only`` names the choices of conductors it can have, where those are not all: ``[A-N]``, where
    ``A`` stands for any active.

    ``reads_like`` names the modes that can read the same; said in either file, it is said of both.
    """

    kind: Literal["fault-mode"]
    title: Told
    """One line for people; may hold the words of a region, as {earth}."""
    conductors: Conductors
    """What the fault can have: one conductor, a pair, an exchange of two or three, or none."""
    only: tuple[str, ...] = ()
    """The choices of conductors it can have, if not all: ``A-N``."""
    ways: Annotated[tuple[Way, ...], Field(min_length=1)]
    """How it can be built."""
    ohms: OhmRange | None = None
    """The range of its ohms, every ratio equally likely; needed by add-ohms, bridge and join."""
    prior: Prior
    """How often it is met."""
    says: Sentence
    """The fault in a few words; may hold {conductors}, {place}, {ohms}, {to}
    and the words of a region, as {earth}."""
    look_for: Told
    """What to look for there."""
    remedy: Told
    """How it is mended."""
    cautions: Annotated[tuple[Told | Caution, ...], Field(min_length=1)]
    """What to mind: sentences, or those for certain conductors."""
    retest: Annotated[tuple[str, ...], Field(min_length=1)]
    """Ids of the tests to repeat after the repair."""
    reads_like: tuple[str, ...] = ()
    """Modes that can read the same, so that signs of one fire for the other; said once of two."""

    @field_validator("says")
    @classmethod
    def _names_its_place(cls, says: str) -> str:
        return check_blanks(says, "conductors", "place", "ohms", "to")

    @model_validator(mode="after")
    def _can_be_built(self) -> "FaultMode":
        if not self.choices():
            every = ["-".join(c) for c in self.model_copy(update={"only": ()}).choices()]
            raise refused(f"no conductors are like {listed(self.only)}", listed(every), ("only",))
        for number, way in enumerate(self.ways):
            for place, step in enumerate(way.steps):
                if flaw := self._flaw(way, step):
                    raise refused(*flaw, ("ways", number, "steps", place))
        for number, caution in enumerate(self.cautions):
            if isinstance(caution, Caution) and not any(map(caution.concerns, self.choices())):
                raise refused(
                    f"no fault of this mode has the conductors {listed(caution.when, 'and')}",
                    listed("-".join(choice) or "a caution for all" for choice in self.choices()),
                    ("cautions", number, "when"),
                )
        counted = {_counts_as(place) for way in self.ways for place in way.at}
        for kind in ("run", "outlet", "board"):
            chance, can_be = getattr(self.prior, kind), kind in counted
            if can_be and chance is None:
                raise refused(
                    f"no chance for {kind}s, where it can be", f"{kind}: 0.001", ("prior",)
                )
            if chance is not None and not can_be:
                found = f"a chance for {kind}s, where it cannot be"
                raise refused(found, f"a way at: [{kind}]", ("prior", kind))
        return self

    def _flaw(self, way: Way, step: StepRule) -> tuple[str, str] | None:
        """Return what keeps a step from being taken, and what would not."""
        between = {"bridge": ("pair",), "exchange": ("pair", "exchange")}.get(step.do)
        if between and (step.to != "given" or self.conductors not in between):
            return f"do: {step.do} is between the conductors of the fault", (
                f"conductors: {listed(between)}, and no to: in this step"
            )
        if step.do in _OF_BOARD:
            return self._flaw_of_board(way, step)
        if (step.do == "scale") != (step.by is not None):
            return f"do: {step.do} {'with' if step.by else 'without'} by", "do: scale, by: 1.6"
        if "board" in way.at:
            return f"do: {step.do} at a board", f"at: [run], or do: {listed(_OF_BOARD)}"
        if step.to == "given" and self.conductors == "none":
            return f"do: {step.do} is given no conductor", "to: switched, A, N or E"
        if step.do == "join" and way.at != ("outlet",):
            return "do: join is at an outlet", "at: [outlet]"
        if "run" in way.at and (step.to == "switched" or step.do in {"switch", "unswitch"}):
            return f"do: {step.do} needs a switch, and a run has none", "at: [switched-outlet]"
        if step.do in {"add-ohms", "bridge", "join"} and self.ohms is None:
            return f"do: {step.do} needs ohms", "ohms: {from: 0.01 ohm, to: 2 Mohm}"
        return None

    def _flaw_of_board(self, way: Way, step: StepRule) -> tuple[str, str] | None:
        """Return what keeps a step that has to do with the board from being taken."""
        if step.do in {"unlink", "cut-off"} and way.at != ("board",):
            return f"do: {step.do} is at a board", "at: [board]"
        if step.do == "earth-path" and way.at != ("outlet",):
            return "do: earth-path is at an outlet", "at: [outlet]"
        if step.do == "link" and way.at not in {("board",), ("outlet",)}:
            return "do: link is at an outlet or a board", "at: [outlet], or another way at: [board]"
        if step.do == "earth-path" and self.ohms is None:
            return "do: earth-path needs ohms", "ohms: {from: 0.05 ohm, to: 20 ohm}"
        return None

    @property
    def needs_neighbour(self) -> bool:
        """Whether it is a fault between two circuits."""
        return any(step.do == "join" for way in self.ways for step in way.steps)

    def ways_at(self, circuit: Circuit, at: str) -> tuple[Way, ...]:
        """Return the ways this mode can be built at a place of a circuit."""
        point = circuit.point(at)
        if circuit.run(at) is not None:
            kinds = {"run"}
        elif point is not None and point.is_wall_switch:
            kinds = {"switch"}
        elif point is not None and point.has_contacts:
            kinds = {"outlet", "switched-outlet"} if point.switched else {"outlet"}
        elif at == circuit.board and circuit.linked is not None:
            # A link can be missing where there is one, and be one too many where there is none.
            kinds = {"board"}
        else:
            return ()
        here = circuit.conductors_at(at)
        if self.needs_neighbour and not circuit.neighbours:
            return ()
        return tuple(
            way
            for way in self.ways
            if kinds & set(way.at)
            and all(step.to in here for step in way.steps if step.to in CONDUCTORS)
            and not (at == circuit.board and _links(way) is circuit.linked)
        )

    def chance(self, circuit: Circuit, at: str) -> float:
        """Return the chance of this mode at a place of a circuit, 0 where it cannot be."""
        if not self.ways_at(circuit, at):
            return 0.0
        if at == circuit.board:
            return self.prior.board or 0.0
        chance = self.prior.outlet if circuit.run(at) is None else self.prior.run
        return chance or 0.0

    def choices(self, here: tuple[str, ...] = CONDUCTORS) -> tuple[tuple[str, ...], ...]:
        """Return the choices of conductors among those of a place, each in A, N, E order."""
        found: tuple[tuple[str, ...], ...]
        match self.conductors:
            case "one":
                found = tuple((conductor,) for conductor in here)
            case "pair":
                found = pairs_of(here)
            case "exchange":
                rounds = [
                    (a, *rest) for a, b, c in combinations(here, 3) for rest in ((b, c), (c, b))
                ]
                found = (*pairs_of(here), *rounds)
            case "none":
                found = ((),)
        return tuple(choice for choice in found if not self.only or _plainly(choice) in self.only)

    def cautions_for(self, conductors: tuple[str, ...]) -> tuple[str, ...]:
        """Return what to mind with a fault of these conductors."""
        return tuple(
            caution.say if isinstance(caution, Caution) else caution
            for caution in self.cautions
            if isinstance(caution, str) or caution.concerns(conductors)
        )

    def faults(self, circuit: Circuit) -> tuple[Fault, ...]:
        """Return every place and choice of conductors this mode can have in a circuit."""
        places = [run.name for run in circuit.runs] + [point.name for point in circuit.points]
        places.append(circuit.board)
        others = circuit.neighbours if self.needs_neighbour else ("",)
        return tuple(
            Fault(self.id, conductors, at, to=to)
            for at in places
            if self.ways_at(circuit, at)
            for conductors in self.choices(circuit.conductors_at(at))
            for to in others
        )
