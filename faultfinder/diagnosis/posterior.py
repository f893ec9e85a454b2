"""The probability of every hypothesis, its ohms integrated over their range."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from faultfinder.diagnosis.catalogue import BuiltWay, Hypothesis, no_edit
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.screen import Candidate, screen
from faultfinder.evidence.bench import Bench, Floats, MakeEdit
from faultfinder.evidence.meter import Flags
from faultfinder.wiring.fault import Fault


@dataclass(frozen=True, slots=True)
class Suspect:
    """A hypothesis with its probability, and what it predicts at its likeliest.

    Attributes
    ----------
    hypothesis : Hypothesis
        What may be the matter.
    probability : float
        Its share of the posterior of all hypotheses.
    ohms : (float, float, float) or None
        5 %, 50 % and 95 % points of its ohms, where it has any. [ohm]
    way : BuiltWay or None
        The likeliest way it is built; None for the sound circuit.
    r_ohm : float
        The likeliest ohms of that way; 0 where it has none. [ohm]
    read : ndarray, shape (r,)
        Predicted readings at that way and ohms, in the tests' units.
    spread : ndarray, shape (r, p)
        Shared errors there.
    residual : ndarray, shape (r,)
        What shared errors leave of each number, in standard deviations of its scatter.
    slips : ndarray of bool, shape (r,)
        Readings it has no explanation for.
    variants : ndarray, shape (k, r)
        Predictions over its ways and the ohms that fit.
    """

    hypothesis: Hypothesis
    probability: float
    ohms: tuple[float, float, float] | None
    way: BuiltWay | None
    r_ohm: float
    read: Floats
    spread: Floats
    residual: Floats
    slips: Flags
    variants: Floats

    @property
    def fault(self) -> Fault | None:
        """The fault, with its likeliest ohms where it has any."""
        fault = self.hypothesis.fault
        if fault is None or self.ohms is None:
            return fault
        return replace(fault, r_ohm=self.ohms[1])

    @property
    def edit(self) -> MakeEdit:
        """The edit that builds it at its likeliest."""
        return self.way.edit(self.r_ohm) if self.way else no_edit


def suspects(bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis]) -> tuple[Suspect, ...]:
    """Return the hypotheses that may have made the readings, the most probable first.

    Candidates of the screen are predicted exactly, with the slopes of the shared errors at each
    one's best ohms, and weighed with the full likelihood. Hypotheses the screen dropped have a
    probability of nil.
    """
    candidates = screen(bench, jury, hypotheses)
    edits: list[MakeEdit] = []
    best: list[MakeEdit] = []
    for candidate in candidates:
        way = candidate.way
        made = [way.edit(r) if way else no_edit for r in candidate.r_ohm.tolist()]
        best.append(made[candidate.best])
        edits += made
    owner = np.repeat(np.arange(len(candidates)), [len(c.r_ohm) for c in candidates])
    read = bench.read(edits)
    spread = jury.spread(bench.lean(best))
    fits = jury.weigh(read, spread[owner])
    prior = np.array([hypotheses[candidate.index].log_prior for candidate in candidates])
    weights = np.concatenate([candidate.log_weight for candidate in candidates])
    joint = prior[owner] + weights + fits.log
    mass = np.exp(joint - joint.max())
    mass /= mass.sum()
    hypothesis_of = np.array([candidate.index for candidate in candidates])[owner]
    r_ohm = np.concatenate([candidate.r_ohm for candidate in candidates])
    found = []
    for index in dict.fromkeys(hypothesis_of.tolist()):
        (rows,) = np.nonzero(hypothesis_of == index)
        # The likeliest row by density, not by mass: a mass depends on the spacing of the ohms.
        top = rows[(fits.log[rows] + _way_log(candidates, owner[rows])).argmax()]
        hypothesis = hypotheses[index]
        found.append(
            Suspect(
                hypothesis,
                float(mass[rows].sum()),
                _quantiles(r_ohm[rows], joint[rows]) if hypothesis.ohms else None,
                candidates[owner[top]].way,
                float(r_ohm[top]),
                read[top],
                spread[owner[top]],
                fits.residual[top],
                fits.slips[top],
                read[rows],
            )
        )
    return tuple(sorted(found, key=lambda suspect: -suspect.probability))


def _way_log(candidates: Sequence[Candidate], owner: np.ndarray) -> Floats:
    ways = [candidates[index].way for index in owner]
    return np.log([way.weight if way else 1.0 for way in ways])


def _quantiles(r_ohm: Floats, log_mass: Floats) -> tuple[float, float, float]:
    """Return the 5, 50 and 95 % points of ohms with masses, interpolated in their logarithm."""
    order = r_ohm.argsort()
    share = np.exp(log_mass[order] - log_mass.max())
    share /= share.sum()
    middle = np.cumsum(share) - share / 2
    low, median, high = np.exp(np.interp([0.05, 0.5, 0.95], middle, np.log(r_ohm[order])))
    return float(low), float(median), float(high)
