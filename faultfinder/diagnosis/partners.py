"""Which two faults together can have made the readings: chosen by what the readings allow.

Pairs are far too many to solve for. All are estimated from what either fault does alone
(``estimates.py``), which is exact for most but for the ohms in between. Solved for are then

- those whose estimate comes near the best so far, the best first;
- those of which one is among the likeliest faults and acts on the other, whatever the estimate:
  where faults act on each other it may be far off;
- those of which both are among the likely faults.

One fault of two that show is nearly always among the likeliest few by itself, since hardly any
other explains as much. Of each pair the corners of its ohms are solved for, and left are those of
which a bound (``settled.py``) on the likelihood anywhere between comes near the best likelihood so
far, which is worked out exactly. Of those the likeliest ohms are found (``tops.py``), and what is
bounded as near there is kept. Pairs are taken a slice at a time, so that no more is in memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from faultfinder.diagnosis.alone import alone
from faultfinder.diagnosis.estimates import Estimates
from faultfinder.diagnosis.family import Family, Reader
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.nine import Nine
from faultfinder.diagnosis.settled import Settled
from faultfinder.diagnosis.tops import Tops
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Flags, Floats, Indices
from faultfinder.network.branch import MakeEdit, in_turn

_BEHIND_NATS = 16.0  # so far behind, the ohms' prior cannot make up for it
_FIRST = 32  # pairs that are settled before any other
_GROWN = 8  # times as many then, each time
_LIKELIEST = 4  # faults that are paired with all they act on
_DOUBT_NATS = 25.0  # that an estimate may be short of what it is of
_MOST_SETTLED = 2_000  # pairs that come near, where nothing explains the readings and very many do
_SLICE = 4_000_000  # numbers of a slice, nine solutions each
_MOST_NARROWED = 600  # pairs of one slice, at ohms of a grid
_MOST_POLISHED = 300  # pairs of one slice, at their likeliest ohms
_ANEW_NATS = 40.0  # from where on bounds found with another leader are no longer good
_WEIGHED_FIRST = 4  # pairs of one slice that may lead
_EVENLY = 9  # ohms of a grid
_TELLING = 60  # readings that ohms of a grid are told by


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
        self._every = every
        self._lean(settled)

    def _lean(self, settled: Settled) -> None:
        """Get ready to search with these bounds."""
        self.found = []
        self._bounds, self._leader_then = settled, self.leader
        self._read, self._spread = (each[0] for each in settled.leaning)
        # Readings that are not looked at here are taken at their best.
        self.settled = settled.only(self._every)
        self.estimates = Estimates(self.settled, self.alone, self.ln_ohms, self.log_prior)
        low, high = self.estimates.telling(self.ln_ohms).T
        evenly = np.linspace(low, high, _EVENLY, axis=1)
        self.grids = np.concatenate([self.estimates.ln_ohms, evenly], axis=1)
        self.tops = Tops(self.settled, self.estimates.order[:_TELLING].tolist())

    @property
    def enough(self) -> float:
        """What a pair has to reach to matter."""
        return self.leader - _BEHIND_NATS

    def sift(self, among: Indices) -> None:
        """Find what may explain the readings among pairs.

        Bounds take shared errors to be as those lead to that lead. Where a pair is found that is
        far likelier than these, all is bounded anew.
        """
        while not self._sifted(among):
            self._lean(self._bounds.led_by(self._read, self._spread))

    def _sifted(self, among: Indices) -> bool:
        """Find what may explain the readings, more at a time the farther behind.

        The first are those with one of the likely faults, so that what the others have to reach is
        known before they are looked at. Returns whether the bounds were good to the end.
        """
        has_likely = self._among(self.estimates.likely)[among].any(axis=1)
        prior = self.prior(among)
        about = np.full(len(among), -np.inf)
        about[has_likely] = self.estimates.of(among[has_likely]) + prior[has_likely]
        first = _best(about, _FIRST)
        self._settle(among[first])
        if self._far_ahead:
            return False
        rest = np.flatnonzero(~has_likely)
        near = self.enough - _DOUBT_NATS
        about[rest] = self.estimates.of(among[rest], near - prior[rest]) + prior[rest]
        about[first] = -np.inf
        wanted = self._wanted(among, about)
        start, count = 0, _GROWN * _FIRST
        most = max(1, _SLICE // (9 * len(self.alone.sound)))
        while start < len(wanted) and not self._far_ahead:
            self._settle(among[wanted[start : start + count]])
            start, count = start + count, min(_GROWN * count, most)
        return not self._far_ahead

    @property
    def _far_ahead(self) -> bool:
        """Whether who leads now is far likelier than who did when bounds were found."""
        return self.leader > self._leader_then + _ANEW_NATS

    def _wanted(self, among: Indices, about: Floats) -> Indices:
        """Return which pairs to solve for, the best first."""
        likely = self.estimates.likely
        surely = np.asarray(self._among(likely)[among].all(axis=1))
        some = np.flatnonzero(self._among(likely[:_LIKELIEST])[among].any(axis=1))
        surely[some] |= ~self.alone.adds_up(among[some])
        surely &= np.isfinite(about)
        near = np.flatnonzero(~surely & (about > self.enough - _DOUBT_NATS))
        surely[near[_best(about[near], _MOST_SETTLED)]] = True
        wanted = np.flatnonzero(surely)
        return wanted[_best(about[wanted], len(wanted))]

    def _among(self, those: Indices) -> Flags:
        """Return for each family whether it is one of those."""
        found = np.zeros(len(self.families), dtype=bool)
        found[those] = True
        return found

    def prior(self, pairs: Indices) -> Floats:
        """Return log priors of pairs (n, 2)."""
        return np.asarray(self.log_prior[pairs].sum(axis=1))

    def _settle(self, among: Indices) -> None:
        """Find the likeliest ohms of pairs, those left behind on the way left out."""
        corners = Nine(self.reader, self.alone, self.has_ohms, among)
        enough = self.enough - self.prior(among)
        left = np.flatnonzero(self.settled.within(*corners.range(), enough) > enough)
        among, nine = among[left], corners.all_of(left)
        tops, peak, prior = self.tops, self.estimates.peak, self.prior(among)
        x, cost = tops.of_grid(nine, self.grids[among[:, 0]], self.grids[among[:, 1]])
        left = self._near(peak - cost + prior, _MOST_NARROWED)
        among, nine, prior = among[left], nine[left], prior[left]
        x, most = tops.narrowed(nine, x[left], self.ln_ohms[among])
        left = self._near(most + prior, _MOST_POLISHED)
        among, nine, prior = among[left], nine[left], prior[left]
        enough = self.enough - prior - _DOUBT_NATS
        x, most = tops.closely(nine, x[left], self.ln_ohms[among], enough)
        self._note(among, x, most + prior)

    def _near(self, about: Floats, most: int) -> Indices:
        """Return so many at most of what may still matter, by estimates of it."""
        order = _best(about, most)
        return order[about[order] > self.enough - _DOUBT_NATS]

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
            spread = self.jury.spread(lean)
            logs = self.jury.weigh(lean.read, spread).log
            logs += self.prior(np.array([(p.first, p.second) for p in first]))
            best = logs.argmax()
            if logs[best] > self.leader:
                self.leader = float(logs[best])
                self._read, self._spread = lean.read[best], spread[best]

    def _edits(self, pair: Partners) -> list[MakeEdit]:
        both = zip((pair.first, pair.second), pair.r_ohm, strict=True)
        return [self.families[number].way.edit(r_ohm) for number, r_ohm in both]


def _best(about: Floats, count: int) -> Indices:
    """Return the places of so many of the highest, the highest first."""
    return np.argsort(-about, kind="stable")[:count]
