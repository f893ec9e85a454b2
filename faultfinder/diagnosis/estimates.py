"""About what pairs of faults come to, from what each does alone: which to look at first.

Every fault with ohms is taken at those that explain most of the readings. What two change in a
reading is added up; where they act on each other a reading may also be what either makes of it
alone, whichever is nearest. Shared errors are as the leader has them. Readings that count most come
first, so that few are needed to tell that a pair is far behind.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import log

import numpy as np
import numpy.typing as npt

from faultfinder.diagnosis.alone import Alone
from faultfinder.diagnosis.curves import Curves
from faultfinder.diagnosis.settled import Settled
from faultfinder.evidence.lean import Floats, Indices

_OPTIONS = 3  # ohms of a fault that between them explain most readings
_STEP = 0.5  # of ln ohms
_ASKED = 24  # readings that are asked for the ohms that would explain them
_AROUND = 5.0  # of ln ohms either side of where a curve bends: 1 % of its change is left
_MOST_NUMBERS = 200_000  # in one array, so that it stays in cache
_LIKELY = 30  # faults, one of which is nearly always among two that show
_PARTS = (1 / 8, 1 / 4, 1 / 2)  # of the readings, where pairs far behind are left

Quick = npt.NDArray[np.float32]
"""Half the size, for what is only estimated."""


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Some readings, those first at which changes add up.

    What f faults cost there by themselves or with none, ``cost`` (f, k); of the a that add up how
    far off they are, ``off`` (f, a), two of which sum up to what is off with both, and ``slip``
    (a,), what one costs at most.
    """

    cost: Quick
    off: Quick
    slip: Quick

    def costs(self, i: Indices, j: Indices, acting: npt.NDArray[np.bool_]) -> Quick:
        """Return what these readings count against pairs, (n,)."""
        alone = np.minimum(self.cost[i], self.cost[j])
        adding = self.off.shape[1]
        both = self.off[i]
        with np.errstate(invalid="ignore", over="ignore"):
            both += self.off[j]
            both *= both
            both *= self.slip
        np.fmin(both, self.slip, out=both)
        both[acting] = np.minimum(both[acting], alone[acting, :adding])
        return np.asarray(both.sum(axis=1) + alone[:, adding:].sum(axis=1))


