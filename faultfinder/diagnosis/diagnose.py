"""The whole way from a case to its diagnosis."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from faultfinder.diagnosis.checks import next_checks
from faultfinder.diagnosis.contrast import Contrasts
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.diagnosis.prospect import Prospect, contenders_of
from faultfinder.diagnosis.reasons import Describer
from faultfinder.diagnosis.result import Contrast, Decisive, Diagnosis, Verdict
from faultfinder.diagnosis.weighing import weigh_case
from faultfinder.diagnosis.why import Asker
from faultfinder.evidence.grading import GradedReading
from faultfinder.evidence.staging import Staged
from faultfinder.readings.case import Case
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.fault import Fault

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
    weighed = weigh_case(case, rulebook, telling=True)
    rulebook, graded, jury = weighed.rulebook, weighed.graded, weighed.jury
    listed, verdict = weighed.listed, weighed.verdict
    describe = Describer(case, rulebook, graded, jury, weighed.pointed)
    repeat = _to_repeat(listed, verdict, graded)
    contrasts = Contrasts(graded, jury)
    asker = Asker(
        case, rulebook, weighed.bench, jury, weighed.judged, weighed.wrong_tests, listed, contrasts
    )
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
        unseen=weighed.judged.unseen,
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
