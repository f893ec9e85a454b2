"""Why a fault that somebody names is not the answer, or is."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp

import numpy as np

from faultfinder.diagnosis.catalogue import Hypothesis, hypothesis
from faultfinder.diagnosis.checks import parting_check
from faultfinder.diagnosis.contrast import Contrasts
from faultfinder.diagnosis.foretell import ImpossibleFault, must_fit
from faultfinder.diagnosis.groups import BOUND_NATS, nats_apart
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.naming import suspect_in_words
from faultfinder.diagnosis.posterior import Judged, Suspect, weigh
from faultfinder.diagnosis.result import Standing, Why
from faultfinder.evidence.bench import Bench
from faultfinder.readings.case import Case
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault

_MOST_WEIGHED = 10  # places of a set-up mistake named without one
_RULED_OUT = 1e-4  # probability below which a suspect is called ruled out; judgement, no source


@dataclass(frozen=True, slots=True)
class Asker:
    """Answers for any fault of one case.

    Attributes
    ----------
    case, rulebook
        What was read, and the rules.
    bench, jury, judged
        What it was judged by, and the outcome.
    mistakes : tuple of Hypothesis
        The set-up mistakes that may have been made.
    listed : sequence of (Suspect, int)
        The suspects of the report with their groups, the leader first.
    contrasts : Contrasts
        Compares suspects by the readings.
    """

    case: Case
    rulebook: Rulebook
    bench: Bench
    jury: Jury
    judged: Judged
    mistakes: tuple[Hypothesis, ...]
    listed: Sequence[tuple[Suspect, int]]
    contrasts: Contrasts

    def why(self, asked: Fault) -> Why:
        """Return why a fault, at the ohms that suit it best, is not the answer, or is.

        Raises
        ------
        ImpossibleFault
            If the circuit or these readings have no room for it.
        """
        suspect = self._suspect(asked)
        leader = self._leader(suspect)
        standing = self._standing(suspect, leader)
        rival = leader if standing != "leads" else self._runner_up()
        (fault,), (ohms,) = suspect.faults, suspect.ohms
        one, other = (leader, suspect) if standing != "leads" else (suspect, rival)
        contrast = self.contrasts.against(one, 1, other) if other else None
        return Why(
            asked=str(asked),
            fault=replace(fault, r_ohm=suspect.r_ohm if ohms else None),
            title=suspect_in_words(suspect, self.rulebook, self.case.circuit),
            standing=standing,
            probability=suspect.probability,
            prior=exp(suspect.hypothesis.log_prior),
            decisive=contrast.readings if contrast else (),
            nats_behind=leader.log_likelihood - suspect.log_likelihood,
            check=parting_check(self.case, self.rulebook, suspect, rival) if rival else None,
        )

    def _suspect(self, asked: Fault) -> Suspect:
        found = self._hypotheses(asked)
        faults = [one.faults for one in found]
        judged = [s for s in self.judged.suspects if s.hypothesis.faults in faults]
        if judged:
            return judged[0]
        edits = [one.ways[0].edit(_middle(one)) for one in found]
        best = np.argsort(-self.jury.glance(self.bench.read(edits)), kind="stable")
        kept = [found[i] for i in best[:_MOST_WEIGHED].tolist()]
        return max(weigh(self.bench, self.jury, kept, self.judged), key=lambda s: s.probability)

    def _hypotheses(self, asked: Fault) -> list[Hypothesis]:
        """Return what may be meant: a fault, or a set-up mistake wherever it can have been made."""
        bare = replace(asked, r_ohm=None)
        if not asked.set_up:
            mode = self.rulebook.modes[asked.mode]
            must_fit(mode, self.case.circuit, bare)
            return [hypothesis(mode, self.case.circuit, bare)]
        same = [one for one in self.mistakes if _is_meant(asked, one, self.case.circuit)]
        if not same:
            found = f'"{asked}" has no place in these readings'
            raise ImpossibleFault(found, "a test or a place that was read")
        return same

    def _leader(self, suspect: Suspect) -> Suspect:
        """Return who leads: one of the leading group that has these faults and more, if any."""
        faults = set(suspect.hypothesis.faults)
        leading = [one for one, group in self.listed if group == 1]
        return next((one for one in leading if faults < set(one.hypothesis.faults)), leading[0])

    def _standing(self, suspect: Suspect, leader: Suspect) -> Standing:
        faults = suspect.hypothesis.faults
        if faults == leader.hypothesis.faults:
            return "leads"
        if set(faults) < set(leader.hypothesis.faults):
            return "one of the leader's faults"
        if any(s.hypothesis.faults == faults for s, group in self.listed if group == 1):
            return "cannot be told from the leader"
        if nats_apart(leader, suspect, self.jury) < BOUND_NATS:
            return "not shown by these readings"
        return "ruled out" if suspect.probability < _RULED_OUT else "less likely"

    def _runner_up(self) -> Suspect | None:
        return next((suspect for suspect, group in self.listed if group != 1), None)


def _is_meant(asked: Fault, one: Hypothesis, circuit: Circuit) -> bool:
    """Return whether somebody may mean a set-up mistake; conductors and place may be left out."""
    (fault,) = one.faults
    return (
        fault.set_up == asked.set_up
        and asked.conductors in ((), fault.conductors)
        and asked.at in (circuit.board, fault.at)
    )


def _middle(one: Hypothesis) -> float:
    return float(np.sqrt(one.ohms[0] * one.ohms[1])) if one.ohms else 0.0
