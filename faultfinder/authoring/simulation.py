"""Every fault put into the example circuits, and which signs its readings make fire.

The readings are the model's, without error. Joints and bridges are tried at several ohms, since a
fault reads differently with each.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from faultfinder.authoring.circuits import ExampleCircuits, TestBed
from faultfinder.diagnosis.catalogue import hypothesis, no_edit
from faultfinder.diagnosis.pointing import on_facts
from faultfinder.evidence.facts import facts
from faultfinder.evidence.grading import grade_readings
from faultfinder.network.branch import MakeEdit
from faultfinder.readings.reading import Reading
from faultfinder.rulebook.modes import FaultMode
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.rulebook.sign import Pattern
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

# From a joint that just shows to insulation that just fails; common practice, no source. [ohm]
_OHMS = (0.1, 0.3, 0.5, 3.0, 300.0, 1e5)


@dataclass(frozen=True, slots=True)
class Trial:
    """One fault on one circuit (None: sound), read by one test, and what signs then point to.

    ``pointed`` holds each sign's id with the faults it points to.
    """

    circuit: str
    test: str
    fault: Fault | None
    pointed: dict[str, frozenset[Fault]]


def trials(rulebook: Rulebook, circuits: ExampleCircuits) -> Iterator[Trial]:
    """Yield every fault of every mode on every circuit, read by every test that signs speak of."""
    tests = _tests(rulebook)
    modes = list(rulebook.modes.values())
    for circuit in circuits.circuits():
        faults = [(fault, mode) for mode in modes for fault in mode.faults(circuit)]
        for test in tests:
            bed = circuits.bed(circuit.name, test)
            if bed.spots:
                yield from _on(bed, test, faults)


def _tests(rulebook: Rulebook) -> list[str]:
    """Return the tests whose readings some sign asks for, in their order; all, if one says none."""
    said = [
        dict(pattern.where).get("test")
        for pointer in rulebook.pointers
        for pattern in pointer.sign.patterns
    ]
    if any(words is None for words in said):
        return list(rulebook.procedures)
    named = {str(word) for words in said for word in words or ()}
    return [test for test in rulebook.procedures if test in named]


def _speaking_of(rulebook: Rulebook, test: str) -> Rulebook:
    """Return the rules with those signs alone that readings of one test can meet."""

    def may_be(pattern: Pattern) -> bool:
        return pattern.absent or test in dict(pattern.where).get("test", (test,))

    kept = tuple(p for p in rulebook.pointers if all(map(may_be, p.sign.patterns)))
    return replace(rulebook, pointers=kept)


def _on(bed: TestBed, test: str, faults: list[tuple[Fault, FaultMode]]) -> Iterator[Trial]:
    rulebook = _speaking_of(bed.rulebook, test)
    built: list[tuple[Fault | None, MakeEdit]] = [(None, no_edit)]
    for fault, mode in faults:
        found = hypothesis(mode, bed.circuit, fault)
        low, high = found.ohms or (0.0, 0.0)
        ohms = [r for r in _OHMS if low <= r <= high] if found.ohms else [0.0]
        built += [(fault, way.edit(r_ohm)) for way in found.ways for r_ohm in ohms or [low]]
    read = bed.bench.read([edit for _, edit in built])
    opens = bed.meter.chance_open(read) > 0.5
    known: dict[tuple[object, ...], dict[str, frozenset[Fault]]] = {}
    for (there, _), row, is_open in zip(built, read, opens, strict=True):
        values = np.where(is_open, np.inf, row).tolist()
        taken = [
            Reading(spot, Amount(value, "open" if np.isinf(value) else "="), 0.01)
            for spot, value in zip(bed.spots, values, strict=True)
        ]
        told = facts(bed.circuit, grade_readings(taken, bed.sound))
        key = tuple(tuple(fact.values()) for fact in told)
        if key not in known:  # many faults read alike in words
            pointed: dict[str, set[Fault]] = {}
            for one in on_facts(bed.circuit, rulebook, told):
                pointed.setdefault(one.pointer.sign.id, set()).update(one.faults)
            known[key] = {sign: frozenset(to) for sign, to in pointed.items()}
        yield Trial(bed.circuit.name, test, there, known[key])
