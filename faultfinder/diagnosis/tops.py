"""The likeliest ohms of pairs of faults: the best of a grid, then Newton's steps from there.

On the way the tops are broadened, by more scatter than the readings have: a likelihood may be far
narrower than any grid.
"""

from collections.abc import Sequence

import numpy as np

from faultfinder.diagnosis.nine import over
from faultfinder.diagnosis.settled import Settled
from faultfinder.evidence.lean import Floats

_MOST_NUMBERS = 200_000  # in one array
_WIDE = 4.0  # times the scatter, so that tops are broad enough for a grid
_NARROWING = ((4.0, 3), (2.0, 2), (1.0, 2))  # times the scatter, and steps, by telling readings
_CLOSELY = 4  # steps by all
_STEP = 1e-3  # of ln ohms, to tell how readings change
_MOST = 1.0  # of ln ohms, in one step
_SHORTER = 0.3  # of a step that led nowhere


class Tops:
    """Where the likelihoods of pairs are highest.

    Shapes, of n pairs: ``nine`` (n, 3, 3, r); ln ohms ``x`` (n, 2), their range ``ends`` (n, 2, 2).
    """

    def __init__(self, settled: Settled, telling: Sequence[int]) -> None:
        """Look for ohms by what is ``telling`` of the readings first, by all of them then."""
        self._settled, self._telling = settled, list(telling)
        self._few = settled.only(self._telling)

    def of_grid(self, nine: Floats, one: Floats, other: Floats) -> tuple[Floats, Floats]:
        """Return what suits pairs best of a grid of ln ohms, (n, k) by (n, m).

        Their ln ohms, (n, 2), and about what readings cost there at the least, (n,).
        """
        x, cost = np.empty((len(nine), 2)), np.empty(len(nine))
        moving = np.stack([np.ptp(ohms, axis=1) > 0 for ohms in (one, other)], axis=1)
        for pattern in np.unique(moving, axis=0):
            alike = np.flatnonzero((moving == pattern).all(axis=1))
            k, m = np.where(pattern, (one.shape[1], other.shape[1]), 1)
            step = max(1, _MOST_NUMBERS // (k * m * max(1, len(self._telling))))
            for start in range(0, len(alike), step):
                some = alike[start : start + step]
                rows, a, b = np.arange(len(some)), one[some, :k], other[some, :m]
                read = over(nine[some][..., self._telling], np.exp(a), np.exp(b))
                read = read.reshape(len(some), k * m, -1)
                each = self._few.each_cost(read, _WIDE).sum(axis=-1)
                best = each.argmin(axis=1)
                cost[some] = each[rows, best]
                x[some] = np.stack([a[rows, best // m], b[rows, best % m]], axis=1)
        return x, cost

    def narrowed(self, nine: Floats, x: Floats, ends: Floats) -> tuple[Floats, Floats]:
        """Return the likeliest ln ohms near ``x`` by the telling readings.

        Also what likelihoods cannot exceed there, (n,).
        """
        few = nine[..., self._telling]
        for wide, count in _NARROWING:
            x = _stepped(self._few.broadened(wide), few, x, ends, count)
        return x, self._few.at_most(_at(few, x))

    def closely(
        self, nine: Floats, x: Floats, ends: Floats, enough: Floats
    ) -> tuple[Floats, Floats]:
        """Return the likeliest ln ohms near ``x`` by all readings.

        Also what likelihoods cannot exceed there, (n,), roughly where that is not ``enough``, (n,).
        """
        x = _stepped(self._settled.broadened(1.0), nine, x, ends, _CLOSELY)
        return x, self._settled.at_most(_at(nine, x), enough)


def _stepped(by: Settled, nine: Floats, x: Floats, ends: Floats, count: int) -> Floats:
    """Return ln ohms after so many of Newton's steps; those that lead nowhere are shortened."""
    x = x.copy()
    moving = np.flatnonzero(np.ptp(ends, axis=2).any(axis=1))
    size = max(1, _MOST_NUMBERS // (9 * max(1, nine.shape[-1])))
    about = _STEP * np.array([0.0, 1.0])
    for start in range(0, len(moving), size):
        some = moving[start : start + size]
        low, high = ends[some, :, 0], ends[some, :, 1]
        own, here, share = nine[some], x[some], np.ones((len(some), 1))
        score = by.at_most(_at(own, here))
        for _ in range(count):
            near = over(own, *(np.exp(here[:, [place]] + about) for place in (0, 1)))
            changed = np.stack([near[:, 1, 0], near[:, 0, 1]], axis=1)
            step = _STEP * by.steps(near[:, 0, 0], changed)
            there = np.clip(here + share * np.clip(step, -_MOST, _MOST), low, high)
            found = by.at_most(_at(own, there))
            better = (found > score)[:, None]
            here, score = np.where(better, there, here), np.maximum(found, score)
            share = np.where(better, 1.0, _SHORTER * share)
        x[some] = here
    return x


def _at(nine: Floats, x: Floats) -> Floats:
    """Return readings (n, r) of pairs at ln ohms (n, 2)."""
    return over(nine, np.exp(x[:, :1]), np.exp(x[:, 1:]))[:, 0, 0]
