"""Which suspects the readings given cannot tell apart.

Two suspects are told apart when, if one of them were true, the readings would be expected to speak
for it against the other by more than a bound: the expected log likelihood ratio, which for Gaussian
readings with covariance C and predictions that differ by d is ½ dᵀ C⁻¹ d. The other is given every
way and all ohms that fit, so that a place is never claimed because of ohms nobody knows. An open
that one predicts and the other does not counts as a slip would.
"""

from collections.abc import Sequence
from math import log

import numpy as np

from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.evidence.lean import Floats

BOUND_NATS = 0.5
"""Predictions that differ by one standard deviation of all that readings may be off by, taken
together: the truer of two such suspects would come out ahead in 69 cases of 100, little better than
a guess. A bound by information, never widened to catch a truth."""

_NEGLIGIBLE = 0.001
"""Several faults that between them read as fewer do need ohms that happen to fit. So much less
likely than the leader, they are no cause that anybody has to rule out; judgement, no source."""


def groups(suspects: Sequence[Suspect], jury: Jury) -> tuple[int, ...]:
    """Return the group number of each suspect, 1 for the leader's.

    Each group is led by its most probable member, and holds those the leader, if true, could not
    be told from; not those of more faults than it has that are next to impossible beside it. The
    first suspect not yet in a group leads the next one.
    """
    numbers = [0] * len(suspects)
    number = 0
    for index, leader in enumerate(suspects):
        if numbers[index]:
            continue
        number += 1
        numbers[index] = number
        others = [
            other
            for other in range(index + 1, len(suspects))
            if not numbers[other] and not _is_contrived(suspects[other], leader)
        ]
        apart = _nats_apart(leader, [suspects[other] for other in others], jury)
        for other, nats in zip(others, apart, strict=True):
            if nats < BOUND_NATS:
                numbers[other] = number
    return tuple(numbers)


def _is_contrived(suspect: Suspect, leader: Suspect) -> bool:
    """Return whether a suspect takes more faults than the leader, and next to no probability."""
    has_more = len(suspect.hypothesis.faults) > len(leader.hypothesis.faults)
    return has_more and suspect.probability < _NEGLIGIBLE * leader.probability


def nats_apart(true: Suspect, other: Suspect, jury: Jury) -> float:
    """Return the log likelihood ratio expected for a suspect, if true, against another at best."""
    return _nats_apart(true, [other], jury)[0]


def _nats_apart(true: Suspect, others: Sequence[Suspect], jury: Jury) -> list[float]:
    """Return ``nats_apart`` of each of the others, all worked out at once."""
    if not others:
        return []
    nats = _nats(true, np.concatenate([other.variants for other in others]), jury)
    ends = np.cumsum([len(other.variants) for other in others])[:-1]
    return [float(own.min()) for own in np.split(nats, ends)]


def _nats(true: Suspect, reads: Floats, jury: Jury) -> Floats:
    meter, resolution = jury.observed.meter, jury.observed.resolution
    scale = float(np.exp(np.mean(np.log(jury.scatters))))
    numbers = np.isfinite(true.read) & (meter.chance_open(true.read) < 0.5)
    others = np.isfinite(reads) & (meter.chance_open(reads) < 0.5)
    both = numbers & others
    difference = meter.scale(np.where(both, reads, 1.0)) - meter.scale(
        np.where(both, true.read, 1.0)
    )
    variance = (scale * meter.sd(true.read, resolution)) ** 2
    weighted = difference / variance
    inner = np.eye(true.spread.shape[-1])
    inner += true.spread.T @ (true.spread / variance[:, None])
    projected = weighted @ true.spread
    shared = np.einsum("kp,kp->k", projected, np.linalg.solve(inner, projected.T).T)
    gaussian = 0.5 * ((weighted * difference).sum(-1) - shared)
    nats = gaussian + (numbers ^ others).sum(-1) * -log(jury.tolerances.slip)
    return np.asarray(nats, dtype=np.float64)
