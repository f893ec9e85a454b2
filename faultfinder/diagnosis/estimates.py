"""About what pairs of faults come to, from what each does alone: which to look at first.

Every fault with ohms is taken at the few ohms that explain most of the readings between them. What
two change in a reading is added up; where they act on each other a reading may also be what either
makes of it alone, whichever is nearest. Shared errors are as the leader has them.
"""

from itertools import product
from math import log

import numpy as np

from faultfinder.diagnosis.alone import Alone
from faultfinder.diagnosis.curves import Curves
from faultfinder.diagnosis.likelihood import Indices
from faultfinder.diagnosis.settled import Settled
from faultfinder.evidence.lean import Floats

_OPTIONS = 3  # ohms of a fault that pairs are estimated at
_STEP = 0.5  # of ln ohms
_ASKED = 24  # readings that are asked for the ohms that would explain them
_AROUND = 5.0  # of ln ohms either side of where a curve bends: 1 % of its change is left
_MOST_NUMBERS = 200_000  # in one array, so that it stays in cache


class Estimates:
    """Estimates of pairs of faults.

    Attributes
    ----------
    ln_ohms : ndarray, shape (f, options)
        Ohms that faults are taken at.
    peak : float
        Log likelihood of no misfit at all, that readings count against.
    """

    ln_ohms: Floats
    peak: float

    def __init__(self, settled: Settled, alone: Alone, ranges: Floats) -> None:
        """Choose ohms for each fault, within ranges of their logarithm (f, 2)."""
        self._settled, self._alone = settled, alone
        self.ln_ohms = np.zeros((len(ranges), _OPTIONS))
        read = np.repeat(alone.ends[:, :1], _OPTIONS, axis=1)
        for number in np.flatnonzero(np.ptp(ranges, axis=1) > 0).tolist():
            self.ln_ohms[number], read[number] = self._chosen(number, ranges[number])
        self._own = settled.each_cost(read).astype(np.float32)
        sound = settled.each_cost(alone.sound[None])[0]
        self._cost = np.minimum(self._own, sound).astype(np.float32)
        at = settled.scatters[settled.likeliest]
        self.peak = at.peak - log(len(settled.scatters))
        self._is_number = settled.jury.observed.number
        self._opens = np.flatnonzero(np.isinf(alone.sound[self._is_number]))
        self._slip = at.slip.astype(np.float32)
        with np.errstate(invalid="ignore"):
            # Two of these add up to what is off with both.
            self._off = (settled.share_off(read) - settled.share_off(alone.sound) / 2).astype(
                np.float32
            )

    def _chosen(self, number: int, ends: Floats) -> tuple[Floats, Floats]:
        """Return the ohms that between them explain most readings, and those readings."""
        value = self._settled.jury.observed.value
        low, high = ends
        curves = Curves(self._alone.ends[number : number + 1])
        asked = np.log(curves.ohms_for(value)[0])
        asked = np.sort(asked[(asked > low) & (asked < high)])
        some = np.linspace(0, max(len(asked) - 1, 0), min(_ASKED, len(asked))).astype(int)
        grid = np.linspace(low, high, round((high - low) / _STEP) + 1)
        x = np.concatenate([grid, asked[some]])
        read = curves.at(np.exp(x)[None])[0]
        cost = self._settled.each_cost(read)
        least = np.full(len(value), np.inf)
        best: list[int] = []
        for _ in range(_OPTIONS):
            best.append(int(np.minimum(cost, least).sum(axis=1).argmin()))
            least = np.minimum(least, cost[best[-1]])
        return x[best], read[best]

    def telling(self, ranges: Floats) -> Floats:
        """Return the parts of ranges of ln ohms, (f, 2), over which readings change most."""
        bend = Curves(self._alone.ends).bend
        bend = np.where(np.isfinite(bend) & (bend > 0) & self._alone.moved, bend, np.nan)
        known = np.flatnonzero(np.isfinite(bend).any(axis=1))
        middle = np.log(np.nanmedian(bend[known], axis=1))[:, None]
        found = ranges.copy()
        about = middle + np.array([-_AROUND, _AROUND])
        found[known] = np.clip(about, ranges[known, :1], ranges[known, 1:])
        return found

    def alone(self) -> Floats:
        """Return estimates of each fault by itself, (f,)."""
        return np.asarray(self.peak - self._own.sum(axis=2, dtype=float).min(axis=1))

    def of(self, pairs: Indices, options: int = 1) -> Floats:
        """Return estimates of pairs, (n, 2) to (n,), either fault at its first so many options."""
        least = np.full(len(pairs), np.inf, dtype=np.float32)
        step = max(1, _MOST_NUMBERS // len(self._alone.sound))
        for start in range(0, len(pairs), step):
            some = slice(start, start + step)
            i, j = pairs[some].T
            for k, m in product(range(options), repeat=2):
                np.minimum(least[some], self._costs(i, j, k, m), out=least[some])
        return np.asarray(self.peak - least, dtype=float)

    def _costs(self, i: Indices, j: Indices, k: int, m: int) -> Floats:
        """Return what all readings count against pairs at the options given, (n,)."""
        alone = np.minimum(self._cost[i, k], self._cost[j, m])
        numbers = alone[:, self._is_number]
        both = self._off[i, k]
        with np.errstate(invalid="ignore", over="ignore"):
            both += self._off[j, m]
            both *= both
            both *= self._slip
        np.fmin(both, self._slip, out=both)
        both[:, self._opens] = numbers[:, self._opens]
        acting = self._alone.acting[i, j]
        both[acting] = np.minimum(both[acting], numbers[acting])
        return np.asarray(both.sum(axis=1) + alone[:, ~self._is_number].sum(axis=1))
