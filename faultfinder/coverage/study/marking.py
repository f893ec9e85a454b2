"""One made-up case weighed as a diagnosis would, and how well that went."""

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from faultfinder.coverage.study.family import Family
from faultfinder.coverage.study.simulation import Made, draw_circuit, make_cases
from faultfinder.diagnosis.weighing import Weighed, weigh_case
from faultfinder.rulebook.rulebook import Rulebook, rulebook_of
from faultfinder.source.shelf import Shelf
from faultfinder.wiring.fault import Fault


@dataclass(frozen=True, slots=True)
class Mark:
    """What became of one case.

    Attributes
    ----------
    number : int
        Which case of the study.
    outlets : int
        Outlets of its circuit.
    truth : str
        The fault as said, with its ohms; empty for a sound circuit.
    mode : str
        The fault's mode; empty for a sound circuit.
    shows : bool
        Whether any reading alone shows the fault.
    verdict : str
        ``sound``, ``fault`` or ``unexplained``.
    leads : bool
        Whether the truth is in the leading group.
    group, places : int
        Suspects in the leading group, and places they are at.
    probability : float
        Given to the truth.
    top : float
        Given to the leading suspect.
    is_top : bool
        Whether the truth is the leading suspect.
    weight : float
        How much oftener such a case, sound or faulty, comes by the rules than in the family.
    seconds : float
        Of a core that the diagnosis took. [s]
    """

    number: int
    outlets: int
    truth: str
    mode: str
    shows: bool
    verdict: str
    leads: bool
    group: int
    places: int
    probability: float
    top: float
    is_top: bool
    weight: float
    seconds: float


def marks_of(
    family: Family, rulebook: Rulebook, seed: int, numbers: Iterable[int]
) -> Iterator[Mark]:
    """Make cases of a family, weigh their readings, and yield how that went.

    Cases of one circuit that follow one another have what depends on it alone in common; the first
    of them takes longer by that.
    """
    for _, of_one in groupby(numbers, lambda number: number // family.cases_each):
        some = tuple(of_one)
        drawn = draw_circuit(family, rulebook, seed, some[0])
        for number, made in zip(some, make_cases(family, rulebook, seed, some, drawn), strict=True):
            began = time.process_time()
            weighed = weigh_case(made.case, rulebook, telling=False)
            yield _mark(number, made, weighed, time.process_time() - began)


def _mark(number: int, made: Made, weighed: Weighed, seconds: float) -> Mark:
    truth = made.case.found.faults if made.case.found else ()
    bare = {(f.mode, f.conductors, f.at) for f in truth}

    def is_true(faults: tuple[Fault, ...]) -> bool:
        return {(f.mode, f.conductors, f.at) for f in faults} == bare

    suspects = [suspect for suspect, _ in weighed.listed]
    leading = [suspect for suspect, group in weighed.listed if group == 1]
    return Mark(
        number=number,
        outlets=len(made.case.circuit.outlets()),
        truth=str(truth[0]) if truth else "",
        mode=truth[0].mode if truth else "",
        shows=made.shows,
        verdict=weighed.verdict,
        leads=any(is_true(suspect.faults) for suspect in leading),
        group=len(leading),
        places=len({fault.at for suspect in leading for fault in suspect.faults}),
        probability=sum(s.probability for s in suspects if is_true(s.faults)),
        top=suspects[0].probability,
        is_top=is_true(suspects[0].faults),
        weight=made.weight,
        seconds=seconds,
    )


def mark_some(family: Family, shelf: Shelf, seed: int, numbers: tuple[int, ...]) -> list[Mark]:
    """Return the marks of several cases: what one process is given at a time."""
    return list(marks_of(family, rulebook_of(shelf), seed, numbers))  # rules: once a process
