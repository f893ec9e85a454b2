"""The likeliest ohms of pairs of faults: the best of a grid, then Newton's steps from there.

On the way the tops are broadened, by more scatter than the readings have: a likelihood may be far
narrower than any grid.
"""

from collections.abc import Callable, Sequence

import numpy as np

from faultfinder.diagnosis.nine import over
from faultfinder.diagnosis.settled import Settled
from faultfinder.evidence.lean import Floats

_MOST_NUMBERS = 200_000  # in one array
_WIDE = 4.0  # times the scatter, so that tops are broad enough for a grid
_NARROWING = (4.0, 4.0, 2.0, 2.0, 1.0, 1.0, 1.0)  # times the scatter, a step each
_CLOSELY = 5  # steps with shared errors settled
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
        self._at_likeliest = settled.at_likeliest()

    def of_grid(self, nine: Floats, one: Floats, other: Floats) -> tuple[Floats, Floats]:
        """Return what suits pairs best of a grid of ln ohms, (n, k) by (n, m).

        Their ln ohms, (n, 2), and about what readings cost there at the least, (n,).
        """
        nine = nine[..., self._telling]
        k, m = one.shape[1], other.shape[1]
        x, cost = np.empty((len(nine), 2)), np.empty(len(nine))
        step = max(1, _MOST_NUMBERS // (k * m * max(1, nine.shape[-1])))
        for start in range(0, len(nine), step):
            some = slice(start, start + step)
            a, b = one[some], other[some]
            read = over(nine[some], np.exp(a), np.exp(b))
            read = read.reshape(len(a), k * m, -1)
            each = self._few.each_cost(read, _WIDE).sum(axis=-1)
            best, rows = each.argmin(axis=1), np.arange(len(a))
            cost[some] = each[rows, best]
            x[some] = np.stack([a[rows, best // m], b[rows, best % m]], axis=1)
        return x, cost

    def narrowed(self, nine: Floats, x: Floats, ends: Floats) -> tuple[Floats, Floats]:
        """Return the likeliest ln ohms near ``x``, shared errors as the leader has them.

        Also what all readings cost there, (n,).
        """

        def cost(read: Floats, wide: float) -> Floats:
            return np.asarray(self._settled.each_cost(read, wide).sum(axis=-1))

        x = self._stepped(nine, x, ends, _NARROWING, cost)
        return x, cost(_at(nine, x), 1.0)

    def closely(
        self, nine: Floats, x: Floats, ends: Floats, enough: Floats
    ) -> tuple[Floats, Floats]:
        """Return the likeliest ln ohms near ``x``, shared errors settled.

        Also what likelihoods cannot exceed there, (n,), roughly where that is not ``enough``, (n,).
        """

        def cost(read: Floats, _: float) -> Floats:
            return -self._at_likeliest.at_most(read, enough)

        x = self._stepped(nine, x, ends, (1.0,) * _CLOSELY, cost)
        return x, self._settled.at_most(_at(nine, x), enough)

    def _stepped(
        self,
        nine: Floats,
        x: Floats,
        ends: Floats,
        widths: Sequence[float],
        cost: Callable[[Floats, float], Floats],
    ) -> Floats:
        """Return ln ohms after Newton's steps, one a width; those that cost more are shortened."""
        x = x.copy()
        moving = np.flatnonzero(np.ptp(ends, axis=2).any(axis=1))
        size = max(1, _MOST_NUMBERS // (nine.shape[-1] * nine.shape[1]))
        for start in range(0, len(moving), size):
            some = moving[start : start + size]
            low, high = ends[some, :, 0], ends[some, :, 1]
            own, here, share = nine[some], x[some], np.ones((len(some), 1))
            about = _STEP * np.array([0.0, 1.0])
            for wide in widths:
                near = over(own, *(np.exp(here[:, [place]] + about) for place in (0, 1)))
                read = near[:, 0, 0]
                changed = np.stack([near[:, 1, 0], near[:, 0, 1]], axis=1)
                step = _STEP * self._at_likeliest.steps(read, changed, wide)
                there = np.clip(here + share * np.clip(step, -_MOST, _MOST), low, high)
                better = (cost(_at(own, there), wide) < cost(read, wide))[:, None]
                here = np.where(better, there, here)
                share = np.where(better, 1.0, _SHORTER * share)
            x[some] = here
        return x


def _at(nine: Floats, x: Floats) -> Floats:
    """Return readings (n, r) of pairs at ln ohms (n, 2)."""
    return over(nine, np.exp(x[:, :1]), np.exp(x[:, 1:]))[:, 0, 0]
