"""The signs' testimony: which faults the rules point to, and in what words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from faultfinder.diagnosis.wording import conductors_in_words
from faultfinder.engine.engine import Engine
from faultfinder.engine.trial import facts_that_meet, try_signs
from faultfinder.evidence.facts import facts
from faultfinder.evidence.grading import GradedReading
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.rulebook.sign import Fact, Sign
from faultfinder.rulebook.signs import Pointer
from faultfinder.source.kept import keep, kept
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault, in_order

_TRIAL_S = 30.0


@dataclass(frozen=True, slots=True)
class Testimony:
    """A sign that was met: its id, and what it says of this circuit."""

    __test__ = False  # not a pytest class

    sign: str
    says: str


@dataclass(frozen=True, slots=True)
class Fired:
    """One way in which a sign was met.

    Attributes
    ----------
    pointer : Pointer
        The sign, and what it points to.
    met : tuple of (str, Fact)
        The fact that met each pattern which asks for one, by the pattern's name, in their order.
    faults : tuple of Fault
        What it points to here: one, one for each other circuit, or none where there is no place.
    says : str
        Its sentence, of this circuit.
    """

    pointer: Pointer
    met: tuple[tuple[str, Fact], ...]
    faults: tuple[Fault, ...]
    says: str


def try_own_signs(rulebook: Rulebook) -> None:
    """Let a child process meet the signs of a user before this one does: the engine is C.

    What passed once is not tried again, as long as no rule changes. Raises `EngineFault`.
    """
    shelf = rulebook.shelf
    signs = [
        pointer.sign
        for name, bearer in rulebook.bearers.items()
        if not shelf.is_shipped(name)
        for pointer in bearer.pointers
    ]
    mark = f"tried-{shelf.digest}"
    if signs and kept(mark) is None:
        try_signs(signs, facts_that_meet(signs), _TRIAL_S)
        keep(mark, "")


@cache
def _engine(signs: tuple[Sign, ...]) -> Engine:
    return Engine(signs)


def fired(
    circuit: Circuit, rulebook: Rulebook, graded: Sequence[GradedReading]
) -> tuple[Fired, ...]:
    """Return every way in which every sign is met, sign by sign, first facts first."""
    return on_facts(circuit, rulebook, facts(circuit, graded))


def on_facts(circuit: Circuit, rulebook: Rulebook, known: Sequence[Fact]) -> tuple[Fired, ...]:
    """Return every way in which every sign is met by facts of a circuit."""
    pointers = {pointer.sign.id: pointer for pointer in rulebook.pointers}
    order = {str(fact["id"]): number for number, fact in enumerate(known)}
    engine = _engine(tuple(pointer.sign for pointer in rulebook.pointers))
    places = list(pointers)
    firings = sorted(
        engine.run(known), key=lambda f: (places.index(f.sign), [order[id_] for _, id_ in f.bound])
    )
    return tuple(
        _fired(
            circuit,
            pointers[firing.sign],
            rulebook,
            tuple((alias, known[order[id_]]) for alias, id_ in firing.bound),
        )
        for firing in firings
    )


def _fired(
    circuit: Circuit, pointer: Pointer, rulebook: Rulebook, met: tuple[tuple[str, Fact], ...]
) -> Fired:
    at = str(dict(met)[pointer.target.of]["at"])
    between = rulebook.modes[pointer.target.mode].needs_neighbour
    faults = pointer.faults(circuit, at, between_circuits=between)
    words = conductors_in_words(circuit, in_order(pointer.target.conductors))
    return Fired(pointer, met, faults, pointer.says.format(at=at, conductors=words))


def signs_met(
    circuit: Circuit, rulebook: Rulebook, graded: Sequence[GradedReading]
) -> Mapping[Fault, tuple[Testimony, ...]]:
    """Return the faults that signs point to, each with the signs that do."""
    met: dict[Fault, dict[str, Testimony]] = {}
    for one in fired(circuit, rulebook, graded):
        sign = one.pointer.sign.id
        for fault in one.faults:
            met.setdefault(fault, {})[sign] = Testimony(sign, one.says)
    return {fault: tuple(said.values()) for fault, said in met.items()}