class Estimates:
    """Estimates of pairs of faults.

    Attributes
    ----------
    ln_ohms : ndarray, shape (f, options)
        Ohms of each fault that between them explain most readings, the best first.
    likely : ndarray of int, shape (30,)
        Faults that are likeliest by themselves, the likeliest first.
    order : ndarray of int, shape (r,)
        Readings, those that count most first.
    peak : float
        Log likelihood of no misfit at all, that readings count against.
    """

    ln_ohms: Floats
    likely: Indices
    order: Indices
    peak: float

    def __init__(self, settled: Settled, alone: Alone, ranges: Floats, log_prior: Floats) -> None:
        """Choose ohms for each fault, within ranges of their logarithm (f, 2)."""
        self._settled, self._alone = settled, alone
        self.ln_ohms = np.zeros((len(ranges), _OPTIONS))
        at = settled.scatters[settled.likeliest]
        self.peak = at.peak - log(len(settled.scatters))
        read = alone.ends[:, 0].copy()
        own = settled.each_cost(read)
        least = own.sum(axis=1)
        for some in self._alike(ranges):
            chosen = self._chosen(some, ranges[some[0]])
            self.ln_ohms[some], read[some], own[some], least[some] = chosen
        self.likely = np.argsort(least - log_prior, kind="stable")[:_LIKELY]
        # Most faults fail where readings are far off, the likely ones at what is left to a second.
        ranks = [np.argsort(np.argsort(-each.mean(axis=0))) for each in (own, own[self.likely])]
        self.order = np.argsort(np.minimum(*ranks), kind="stable")
        self._parts = list(self._in_parts(read, own))

    def _alike(self, ranges: Floats) -> Iterator[Indices]:
        """Yield faults of one range of ohms, so many at a time."""
        for ends in np.unique(ranges[np.ptp(ranges, axis=1) > 0], axis=0):
            those = np.flatnonzero((ranges == ends).all(axis=1))
            count = _ASKED + len(_grid(ends))
            step = max(1, _MOST_NUMBERS // (count * max(1, len(self._alone.sound))))
            yield from (those[start : start + step] for start in range(0, len(those), step))

    def _chosen(self, some: Indices, ends: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Return ohms of faults that between them explain most readings, (n, options).

        Also the readings at the best of them and what each costs, both (n, r), and what all cost at
        the ohms that suit all best, (n,).
        """
        curves = Curves(self._alone.ends[some])
        grid = _grid(ends)
        asked = np.log(curves.ohms_for(self._settled.jury.observed.value))
        with np.errstate(invalid="ignore"):
            within = (asked > ends[0]) & (asked < ends[1])
        asked = np.sort(np.where(within, asked, np.nan), axis=1)
        # As many of those that ask as there are, evenly; where none does, one end again.
        last = np.maximum(within.sum(axis=1) - 1, 0)
        evenly = (last[:, None] * np.linspace(0, 1, _ASKED)).astype(int)
        asked = np.take_along_axis(asked, evenly, axis=1)
        asked = np.where(np.isnan(asked), ends[0], asked)
        x = np.concatenate([np.broadcast_to(grid, (len(some), len(grid))), asked], axis=1)
        read = curves.at(np.exp(x))
        cost = self._settled.each_cost(read)
        each = np.arange(len(some))
        best = np.empty((len(some), _OPTIONS), dtype=np.intp)
        least = np.full((len(some), 1, read.shape[-1]), np.inf)
        for option in range(_OPTIONS):
            best[:, option] = np.minimum(cost, least).sum(axis=-1).argmin(axis=1)
            least = np.minimum(least, cost[each, best[:, option]][:, None])
        first = best[:, 0]
        whole = cost[each[:, None], best].sum(axis=-1).min(axis=1)
        return x[each[:, None], best], read[each, first], cost[each, first], whole

    def _in_parts(self, read: Floats, own: Floats) -> Iterator[_Part]:
        """Yield the readings in parts, those that count most first."""
        settled, sound = self._settled, self._alone.sound
        numbers = np.flatnonzero(settled.jury.observed.number)
        adding = np.zeros(len(sound), dtype=bool)
        adding[numbers] = np.isfinite(sound[numbers])
        cost = np.minimum(own, settled.each_cost(sound[None])[0])
        off, slip = np.zeros(read.shape), np.zeros(len(sound))
        with np.errstate(invalid="ignore"):
            off[:, numbers] = settled.share_off(read) - settled.share_off(sound) / 2
        slip[numbers] = settled.scatters[settled.likeliest].slip
        ends = [round(share * len(sound)) for share in _PARTS]
        for some in np.split(self.order, ends):
            first, rest = some[adding[some]], some[~adding[some]]
            costs = cost[:, np.concatenate([first, rest])]
            yield _Part(*(a.astype(np.float32) for a in (costs, off[:, first], slip[first])))

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

    def of(self, pairs: Indices, enough: Floats | float = -np.inf) -> Floats:
        """Return estimates of pairs, (n, 2) to (n,), of those below ``enough`` by some readings.

        These are no less than by all.
        """
        estimates = np.full(len(pairs), self.peak)
        enough = np.broadcast_to(enough, len(pairs))
        left = np.arange(len(pairs))
        for part in self._parts:
            step = max(1, _MOST_NUMBERS // max(1, part.cost.shape[1]))
            for start in range(0, len(left), step):
                some = left[start : start + step]
                i, j = pairs[some].T
                estimates[some] -= part.costs(i, j, self._alone.acting[i, j])
            left = left[estimates[left] > enough[left]]
        return estimates


def _grid(ends: Sequence[float] | Floats) -> Floats:
    """Return ln ohms all over a range."""
    low, high = ends
    return np.linspace(low, high, round((high - low) / _STEP) + 1)
