"""The signs' testimony: which faults the rules point to, and in what words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from faultfinder.diagnosis.wording import conductors_in_words
from faultfinder.engine.engine import Engine
from faultfinder.evidence.facts import facts
from faultfinder.evidence.grading import GradedReading
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.rulebook.sign import Sign
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault


@dataclass(frozen=True, slots=True)
class Testimony:
    """A sign that was met: its id, and what it says of this circuit."""

    __test__ = False  # not a pytest class

    sign: str
    says: str


@cache
def _engine(signs: tuple[Sign, ...]) -> Engine:
    return Engine(signs)


def signs_met(
    circuit: Circuit, rulebook: Rulebook, graded: Sequence[GradedReading]
) -> Mapping[Fault, tuple[Testimony, ...]]:
    """Return the faults that signs point to, each with the signs that do."""
    pointers = {pointer.sign.id: pointer for pointer in rulebook.pointers}
    known = facts(circuit, graded)
    place_of = {fact["id"]: str(fact["at"]) for fact in known}
    engine = _engine(tuple(pointer.sign for pointer in rulebook.pointers))
    met: dict[Fault, dict[str, Testimony]] = {}
    for firing in engine.run(known):
        pointer = pointers[firing.sign]
        at = place_of[dict(firing.bound)[pointer.target.of]]
        fault = pointer.fault(circuit, at)
        if fault is not None:
            conductors = conductors_in_words(circuit, fault.conductors)
            says = pointer.says.format(at=at, conductors=conductors)
            met.setdefault(fault, {})[firing.sign] = Testimony(firing.sign, says)
    return {fault: tuple(said.values()) for fault, said in met.items()}
