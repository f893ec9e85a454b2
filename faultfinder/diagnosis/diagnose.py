"""The whole way from a case to its diagnosis."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from faultfinder.diagnosis.blended import with_mistakes
from faultfinder.diagnosis.catalogue import catalogue, no_edit
from faultfinder.diagnosis.checks import next_checks
from faultfinder.diagnosis.contrast import Contrasts
from faultfinder.diagnosis.doubles import MOST_MISREAD, with_doubles
from faultfinder.diagnosis.groups import groups
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.looking import after_looking
from faultfinder.diagnosis.mistakes import mistakes
from faultfinder.diagnosis.pointing import signs_met
from faultfinder.diagnosis.posterior import Suspect, judge, likeliest_first
from faultfinder.diagnosis.prospect import Prospect, contenders_of
from faultfinder.diagnosis.reasons import Describer
from faultfinder.diagnosis.result import Contrast, Decisive, Diagnosis, Verdict
from faultfinder.diagnosis.why import Asker
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.expectation import expectations, of_spots
from faultfinder.evidence.grading import GradedReading, grade_readings
from faultfinder.evidence.meter import meter_for
from faultfinder.evidence.observed import observe
from faultfinder.evidence.staging import Staged
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Spot
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.fault import Fault

_LEAST_SHARE = 0.001  # suspects less probable are not listed, unless they lead
_MOST_LISTED = 12
_LIKELY = 0.01  # suspects whose unexplained readings are worth repeating where nothing fits all


def diagnose(case: Case, rulebook: Rulebook, asked: Sequence[Fault] = ()) -> Diagnosis:
    """Return what the readings of a case say, and of the faults that are asked about.

    What was not read is listed, and the probability of faults that the readings cannot show is kept
    apart: a circuit hardly read is not called sound beyond its priors.

    Raises
    ------
    ImpossibleFault
        If the circuit has no room for a fault that is asked about.
    """
    rulebook = rulebook.in_words(case.circuit.region.words)
    circuit, procedures = case.circuit, rulebook.procedures
    taken = tuple(reading.spot for reading in case.readings)
    spots = (*taken, *(spot for spot in _places_read(case, rulebook) if spot not in set(taken)))
    bench = Bench(circuit, procedures, case.terminators, spots, case.installation)
    sound = bench.lean([no_edit])
    meter = meter_for(spots, procedures, case.instrument)
    expected = of_spots(expectations(bench, meter, rulebook.tolerances, sound))
    graded = grade_readings(case.readings, expected)
    observed = observe(case.readings, procedures, case.instrument)
    jury = Jury(observed, rulebook.tolerances, sound.first(len(taken)))
    pointed = signs_met(circuit, rulebook, graded)
    as_taken = replace(bench, spots=taken)
    wrong_tests = mistakes(as_taken, rulebook.set_ups.values())
    modes = tuple(rulebook.modes.values())
    hypotheses = after_looking(
        case, rulebook, catalogue(circuit, modes, tuple(pointed), wrong_tests)
    )
    judged = judge(as_taken, jury, hypotheses)
    judged = with_mistakes(as_taken, jury, hypotheses, judged)
    judged = with_doubles(as_taken, jury, hypotheses, judged)
    ranked, numbers = _by_group(judged.suspects, jury)
    listed = _listed(ranked, numbers)
    describe = Describer(case, rulebook, graded, jury, pointed)
    verdict = _verdict(listed[0][0], judged.suspects, graded)
    repeat = _to_repeat(listed, verdict, graded)
    contrasts = Contrasts(graded, jury)
    asker = Asker(case, rulebook, as_taken, jury, judged, wrong_tests, listed, contrasts)
    prospect = Prospect(case, rulebook, tuple(contenders_of(listed)))
    return Diagnosis(
        case=case,
        verdict=verdict,
        readings=graded,
        suspects=tuple(
            replace(
                describe.suspect(suspect, rank, group),
                sunk_by=None if group == 1 else _sunk_by(contrasts, listed[0][0], suspect),
            )
            for rank, (suspect, group) in enumerate(listed, start=1)
        ),
        next_checks=next_checks(prospect, repeat),
        cautions=_cautions(case, rulebook),
        not_read=_not_read(case),
        unseen=judged.unseen,
        repeat=tuple(graded[index] for index in repeat),
        contrast=_contrast(contrasts, listed),
        alike=contrasts.alike([suspect for suspect, group in listed if group == 1]),
        why=tuple(asker.why(fault) for fault in asked),
        prospect=prospect,
    )


def _sunk_by(contrasts: Contrasts, leader: Suspect, suspect: Suspect) -> Decisive | None:
    return next(iter(contrasts.against(leader, 0, suspect).readings), None)


def _contrast(contrasts: Contrasts, listed: Sequence[tuple[Suspect, int]]) -> Contrast | None:
    """Return the leader against the likeliest suspect outside its group."""
    for rank, (suspect, group) in enumerate(listed, start=1):
        if group != 1:
            return contrasts.against(listed[0][0], rank, suspect)
    return None


def _places_read(case: Case, rulebook: Rulebook) -> list[Spot]:
    """Return every pair of the tests and places that were read."""
    read = {(reading.spot.test, reading.spot.at) for reading in case.readings}
    return [
        spot
        for test in sorted({test for test, _ in read})
        for spot in spots_of(rulebook.procedures[test], case.circuit)
        if (test, spot.at) in read
    ]


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
    leaks = any(
        reading.within_limit is False and reading.expected.unit == "Mohm" for reading in graded
    )
    # Where all insulation is gone each fault explains a part of it only, however many there are.
    if faults > sound.probability and (leader.faults or not leaks):
        return "fault"
    return "unexplained" if leaks or sound.slips.any() else "sound"


def _to_repeat(
    listed: Sequence[tuple[Suspect, int]], verdict: Verdict, graded: Sequence[GradedReading]
) -> tuple[int, ...]:
    """Return which readings want taking again, those that matter most first.

    What the leader leaves unexplained, and what the leading group says was noted wrongly. Where
    nothing explains all readings, also what each likely suspect leaves unexplained: if it is the
    one, it is they that are wrong; and if that is none, all that are off.
    """
    leader = listed[0][0]
    found = dict.fromkeys(np.flatnonzero(leader.slips | leader.refuted).tolist())
    for suspect, group in listed:
        if group == 1 and isinstance(suspect.edit, Staged) and suspect.edit.noting:
            noting = suspect.edit.noting
            spots = enumerate(reading.spot for reading in graded)
            found |= dict.fromkeys(i for i, spot in spots if noting.really(spot) != spot)
        elif verdict == "unexplained" and suspect.probability >= _LIKELY:
            found |= dict.fromkeys(np.flatnonzero(suspect.slips | suspect.refuted).tolist())
    if verdict == "unexplained" and not found:
        found |= dict.fromkeys(i for i, reading in enumerate(graded) if not reading.is_fine)
    return tuple(found)


def _not_read(case: Case) -> tuple[str, ...]:
    """Return the outlets, and the switches tried in one position only, that were not read."""
    read = {(reading.spot.at, reading.spot.switch) for reading in case.readings}
    places = {at for at, _ in read}
    said = []
    for outlet in case.circuit.outlets():
        if outlet.name not in places:
            said.append(outlet.name)
        elif outlet.switched:
            missing = [word for word in ("on", "off") if (outlet.name, word) not in read]
            said += [f"{outlet.name} switched {word}" for word in missing]
    return tuple(said)


def _cautions(case: Case, rulebook: Rulebook) -> tuple[str, ...]:
    """Return the cautions of the tests that were used, each once."""
    tests = dict.fromkeys(reading.spot.test for reading in case.readings)
    said = [caution for test in tests for caution in rulebook.procedures[test].cautions]
    return tuple(dict.fromkeys(said))
