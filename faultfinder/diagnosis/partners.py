"""Which two faults together can have made the readings: chosen by what the readings allow.

Pairs are far too many to solve for. All are estimated from what either fault does alone
(``estimates.py``), which is exact for most but for the ohms in between. Solved for are then

- those whose estimate comes near the best so far, the best first;
- those of which one is among the likeliest faults and acts on the other, whatever the estimate:
  where faults act on each other it may be far off;
- those of which both are among the likely faults.

One fault of two that show is nearly always among the likeliest few by itself, since hardly any
other explains as much. What is solved for is tried at a grid of ohms, then nearer and nearer the
best, and kept if a bound on its likelihood (``settled.py``) comes near the best likelihood so far,
which is worked out exactly. Pairs are taken a slice at a time, so that no more is in memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from faultfinder.diagnosis.alone import alone
from faultfinder.diagnosis.estimates import Estimates
from faultfinder.diagnosis.family import Family, Reader
from faultfinder.diagnosis.likelihood import Indices, Jury
from faultfinder.diagnosis.nine import Nine, over
from faultfinder.diagnosis.settled import Settled
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Floats
from faultfinder.network.branch import MakeEdit, in_turn

_BEHIND_NATS = 16.0  # so far behind, the ohms' prior cannot make up for it
_MOST_NUMBERS = 200_000  # in one array
_FIRST = 32  # pairs that are settled before any other
_GROWN = 8  # times as many then, each time
_LIKELIEST = 4  # faults that are paired with all they act on
_DOUBT_NATS = 25.0  # that an estimate may be short of what it is of
_MOST_SETTLED = 2_000  # pairs that come near, where nothing explains the readings and very many do
_SLICE = 2_000_000  # numbers of a slice, nine solutions each
_MOST_POLISHED = 100  # pairs of one slice
_WEIGHED_FIRST = 4  # pairs of one slice that may lead
_EVENLY = 9  # ohms of a grid
_ZOOM = np.linspace(-1.0, 1.0, 5)
_WIDE = 4.0  # times the scatter, so that tops are broad enough for a grid
# Of ln ohms, and times the scatter; then with shared errors settled.
_REACHES = ((1.0, 4.0), (0.7, 2.0), (0.4, 1.0))
_NEAR_REACHES = ((0.4, 1.0), (0.3, 1.0), (0.15, 1.0), (0.07, 1.0), (0.03, 1.0))


@dataclass(frozen=True, slots=True)
class Partners:
    """Two families by number that together may have made the readings, and their likeliest ohms.

    ``score`` is what the log likelihood there cannot exceed, with both priors.
    """

    first: int
    second: int
    r_ohm: tuple[float, float]
    score: float


def partners(
    bench: Bench,
    jury: Jury,
    settled: Settled,
    families: Sequence[Family],
    among: Indices,
    leader: float,
) -> list[Partners]:
    """Return the pairs of families that may explain the readings, the best first.

    Parameters
    ----------
    bench, jury
        What is read and by what it is judged.
    settled : Settled
        Bounds on the likelihood, by all readings of the jury.
    families : sequence of Family
        Who may pair.
    among : ndarray of int, shape (n, 2)
        The pairs to search.
    leader : float
        Log likelihood, with its prior, of what is to be matched.
    """
    search = _Search(bench, jury, settled, families, leader)
    search.sift(among)
    return sorted((p for p in search.found if p.score > search.enough), key=lambda p: -p.score)


class _Search:
    """A search under way: the leader's score, and the pairs found."""

    def __init__(
        self,
        bench: Bench,
        jury: Jury,
        settled: Settled,
        families: Sequence[Family],
        leader: float,
    ) -> None:
        self.bench, self.jury, self.families, self.leader = bench, jury, families, leader
        self.found: list[Partners] = []
        self.log_prior = np.array([family.log_prior for family in families])
        self.has_ohms = np.array([family.ohms is not None for family in families])
        self.ln_ohms = np.log([family.ohms or (1.0, 1.0) for family in families])
        every = sorted(index for indices, _, _ in bench.plain() for index in indices)
        self.reader = Reader(bench, families, every)
        self.alone = alone(bench, families, self.reader, every)
        # Readings that are not looked at here are taken at their best.
        self.settled = settled.only(every)
        self._at_likeliest = self.settled.at_likeliest()
        self.estimates = Estimates(
            self.settled, self.alone, self.ln_ohms, self.log_prior
        )
        low, high = self.estimates.telling(self.ln_ohms).T
        evenly = np.linspace(low, high, _EVENLY, axis=1)
        self.grids = np.concatenate([self.estimates.ln_ohms, evenly], axis=1)

    @property
    def enough(self) -> float:
        """What a pair has to reach to matter."""
        return self.leader - _BEHIND_NATS

    def sift(self, among: Indices) -> None:
        """Find what may explain the readings among pairs, more at a time the farther behind.

        The first are those with one of the likely faults, so that what the others have to reach is
        known before they are looked at.
        """
        likely = np.zeros(len(self.families), dtype=bool)
        likely[self.estimates.likely] = True
        has_likely = likely[among].any(axis=1)
        prior = self.prior(among)
        about = np.full(len(among), -np.inf)
        about[has_likely] = self.estimates.of(among[has_likely]) + prior[has_likely]
        first = _best(about, _FIRST)
        self._settle(among[first])
        rest = np.flatnonzero(~has_likely)
        near = self.enough - _DOUBT_NATS
        about[rest] = self.estimates.of(among[rest], near - prior[rest]) + prior[rest]
        about[first] = -np.inf
        wanted = self._wanted(among, about)
        start, count = 0, _GROWN * _FIRST
        most = max(1, _SLICE // (9 * len(self.alone.sound)))
        while start < len(wanted):
            self._settle(among[wanted[start : start + count]])
            start, count = start + count, min(_GROWN * count, most)

    def _wanted(self, among: Indices, about: Floats) -> Indices:
        """Return which pairs to solve for, the best first."""
        first, likely = (np.zeros(len(self.families), dtype=bool) for _ in range(2))
        first[self.estimates.likely[:_LIKELIEST]] = likely[self.estimates.likely] = True
        surely = likely[among].all(axis=1)
        some = np.flatnonzero(first[among].any(axis=1))
        surely[some] |= ~self.alone.adds_up(among[some])
        surely &= np.isfinite(about)
        near = np.flatnonzero(~surely & (about > self.enough - _DOUBT_NATS))
        surely[near[_best(about[near], _MOST_SETTLED)]] = True
        wanted = np.flatnonzero(surely)
        return wanted[_best(about[wanted], len(wanted))]

    def prior(self, pairs: Indices) -> Floats:
        """Return log priors of pairs (n, 2)."""
        return np.asarray(self.log_prior[pairs].sum(axis=1))

    def _settle(self, among: Indices) -> None:
        """Find the likeliest ohms of pairs, those left behind on the way left out."""
        nine = Nine(self.reader, self.alone, self.has_ohms, among)
        low, high = nine.range()
        enough = self.enough - self.prior(among)
        left = np.flatnonzero(self.settled.within(low, high, enough) > enough)
        among, nine = among[left], nine.all_of(left)
        x, about = self._best_of_grid(among, nine)
        for reaches, closely in ((_REACHES, False), (_NEAR_REACHES, True)):
            order = np.argsort(-about, kind="stable")[:_MOST_POLISHED]
            order = order[about[order] > self.enough - _DOUBT_NATS]
            among, nine = among[order], nine[order]
            x, about = self._polished(among, nine, x[order], reaches, closely=closely)
        self._note(among, x, about)

    def _best_of_grid(self, among: Indices, nine: Floats) -> tuple[Floats, Floats]:
        """Return the ohms of a grid that suit pairs best, (n, 2), and estimates there, (n,)."""
        x = np.zeros((len(among), 2))
        about = np.empty(len(among))
        one, other = (self.grids[among[:, place]] for place in (0, 1))
        counts = self.has_ohms[among]
        for first in (False, True):
            for second in (False, True):
                rows = np.flatnonzero((counts[:, 0] == first) & (counts[:, 1] == second))
                k, m = (self.grids.shape[1] if has else 1 for has in (first, second))
                step = max(1, _MOST_NUMBERS // (k * m * nine.shape[-1]))
                for start in range(0, len(rows), step):
                    some = rows[start : start + step]
                    a, b = one[some, :k], other[some, :m]
                    read = over(nine[some], np.exp(a), np.exp(b))
                    read = read.reshape(len(some), k * m, -1)
                    each = np.arange(len(some))
                    best = self.settled.each_cost(read, _WIDE).sum(axis=-1).argmin(axis=1)
                    cost = self.settled.each_cost(read[each, best], _WIDE).sum(axis=-1)
                    about[some] = self.estimates.peak - cost
                    x[some] = np.stack([a[each, best // m], b[each, best % m]], axis=1)
        return x, about + self.prior(among)

    def _note(self, among: Indices, x: Floats, scores: Floats) -> None:
        """Note pairs at their likeliest ln ohms, and who leads now."""
        ohms = np.exp(x).tolist()
        found = [
            Partners(i, j, (r_ohm, s_ohm), score)
            for (i, j), (r_ohm, s_ohm), score in zip(
                among.tolist(), ohms, scores.tolist(), strict=True
            )
            if score > self.enough
        ]
        self.found += found
        first = sorted(found, key=lambda p: -p.score)[:_WEIGHED_FIRST]
        first = [p for p in first if p.score > self.leader]
        if first:
            edits = [in_turn(self._edits(p)) for p in first]
            lean = self.bench.lean(edits)
            logs = self.jury.weigh(lean.read, self.jury.spread(lean)).log
            logs += self.prior(np.array([(p.first, p.second) for p in first]))
            self.leader = max(self.leader, float(logs.max()))

    def _edits(self, pair: Partners) -> list[MakeEdit]:
        both = zip((pair.first, pair.second), pair.r_ohm, strict=True)
        return [self.families[number].way.edit(r_ohm) for number, r_ohm in both]

    def _polished(
        self,
        among: Indices,
        nine: Floats,
        x: Floats,
        reaches: Sequence[tuple[float, float]],
        *,
        closely: bool,
    ) -> tuple[Floats, Floats]:
        """Return the likeliest ln ohms near ``x`` (n, 2), and scores there, (n,).

        Of each reach, with scatter so many times; ``closely`` with shared errors settled.
        """
        x, scores, prior = x.copy(), np.empty(len(x)), self.prior(among)
        enough = self.enough - prior - _DOUBT_NATS

        def score(read: Floats, some: Indices, wide: float) -> Floats:
            if closely:
                return self._at_likeliest.at_most(read, enough[some, None])
            cost = self.settled.each_cost(read, wide)
            return np.asarray(self.estimates.peak - cost.sum(axis=-1))

        ends, is_open = self.ln_ohms[among], self.has_ohms[among]
        for pattern in np.unique(is_open, axis=0):
            rows = np.flatnonzero((is_open == pattern).all(axis=1))
            one, other = (_ZOOM if has else _ZOOM[:1] * 0.0 for has in pattern)
            count = len(one) * len(other)
            step = max(1, _MOST_NUMBERS // (count * nine.shape[-1]))
            for start in range(0, len(rows), step):
                some = rows[start : start + step]
                each = np.arange(len(some))
                for reach, wide in reaches if pattern.any() else ():
                    tried = [
                        np.clip(
                            x[some, place, None] + reach * zoom, *ends[some, place].T[..., None]
                        )
                        for place, zoom in enumerate((one, other))
                    ]
                    read = over(nine[some], np.exp(tried[0]), np.exp(tried[1]))
                    read = read.reshape(len(some), count, -1)
                    best = score(read, some, wide).argmax(axis=1)
                    x[some, 0] = tried[0][each, best // len(other)]
                    x[some, 1] = tried[1][each, best % len(other)]
                read = over(nine[some], np.exp(x[some, :1]), np.exp(x[some, 1:]))[:, 0, 0]
                scores[some] = self.settled.at_most(read, enough[some])
        return x, scores + prior


def _best(about: Floats, count: int) -> Indices:
    """Return the places of so many of the highest, the highest first."""
    return np.argsort(-about, kind="stable")[:count]
