"""The readings of a case weighed: which faults may have made them, before any is put in words.

A diagnosis tells what is weighed here; a study, which makes thousands, has no use for the telling.
Signs are part of the telling: all they can do to the weighing is to point to a fault that the
catalogue has not, so that they are run for its sake only where some sign can.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from faultfinder.diagnosis.blended import with_mistakes
from faultfinder.diagnosis.catalogue import Hypothesis
from faultfinder.diagnosis.doubles import MOST_MISREAD, with_doubles
from faultfinder.diagnosis.families import families
from faultfinder.diagnosis.groups import groups
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.looking import after_looking
from faultfinder.diagnosis.pointing import Testimony, signs_met
from faultfinder.diagnosis.posterior import Judged, Suspect, judge, likeliest_first
from faultfinder.diagnosis.prepared import KEPT, Prepared, prepared
from faultfinder.diagnosis.result import Verdict
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.expectation import Expectation, expectations, of_spots
from faultfinder.evidence.grading import GradedReading, grade_readings
from faultfinder.evidence.memory import keep_memory, seldom_collected
from faultfinder.evidence.meter import meter_for
from faultfinder.evidence.observed import observe
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Instrument, Spot
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault

_LEAST_SHARE = 0.001  # suspects less probable are not listed, unless they lead
_MOST_LISTED = 12


@dataclass(frozen=True, slots=True)
class Weighed:
    """The readings of a case, and what may have made them.

    Attributes
    ----------
    rulebook : Rulebook
        The rules in the words of the circuit's region.
    bench : Bench
        What was read on, reading by reading.
    graded : tuple of GradedReading
        The readings, each against the sound circuit.
    jury : Jury
        What weighs predictions against the readings.
    pointed : mapping of Fault to tuple of Testimony
        What signs point to; empty where they were not run.
    wrong_tests : tuple of Hypothesis
        The set-up mistakes that these readings leave room for.
    judged : Judged
        Every suspect with its probability.
    listed : tuple of (Suspect, int)
        Those worth listing with their groups, the leading group first.
    verdict : Verdict
        What to call the whole.
    """

    rulebook: Rulebook
    bench: Bench
    graded: tuple[GradedReading, ...]
    jury: Jury
    pointed: Mapping[Fault, tuple[Testimony, ...]]
    wrong_tests: tuple[Hypothesis, ...]
    judged: Judged
    listed: tuple[tuple[Suspect, int], ...]
    verdict: Verdict


@seldom_collected()
def weigh_case(case: Case, rulebook: Rulebook, *, telling: bool) -> Weighed:
    """Return the readings of a case weighed: suspects, probabilities, groups and the verdict.

    ``telling`` says whether the signs are wanted as well, and all figures of what is predicted.
    """
    keep_memory()
    taken = tuple(reading.spot for reading in case.readings)
    ready = prepared(case.circuit, case.terminators, case.installation, taken, rulebook)
    rulebook, as_taken = ready.rulebook, ready.bench
    graded = grade_readings(case.readings, _expected(ready, case.instrument))
    observed = observe(case.readings, rulebook.procedures, case.instrument)
    jury = Jury(observed, rulebook.tolerances, ready.sound.first(len(taken)))
    wanted = telling or _point_beyond_catalogue(case.circuit, rulebook)
    pointed = signs_met(case.circuit, rulebook, graded) if wanted else {}
    known = ready.with_faults(pointed)
    hypotheses = after_looking(case, rulebook, known)
    same = hypotheses is ready.hypotheses
    foreseen = ready.families if same else families(as_taken, hypotheses)
    judged = judge(as_taken, jury, hypotheses, foreseen)
    judged = with_mistakes(as_taken, jury, hypotheses, judged, foreseen)
    judged = with_doubles(as_taken, jury, hypotheses, judged, foreseen)
    listed = _listed(*_by_group(judged.suspects, jury))
    if telling:  # what is told of a suspect is worked out to the last figure
        exact = as_taken.read([suspect.edit for suspect, _ in listed])
        both = zip(listed, exact, strict=True)
        listed = [(replace(suspect, read=read), group) for (suspect, group), read in both]
    verdict = _verdict(listed[0][0], judged.suspects, graded)
    return Weighed(
        rulebook, as_taken, graded, jury, pointed, ready.wrong_tests, judged, tuple(listed), verdict
    )


@lru_cache(maxsize=KEPT)
def _expected(ready: Prepared, instrument: Instrument) -> Mapping[Spot, Expectation]:
    meter = meter_for(ready.around.spots, ready.rulebook.procedures, instrument)
    found = expectations(ready.around, meter, ready.rulebook.tolerances, ready.sound)
    return of_spots(found)


@lru_cache(maxsize=KEPT)
def _point_beyond_catalogue(circuit: Circuit, rulebook: Rulebook) -> bool:
    """Return whether any sign can point to a fault of a circuit that its catalogue has not."""
    modes = rulebook.modes
    known = {fault for mode in modes.values() for fault in mode.faults(circuit)}
    targets = {
        (p.target.mode, p.target.conductors, p.target.at): p
        for p in rulebook.pointers
        if p.target.mode in modes
    }
    return any(
        fault not in known and modes[fault.mode].chance(circuit, fault.at) > 0
        for pointer in targets.values()
        for point in circuit.points
        for fault in pointer.faults(
            circuit, point.name, between_circuits=modes[pointer.target.mode].needs_neighbour
        )
    )


def _by_group(found: Sequence[Suspect], jury: Jury) -> tuple[tuple[Suspect, ...], tuple[int, ...]]:
    """Return suspects by group, the group with most probability first, and their numbers."""
    numbers = groups(found, jury)
    whole: dict[int, float] = {}
    for suspect, number in zip(found, numbers, strict=True):
        whole[number] = whole.get(number, 0.0) + suspect.probability
    place = {n: i for i, n in enumerate(sorted(whole, key=lambda n: -whole[n]), start=1)}
    pairs = sorted(
        zip(found, (place[number] for number in numbers), strict=True),
        key=lambda pair: (pair[1], likeliest_first(pair[0])),
    )
    return tuple(suspect for suspect, _ in pairs), tuple(number for _, number in pairs)


def _listed(ranked: Sequence[Suspect], numbers: Sequence[int]) -> list[tuple[Suspect, int]]:
    """Return the suspects worth listing: the leading group, the probable, and the sound circuit."""
    listed: list[tuple[Suspect, int]] = []
    groups_listed: dict[int, int] = {}
    for suspect, number in zip(ranked, numbers, strict=True):
        probable = suspect.probability >= _LEAST_SHARE and len(listed) < _MOST_LISTED
        if number == 1 or probable or not suspect.faults:
            group = groups_listed.setdefault(number, len(groups_listed) + 1)
            listed.append((suspect, group))
    return listed


def _verdict(
    leader: Suspect, suspects: Sequence[Suspect], graded: Sequence[GradedReading]
) -> Verdict:
    """Return what to call the whole.

    Nothing is sound while a reading is off that a sound circuit cannot give, nor with insulation
    below what a standard asks. A fault may leave one number misread, but no open, and no bound: a
    second fault is likelier than that.
    """
    sound = next(suspect for suspect in suspects if not suspect.faults)
    faults = sum(suspect.probability for suspect in suspects if suspect.faults)
    if leader.refuted.any() or leader.slips.sum() > MOST_MISREAD:
        return "unexplained"
    # Insulation that is gone is explained by what leaves it below the limit, and by nothing else.
    leaks = any(
        reading.within_limit is False
        and reading.expected.unit == "Mohm"
        and reading.expected.limit is not None
        and read >= reading.expected.limit.value
        for reading, read in zip(graded, leader.read.tolist(), strict=True)
    )
    if faults > sound.probability and not leaks:
        return "fault"
    return "unexplained" if leaks or sound.slips.any() else "sound"
