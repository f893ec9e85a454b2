"""Faults that have ohms, scored at ohms all over their range.

A likelihood may be far narrower than any grid over the range, and flat elsewhere, where all it
depends on would be a slip. So the readings are asked: each tells the ohms that would make it
exactly as read, and those are tried beside the grid, then a finer grid about the best. Where what
readings share is many times their own errors, Newton's steps are taken from there first.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from math import inf, isfinite

import numpy as np

from faultfinder.diagnosis.curves import Curves, cells, ohms_grid
from faultfinder.diagnosis.quick import Quick
from faultfinder.diagnosis.settled import Settled
from faultfinder.evidence.lean import Flags, Floats, Indices

_TRIED = 8  # of those they tell, tried to find what leads
_LEVEL_NATS = 0.3  # about the sound circuit's score, within which nothing is told from it
_LOWEST_NATS = 60.0  # below the top; what was not scored is taken to be there
_PARTS = 10  # of a range, bounded before it is looked at
_ASKED = 24  # readings at most that are asked for the ohms that would explain them
# Of ln ohms, about the best so far: ever closer, since how narrow a likelihood is depends on the
# instrument, from a tenth down to what one of 0.1 % leaves of a large joint.
_NEAR = 0.1 / 2.0 ** np.arange(0.0, 10.5, 0.65)
_ZOOM = np.concatenate([-_NEAR, [0.0], _NEAR[::-1]])
_MOST_SHARED = 5.0  # times a reading's own errors, that what it asks for may be off by
_NARROWING = (4.0, 1.0)  # times the scatter, at which steps to a top are taken
_STEP = 1e-3  # of ohms, to tell how readings change
_MOST_STEP = -0.7, 2.0  # of ohms, at once
_EDGE = 0.001  # of the mass, left out at either end
_ROWS, _FEW_ROWS = 9, 5  # ohms worth an exact look
_MOST_NUMBERS = 100_000  # in one array, so that it stays in cache; the rest waits its turn

Reads = Callable[[Floats], Floats]
"""What is read at ohms: (k,) to (k, r). [ohm]"""


@dataclass(frozen=True, slots=True)
class Leader:
    """One of the families that do well reading by reading.

    ``score`` is its quick score with its prior, ``x`` the logarithm of its ohms there.
    """

    family: int
    score: float
    x: float


class Span:
    """Families with ohms, n of them.

    Attributes
    ----------
    x : ndarray, shape (n, k)
        Logarithms of ohms, rising.
    log : ndarray, shape (n, k)
        About what the log likelihood is there; minus infinity where it is too low to matter.
    """

    def __init__(self, ohms: Floats, curves: Curves, value: Floats) -> None:
        """Choose of ranges (n, 2) the ohms, asking the values that were read, shape (r,)."""
        self._curves = curves
        self._low, self._high = np.log(ohms).T[..., None]
        with np.errstate(divide="ignore"):
            asked = np.sort(np.log(curves.ohms_for(value)), axis=1)  # those that tell nothing last
        asked = np.pad(asked, ((0, 0), (0, 1)), constant_values=np.nan)
        count = np.isfinite(asked).sum(axis=1, keepdims=True)
        asked = np.clip(np.where(np.isfinite(asked), asked, self._low), self._low, self._high)
        self._tried = np.take_along_axis(asked, _evenly(count, _TRIED), axis=1)
        asked = np.take_along_axis(asked, _evenly(count, _ASKED), axis=1)
        self.x = np.sort(np.concatenate([ohms_grid(ohms), asked], axis=1), axis=1)
        self.log = np.full(self.x.shape, -inf)
        new = np.diff(self.x, axis=1, prepend=-inf) > 0
        # The first place of ohms that come several times.
        self._first = np.maximum.accumulate(np.where(new, np.arange(new.shape[1]), 0), axis=1)

    def leaders(self, quick: Quick, log_prior: Floats, count: int) -> "list[Leader]":
        """Return the best by quick scores and priors; their places are those here."""
        scores = np.empty(self._tried.shape)
        for rows, read in self._reads(self._tried, np.arange(len(self.x))):
            scores[rows] = quick.scores(read)
        best = scores.max(axis=1) + log_prior
        found = []
        for place in np.argsort(-best, kind="stable")[:count].tolist():
            x = self._tried[place, scores[place].argmax()]
            found.append(Leader(place, float(best[place]), float(x)))
        return found

    def score(self, settled: Settled, enough: Floats, sound: float) -> None:
        """Score each family at its ohms, where it may come to ``enough``, shape (n,).

        Between two ohms a dead reading is between what it is at either. ``sound`` is the score of
        the sound circuit with no reading called a slip.
        """
        steps = np.unique(np.linspace(0, self.x.shape[1] - 1, _PARTS + 1).astype(int))
        family, part = np.nonzero(self._parts_that_may(settled, enough, steps))
        first, last = steps[part], steps[part + 1]
        ends = np.zeros(self.x.shape, dtype=bool)
        ends[family, first] = ends[family, last] = True
        self._fill(settled, ends, enough)
        columns = np.arange(self.x.shape[1])
        within = (columns > first[:, None]) & (columns < last[:, None])
        y, z = self.log[family, first], self.log[family, last]
        # Where neither end tells it from the sound circuit nothing between does: a line joins them.
        sound = sound if isfinite(sound) else inf
        level = (np.abs(y - sound) < _LEVEL_NATS) & (np.abs(z - sound) < _LEVEL_NATS)
        wanted = np.zeros(self.x.shape, dtype=bool)
        np.logical_or.at(wanted, family[~level], within[~level])
        self._fill(settled, wanted, enough)
        rows, y, z = family[level], y[level, None], z[level, None]
        x, w = self.x[rows, first[level]][:, None], self.x[rows, last[level]][:, None]
        line = y + (z - y) * (self.x[rows] - x) / np.maximum(w - x, np.finfo(float).tiny)
        place, column = np.nonzero(within[level])
        self.log[rows[place], column] = line[place, column]
        ends = np.concatenate([first[~level], last[~level]])
        self._with_tops(settled, np.tile(family[~level], 2), ends, enough)

    def _with_tops(
        self, settled: Settled, family: Indices, columns: Indices, enough: Floats
    ) -> None:
        """Add to each family the best of where Newton's steps lead from some columns, both (m,).

        What readings ask for is off by the errors that they share. Where those are many times an
        instrument's own a likelihood may be far narrower.
        """
        if not family.size or settled.most_shared < _MOST_SHARED:
            return
        once = np.unique(np.stack([family, self._first[family, columns]]), axis=1)
        family, x = once[0], self.x[tuple(once)]
        for some in self._at_once(len(family)):
            x[some] = self._stepped(settled, family[some], x[some])
        found = self._scored(settled, family, x, enough[family])
        best, top = self.log[:, -1].copy(), self.x[:, -1].copy()
        np.maximum.at(best, family, found)
        leads = found == best[family]
        top[family[leads]] = x[leads]
        self._add(top[:, None], best[:, None])

    def _stepped(self, settled: Settled, family: Indices, x: Floats) -> Floats:
        """Return where Newton's steps lead from ln ohms (m,) of as many families."""
        for wide in _NARROWING:
            by = settled.broadened(wide)
            read = self._curves.each_at(family, np.exp(x))
            changed = self._curves.each_at(family, np.exp(x) * (1 + _STEP))
            step = _STEP * by.steps(read, changed[:, None])[:, 0]
            # A reading in series with the ohms rises straight with them, and not with their log.
            x = x + np.log1p(np.clip(step, *_MOST_STEP))
            x = np.clip(x, self._low[family, 0], self._high[family, 0])
        return x

    def _parts_that_may(self, settled: Settled, enough: Floats, steps: Indices) -> Flags:
        """Return which parts of each range may come to enough, (n, parts).

        Where an end does as it stands, the part does. What lies between is bounded, in longer
        stretches first.
        """
        each = np.arange(len(self.x))
        whole = np.tile(steps[[0, -1]], (len(each), 1))
        may = each[self._may_reach(settled, enough, each, whole)[:, 0]]
        ends = self._reaches(settled, enough, may, steps)
        reached = ends[:, 1:] | ends[:, :-1]
        asked = ~reached
        row, stretch = _stretches(asked)
        left = self._may_reach(settled, enough, may[row], steps[stretch])[:, 0]
        for one, (start, end) in zip(row[~left].tolist(), stretch[~left].tolist(), strict=True):
            asked[one, start:end] = False
        columns = np.tile(steps, (len(may), 1))
        found = np.zeros((len(each), len(steps) - 1), dtype=bool)
        found[may] = reached | self._may_reach(settled, enough, may, columns, asked)
        return found

    def _reaches(self, settled: Settled, enough: Floats, those: Indices, steps: Indices) -> Flags:
        """Return where families (m,) come to enough with no reading called a slip, (m, steps)."""
        parts = [np.empty((0, len(steps)), dtype=bool)]
        for rows, read in self._reads(self.x[np.ix_(those, steps)], those):
            parts.append(settled.plainly(read) > enough[those[rows], None])
        return np.concatenate(parts)

    def _fill(self, settled: Settled, wanted: Flags, enough: Floats) -> None:
        """Score where it is wanted, shape as ``x``; ohms that come several times are so once."""
        row, column = np.nonzero(wanted)
        first = self._first[row, column]
        once = np.zeros_like(wanted)
        once[row, first] = True
        rows, columns = np.nonzero(once)
        self.log[rows, columns] = self._scored(settled, rows, self.x[rows, columns], enough[rows])
        self.log[row, column] = self.log[row, first]

    def _may_reach(
        self,
        settled: Settled,
        enough: Floats,
        those: Indices,
        columns: Indices,
        asked: Flags | None = None,
    ) -> Flags:
        """Return which families (m,) may come to enough between columns (m, k), (m, k - 1).

        Not where it is not ``asked``, shape (m, k - 1).
        """
        live = self._curves.sampled.live if self._curves.sampled else None
        found = np.ones((len(those), columns.shape[1] - 1), dtype=bool) if asked is None else asked
        found = found.copy()
        some = np.flatnonzero(found.any(axis=1))
        for rows, read in self._reads(self.x[those[some, None], columns[some]], those[some]):
            row, part = np.nonzero(found[some[rows]])
            one, other = read[row, part], read[row, part + 1]
            low, high = np.minimum(one, other), np.maximum(one, other)
            if live is not None:  # live readings may be anything between
                low[:, live], high[:, live] = 0.0, inf
            row = some[rows][row]
            wanted = enough[those[row]]
            found[row, part] = settled.within(low, high, wanted) > wanted
        return found

    def look_closer(self, settled: Settled, enough: Floats) -> None:
        """Look more closely about the top of each family that comes to ``enough``, shape (n,)."""
        tops = np.flatnonzero(self.log.max(axis=1) > enough)
        if not tops.size:
            return
        peak = self.x[tops, self.log[tops].argmax(axis=1)][:, None]
        finer = np.clip(peak + _ZOOM, self._low[tops], self._high[tops])
        x = np.repeat(self.x[:, -1:], finer.shape[1], axis=1)
        log_ = np.repeat(self.log[:, -1:], finer.shape[1], axis=1)
        x[tops] = finer
        rows = np.repeat(tops, finer.shape[1])
        log_[tops] = self._scored(settled, rows, finer.ravel(), enough[rows]).reshape(finer.shape)
        self._add(x, log_)

    def _add(self, x: Floats, log_: Floats) -> None:
        """Add ln ohms (n, k) with their scores; what is there already changes nothing."""
        x, log_ = np.concatenate([self.x, x], axis=1), np.concatenate([self.log, log_], axis=1)
        order = np.argsort(x, axis=1, kind="stable")
        self.x, self.log = np.take_along_axis(x, order, 1), np.take_along_axis(log_, order, 1)

    def averages(self) -> Floats:
        """Return the log of each likelihood averaged over the range, shape (n,)."""
        widths = cells(self.x) / (self._high - self._low)
        return np.asarray(np.logaddexp.reduce(self.log + np.log(widths), axis=1))

    def worth_a_look(self, place: int, *, closely: bool) -> "tuple[Floats, Floats, Reads | None]":
        """Return ohms of one family at equal steps of its likelihood's mass, and their scores.

        Few where it is not looked at closely. Also what it reads at any ohms, where that does not
        have to be worked out.

        The likelihood is taken to a third of its power: the full one may be shifted against this
        one. Shapes (k,), rising. [ohm]
        """
        x, first = np.unique(self.x[place], return_index=True)
        scores = np.maximum(self.log[place, first], self.log[place].max() - _LOWEST_NATS)
        mass = np.cumsum(np.exp((scores - scores.max()) / 3) * cells(x))
        count = _ROWS if closely else _FEW_ROWS
        steps = np.linspace(_EDGE, 1 - _EDGE, count) * mass[-1]
        rows = np.unique([*np.searchsorted(mass, steps), scores.argmax()])
        known = partial(self._curves.of, place) if self._curves.sampled is None else None
        return np.exp(x[rows]), scores[rows], known

    def _scored(self, settled: Settled, rows: Indices, x: Floats, enough: Floats) -> Floats:
        """Return scores of families at one of ln ohms each, all of shape (m,)."""
        parts = [np.empty(0)]
        for some in self._at_once(len(rows)):
            read = self._curves.each_at(rows[some], np.exp(x[some]))
            parts.append(settled.about(read, enough[some]))
        return np.concatenate(parts)

    def _reads(self, x: Floats, those: Indices) -> Iterator[tuple[slice, Floats]]:
        """Yield readings (some, k, r) of families (m,) at ln ohms (m, k), and which they are."""
        for rows in self._at_once(len(x), x.shape[1]):
            yield rows, self._curves.only(those[rows]).at(np.exp(x[rows]))

    def _at_once(self, count: int, ohms: int = 1) -> Iterator[slice]:
        """Yield so many families at a time that their readings at so many ohms stay in cache."""
        step = max(1, _MOST_NUMBERS // max(1, ohms * self._curves.bolted.shape[1]))
        yield from (slice(start, start + step) for start in range(0, count, step))


def _stretches(asked: Flags) -> tuple[Indices, Indices]:
    """Return stretches of parts that are asked for, none longer than a third of all parts.

    Their rows (m,), and where they begin and end (m, 2).
    """
    rows, stretches = [], []
    thirds = np.linspace(0, asked.shape[1], 4).astype(int).tolist()
    for start, end in pairwise(thirds):
        edges = np.diff(np.pad(asked[:, start:end], ((0, 0), (1, 1))).astype(int), axis=1)
        (row, first), (_, last) = np.nonzero(edges > 0), np.nonzero(edges < 0)
        rows.append(row)
        stretches.append(start + np.stack([first, last], axis=1))
    return np.concatenate(rows), np.concatenate(stretches)


def _evenly(count: Indices, most: int) -> Indices:
    """Return places of so many among the first ``count`` of a row, (n, 1) to (n, most)."""
    return (np.linspace(0, 1, most) * np.maximum(count - 1, 0)).astype(int)
