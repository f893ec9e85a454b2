"""A suspect in words: what it is, which readings speak for and against it, what to do about it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.pointing import Testimony
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.diagnosis.result import RankedSuspect
from faultfinder.diagnosis.wording import (
    about_set_up,
    amount_in_words,
    fault_in_words,
    ohms_in_words,
    spot_in_words,
    value_in_words,
)
from faultfinder.evidence.grading import GradedReading
from faultfinder.readings.case import Case
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.rulebook.setups import SetUp
from faultfinder.wiring.fault import Fault

_WORTH_SAYING_NATS = 2.0
_MOST = 3
_FAR_SD = 3.0


@dataclass(frozen=True, slots=True)
class Describer:
    """Describes suspects of one case."""

    case: Case
    rulebook: Rulebook
    graded: Sequence[GradedReading]
    jury: Jury
    pointed: Mapping[Fault, tuple[Testimony, ...]]

    def suspect(self, suspect: Suspect, rank: int, group: int) -> RankedSuspect:
        """Return everything there is to say about a suspect."""
        supported = supported_by(suspect, self.graded, self.jury)
        against = spoken_against_by(suspect, self.graded, self.jury)
        fault = suspect.fault
        if fault is None:
            return RankedSuspect(
                rank=rank,
                group=group,
                probability=suspect.probability,
                title="the circuit is sound",
                supported_by=supported,
                spoken_against_by=against,
                reason="Faults are rarer than sound circuits, and no reading calls for one."
                if not against
                else "",
            )
        rule = self.rulebook.rule_of(fault)
        said = self.pointed.get(replace(fault, r_ohm=None), ())
        off = sum(not reading.is_fine for reading in self.graded)
        return RankedSuspect(
            rank=rank,
            group=group,
            probability=suspect.probability,
            faults=(fault,),
            ohms=(suspect.ohms[0], suspect.ohms[2]) if suspect.ohms else None,
            title=fault_in_words(
                rule,
                self.case.circuit,
                fault,
                ohms_in_words(*suspect.ohms) if suspect.ohms else "",
            ),
            supported_by=supported,
            spoken_against_by=against,
            signs=tuple(testimony.sign for testimony in said),
            reason=said[0].says if said else _fits(off, int(suspect.slips.sum())),
            look_for=self._filled(rule.look_for, fault),
            remedy=self._filled(rule.remedy, fault),
            retest=self._tests_used() if isinstance(rule, SetUp) else rule.retest,
            cautions=rule.cautions_for(fault.conductors),
        )

    def _filled(self, text: str, fault: Fault) -> str:
        return about_set_up(text, self.case.circuit, fault) if fault.set_up else text

    def _tests_used(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(reading.spot.test for reading in self.graded))


def _fits(off: int, unexplained: int) -> str:
    """Say how the model's prediction fits, where no sign speaks."""
    if off == 0:
        return "No reading is off by itself; together they lean this way."
    left = f", but {unexplained} of all readings it does not explain" if unexplained else ""
    are = "reading is" if off == 1 else "readings are"
    return f"{off} {are} off; the circuit with this fault in it reads as was read{left}."


def supported_by(suspect: Suspect, graded: Sequence[GradedReading], jury: Jury) -> tuple[str, ...]:
    """Return the readings that speak most for a fault against a sound circuit, as sentences.

    For the sound circuit: how many readings are as they should be.
    """
    if suspect.fault is None:
        fine = sum(reading.is_fine for reading in graded)
        return (f"{fine} of {len(graded)} readings are as a sound circuit should read.",)
    each = jury.glance_each(np.stack([suspect.read, jury.sound.read[0]]))
    gain = each[0] - each[1]
    order = [int(i) for i in np.argsort(-gain, kind="stable") if gain[i] > _WORTH_SAYING_NATS]
    # One position of a switch is enough: the other would say the same again.
    first = {(graded[i].spot.at, graded[i].spot.between): i for i in reversed(order)}
    told = [i for i in order if i in first.values()]
    return tuple(_for(graded[i], float(suspect.read[i])) for i in told[:_MOST])


def spoken_against_by(
    suspect: Suspect, graded: Sequence[GradedReading], jury: Jury
) -> tuple[str, ...]:
    """Return the readings that a suspect explains badly or not at all, as sentences."""
    each = jury.glance_each(np.stack([suspect.read, jury.sound.read[0]]))
    loss = each[1] - each[0]
    wrong = suspect.slips | (np.abs(suspect.residual) > _FAR_SD) | (loss > _WORTH_SAYING_NATS)
    if suspect.fault is None:
        wrong |= np.array([not reading.is_fine for reading in graded], dtype=bool)
    order = [int(i) for i in np.argsort(each[0], kind="stable") if wrong[i]]
    return tuple(_against(graded[i], suspect, i) for i in order[:_MOST])


def _quote(reading: GradedReading) -> str:
    value = amount_in_words(reading.reading.amount, reading.expected.unit)
    return f"{spot_in_words(reading.spot)} reads {value}"


def _for(reading: GradedReading, predicted: float) -> str:
    unit = reading.expected.unit
    sound = value_in_words(reading.expected.value, unit)
    faulty = value_in_words(predicted, unit)
    return f"{_quote(reading)}; sound would be {sound}, with this fault {faulty}."


def _against(reading: GradedReading, suspect: Suspect, index: int) -> str:
    name = "a sound circuit" if suspect.fault is None else "this fault"
    predicted = value_in_words(float(suspect.read[index]), reading.expected.unit)
    return f"{_quote(reading)}; {name} would read {predicted}."
