"""A suspect in words: what it is, which readings speak for and against it, what to do about it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.naming import suspect_in_words
from faultfinder.diagnosis.pointing import Testimony
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.diagnosis.result import RankedSuspect
from faultfinder.diagnosis.wording import (
    about_set_up,
    amount_in_words,
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
        faults = suspect.faults
        if not faults:
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
        rules = [self.rulebook.rule_of(fault) for fault in faults]
        said = [t for f in suspect.hypothesis.faults for t in self.pointed.get(f, ())]
        each = list(zip(rules, faults, strict=True))
        off = sum(not reading.is_fine for reading in self.graded)
        return RankedSuspect(
            rank=rank,
            group=group,
            probability=suspect.probability,
            faults=faults,
            ohms=tuple((ohms[0], ohms[2]) if ohms else None for ohms in suspect.ohms),
            title=suspect_in_words(suspect, self.rulebook, self.case.circuit),
            supported_by=supported,
            spoken_against_by=against,
            signs=tuple(dict.fromkeys(testimony.sign for testimony in said)),
            reason=said[0].says
            if said and len(faults) == 1
            else _fits(len(faults), off, int(suspect.slips.sum())),
            look_for=self._filled("; ", [(rule.look_for, fault) for rule, fault in each]),
            remedy=self._remedy([(rule.remedy, fault) for rule, fault in each]),
            retest=_once(
                test
                for rule in rules
                for test in (self._tests_used() if isinstance(rule, SetUp) else rule.retest)
            ),
            cautions=_once(c for rule, fault in each for c in rule.cautions_for(fault.conductors)),
        )

    def _remedy(self, texts: Sequence[tuple[str, Fault]]) -> str:
        """Return how faults are mended, each with its place where there are several."""
        if len(texts) == 1:
            return self._filled(" ", texts)
        return self._filled(" ", [(f"At {fault.at}: {text}", fault) for text, fault in texts])

    def _filled(self, between: str, texts: Sequence[tuple[str, Fault]]) -> str:
        """Return the texts of several faults as one, each said once."""
        circuit = self.case.circuit
        said = (about_set_up(text, circuit, f) if f.set_up else text for text, f in texts)
        return between.join(_once(said))

    def _tests_used(self) -> tuple[str, ...]:
        return _once(reading.spot.test for reading in self.graded)


def _once(said: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(said))


def _fits(faults: int, off: int, unexplained: int) -> str:
    """Say how the model's prediction fits, where no sign speaks for a single fault."""
    if off == 0:
        return "No reading is off by itself; together they lean this way."
    left = f", but {unexplained} of all readings it does not explain" if unexplained else ""
    are = "reading is" if off == 1 else "readings are"
    this = _this(faults)
    alone = "" if faults == 1 else " No fewer faults do that."
    return f"{off} {are} off; the circuit with {this} in it reads as was read{left}.{alone}"


def supported_by(suspect: Suspect, graded: Sequence[GradedReading], jury: Jury) -> tuple[str, ...]:
    """Return the readings that speak most for a fault against a sound circuit, as sentences.

    For the sound circuit: how many readings are as they should be.
    """
    if not suspect.faults:
        fine = sum(reading.is_fine for reading in graded)
        return (f"{fine} of {len(graded)} readings are as a sound circuit should read.",)
    each = jury.glance_each(np.stack([suspect.read, jury.sound.read[0]]))
    gain = each[0] - each[1]
    order = [int(i) for i in np.argsort(-gain, kind="stable") if gain[i] > _WORTH_SAYING_NATS]
    # One position of a switch is enough: the other would say the same again.
    first = {(graded[i].spot.at, graded[i].spot.between): i for i in reversed(order)}
    told = [i for i in order if i in first.values()]
    return tuple(_for(graded[i], suspect, i) for i in told[:_MOST])


def spoken_against_by(
    suspect: Suspect, graded: Sequence[GradedReading], jury: Jury
) -> tuple[str, ...]:
    """Return the readings that a suspect explains badly or not at all, as sentences."""
    each = jury.glance_each(np.stack([suspect.read, jury.sound.read[0]]))
    loss = each[1] - each[0]
    wrong = suspect.slips | (np.abs(suspect.residual) > _FAR_SD) | (loss > _WORTH_SAYING_NATS)
    if not suspect.faults:
        wrong |= np.array([not reading.is_fine for reading in graded], dtype=bool)
    order = [int(i) for i in np.argsort(each[0], kind="stable") if wrong[i]]
    return tuple(_against(graded[i], suspect, i) for i in order[:_MOST])


def _quote(reading: GradedReading) -> str:
    value = amount_in_words(reading.reading.amount, reading.expected.unit)
    return f"{spot_in_words(reading.spot)} reads {value}"


def _this(faults: int) -> str:
    if faults == 0:
        return "a sound circuit"
    return "this fault" if faults == 1 else "these faults"


def _for(reading: GradedReading, suspect: Suspect, index: int) -> str:
    unit = reading.expected.unit
    sound = value_in_words(reading.expected.value, unit)
    faulty = value_in_words(float(suspect.read[index]), unit)
    name = _this(len(suspect.faults))
    return f"{_quote(reading)}; sound would be {sound}, with {name} {faulty}."


def _against(reading: GradedReading, suspect: Suspect, index: int) -> str:
    name = _this(len(suspect.faults))
    predicted = value_in_words(float(suspect.read[index]), reading.expected.unit)
    return f"{_quote(reading)}; {name} would read {predicted}."
