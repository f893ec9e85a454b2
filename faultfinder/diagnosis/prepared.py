"""What holds for a circuit and what is read on it, whatever the values: worked out once, and kept.

Most of a diagnosis' time goes here. One circuit is often diagnosed again with other values (a
study, a repair, one number put right), and then all this is the same.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from faultfinder.diagnosis.catalogue import Hypothesis, catalogue, no_edit
from faultfinder.diagnosis.families import Families, families
from faultfinder.diagnosis.mistakes import mistakes
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Lean
from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault
from faultfinder.wiring.installation import Installation

KEPT = 4
"""Circuits and what was read on them that are kept."""


@dataclass(frozen=True, eq=False)
class Prepared:
    """A circuit and what was read on it.

    Attributes
    ----------
    rulebook : Rulebook
        The rules in the words of the circuit's region.
    bench : Bench
        What was read, reading by reading, r of them.
    around : Bench
        The same, and after it whatever else the tests read at the places that were read.
    sound : Lean
        What the sound circuit reads there.
    wrong_tests : tuple of Hypothesis
        The set-up mistakes that these readings leave room for.
    hypotheses : tuple of Hypothesis
        The sound circuit, every fault of the modes, and the mistakes.
    """

    rulebook: Rulebook
    bench: Bench
    around: Bench
    sound: Lean
    wrong_tests: tuple[Hypothesis, ...]
    hypotheses: tuple[Hypothesis, ...]

    @cached_property
    def families(self) -> Families:
        """What all hypotheses read."""
        return families(self.bench, self.hypotheses)

    @cached_property
    def _known(self) -> frozenset[Fault]:
        return frozenset(fault for one in self.hypotheses for fault in one.faults)

    def with_faults(self, pointed: Iterable[Fault]) -> tuple[Hypothesis, ...]:
        """Return the hypotheses with faults that signs point to; the same where all are there."""
        if self._known.issuperset(pointed):
            return self.hypotheses
        modes = tuple(self.rulebook.modes.values())
        return catalogue(self.bench.circuit, modes, tuple(pointed), self.wrong_tests)


@lru_cache(maxsize=KEPT)
def prepared(
    circuit: Circuit,
    terminators: Terminators | None,
    installation: Installation | None,
    taken: tuple[Spot, ...],
    rulebook: Rulebook,
) -> Prepared:
    """Return what holds for a circuit whatever is read at the spots that were taken."""
    rulebook = rulebook.in_words(circuit.region.words)
    spots = (*taken, *(s for s in _places_read(circuit, taken, rulebook) if s not in set(taken)))
    around = Bench(circuit, rulebook.procedures, terminators, spots, installation)
    bench = replace(around, spots=taken)
    wrong_tests = mistakes(bench, rulebook.set_ups.values())
    hypotheses = catalogue(circuit, tuple(rulebook.modes.values()), (), wrong_tests)
    return Prepared(rulebook, bench, around, around.lean([no_edit]), wrong_tests, hypotheses)


def _places_read(circuit: Circuit, taken: tuple[Spot, ...], rulebook: Rulebook) -> list[Spot]:
    """Return every pair of the tests and places that were read."""
    read = {(spot.test, spot.at) for spot in taken}
    return [
        spot
        for test in sorted({test for test, _ in read})
        for spot in spots_of(rulebook.procedures[test], circuit)
        if (test, spot.at) in read
    ]
