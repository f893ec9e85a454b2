"""Which two faults together can have made the readings: searched by bounds, never by luck.

Pairs are far too many to weigh, and most can be refuted by a few readings. What is left out here is
left out because a bound says so:

- a reading that neither of two faults alone moves, at any ohms, both leave as a sound circuit
  gives it (the current through the leads passes the ports of neither), so that one that is off
  stays unexplained;
- readings rise with every branch's ohms (Rayleigh), so that those of a pair at both ends of what
  their ohms may be hold between them those of all ohms within; a pair no reading of which comes
  nearer than that is refuted, and is so by the first few readings as well as by all;
- ohms are narrowed down in the same way, by halves.

In each of two ohms alone a reading is a ratio of two straight lines, so that nine solutions of a
pair give it for all ohms of both.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from faultfinder.diagnosis.catalogue import Way, no_edit
from faultfinder.diagnosis.likelihood import Indices, Jury
from faultfinder.diagnosis.screen import MIDDLE_OHM, Curves
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Flags, Floats
from faultfinder.network.branch import Edit, MakeEdit, Network, Probe, edited, in_turn
from faultfinder.network.pairs import PairScreen

_ENDS_OHM = (0.0, MIDDLE_OHM, float("inf"))
_BEHIND_NATS = 16.0  # so far behind, shared errors and the ohms' prior cannot make up for it
_FIRST_READINGS = 12  # that all pairs are held against
_BOX_READINGS = 24  # that ohms are narrowed down by
_MOST_LOSS = 20.0  # nats beyond which a family needs no more refuting
_TELLING = 8.0  # nats one reading may count for when the first are chosen
_MOST_NUMBERS = 100_000  # in one array, so that it stays in cache
# Where nothing explains the readings, bounds refute nothing either: so many are looked at then.
_MOST_SETTLED = 5_000  # pairs
_MOST_BOXES = 20_000  # ranges of their ohms
_NARROW = 0.4  # of ln ohms: boxes that are not halved any more
_POLISHED_EARLY = 16  # boxes, to know the leader
_MOST_POLISHED = 300
_ZOOM = np.linspace(-1.0, 1.0, 7)
_ZOOMS = (0.25, 0.08, 0.025, 0.008)  # of ln ohms, half the reach of each round
_UNMOVED = 1e-6  # relative change of a reading that is but rounding


@dataclass(frozen=True, slots=True)
class Family:
    """One way of a fault, as a partner of another.

    Attributes
    ----------
    way : Way
        How it is built.
    ohms : (float, float) or None
        Range of its ohms, where they are open. [ohm]
    log_prior : float
        Logarithm of its prior chance, that of the way included.
    """

    way: Way
    ohms: tuple[float, float] | None
    log_prior: float

    def end(self, which: int) -> int:
        """Return which of the three ends it has stands for one of them."""
        return which if self.ohms else 0


@dataclass(frozen=True, slots=True)
class Partners:
    """Two families by number that together may have made the readings, and their likeliest ohms.

    ``score`` is the quick log likelihood there, with both priors.
    """

    first: int
    second: int
    r_ohm: tuple[float, float]
    score: float


def partners(
    bench: Bench,
    jury: Jury,
    families: Sequence[Family],
    promising: Sequence[int],
    among: Indices,
    leader: float,
) -> list[Partners]:
    """Return the pairs of families that may explain the readings, the best first.

    Parameters
    ----------
    bench, jury
        What is read and by what it is judged.
    families : sequence of Family
        Who may pair.
    promising : sequence of int
        Families to look at first, with all others: what they find spares looking at the rest.
    among : ndarray of int, shape (n, 2)
        The pairs to search.
    leader : float
        Quick log likelihood, with its prior, of what is to be matched.
    """
    search = _Search(bench, jury, families, leader)
    early = np.isin(among, promising).any(axis=1)
    search.sift(among[early], few=False)
    search.sift(among[~early], few=True)
    least = search.leader - _BEHIND_NATS
    return sorted((p for p in search.found if p.score > least), key=lambda p: -p.score)


class _Search:
    """A search under way: the leader's score, and the pairs found."""

    def __init__(self, bench: Bench, jury: Jury, families: Sequence[Family], leader: float) -> None:
        self.bench, self.families, self.leader = bench, families, leader
        self.found: list[Partners] = []
        self.log_prior = np.array([family.log_prior for family in families])
        self.ln_ohms = np.log([family.ohms or (1.0, 1.0) for family in families])
        self.all = sorted(index for indices, _, _ in bench.plain() for index in indices)
        self.jury = jury.only(self.all)
        # Readings that are not looked at here are taken at their best.
        most = jury.at_most_each(jury.observed.value, jury.observed.value)
        self.elsewhere = float(np.delete(most, self.all).sum())
        self.most = most[self.all]
        self.reader = _Reader(bench, families, self.all)
        self._look_alone()

    def _look_alone(self) -> None:
        """Note what each family moves by itself, and how far it is from each reading at best."""
        edits = [f.way.edit(r) for f in self.families for r in (_ENDS_OHM[0], _ENDS_OHM[-1])]
        read = self.bench.glimpse([no_edit, *edits])[:, self.all]
        sound, one, other = read[0], read[1::2], read[2::2]
        with np.errstate(invalid="ignore"):
            near = np.abs(read - sound) <= _UNMOVED * sound
        same = (read == sound) | (np.isfinite(sound) & near)
        self.moved = ~(same[1::2] & same[2::2])
        self.sound = self.jury.glance_each(sound)
        low, high = np.minimum(one, other), np.maximum(one, other)
        self.loss = np.maximum(self.most - self.jury.at_most_each(low, high), 0.0)

    def sift(self, among: Indices, *, few: bool) -> None:
        """Find what may explain the readings among pairs, held against a few readings first."""
        kept = among[self._covering(among) > self.leader - _BEHIND_NATS]
        if few and len(self.all) > 2 * _FIRST_READINGS:
            telling = self._telling(_FIRST_READINGS)
            reader = _Reader(self.bench, self.families, [self.all[i] for i in telling])
            others = self.elsewhere + float(np.delete(self.most, telling).sum())
            bounds = self._bounds(kept, reader, self.jury.only(telling)) + others
            kept = kept[bounds > self.leader - _BEHIND_NATS]
        # Pairs without ohms need no search: the leader they give spares searching many with.
        open_ohms = np.array([family.ohms is not None for family in self.families])[kept].sum(1)
        self._score(kept[open_ohms == 0])
        for number in (1, 2):
            some = kept[open_ohms == number]
            bounds = self._bounds(some, self.reader, self.jury) + self.elsewhere
            self._settle(some[self._worth_it(bounds, _MOST_SETTLED)])

    def _worth_it(self, bounds: Floats, most: int) -> Indices:
        """Return which bounds leave a chance; the highest, where they are hopelessly many."""
        order = np.argsort(-bounds, kind="stable")[:most]
        return order[bounds[order] > self.leader - _BEHIND_NATS]

    def _covering(self, among: Indices) -> Floats:
        """Return what pairs cannot exceed by which readings they leave alone."""
        gain = np.maximum(self.most - self.sound, 0.0)
        moved = self.moved.astype(np.float64)
        each = moved @ gain
        both = (moved * gain) @ moved.T
        i, j = among.T
        whole = float(self.sound.sum()) + self.elsewhere
        bound = whole + each[i] + each[j] - both[i, j] + self.log_prior[i] + self.log_prior[j]
        # Faults at one place act on each other in ways that neither shows alone.
        return np.asarray(np.where(self.reader.touching(among), np.inf, bound))

    def _telling(self, count: int) -> list[int]:
        """Return the readings that refute most families by themselves, few of them twice."""
        loss = np.minimum(self.loss, _TELLING)
        so_far = np.zeros(len(loss))
        chosen: list[int] = []
        for _ in range(min(count, len(self.all))):
            gain = np.minimum(so_far[:, None] + loss, _MOST_LOSS).sum(axis=0)
            gain[chosen] = -1.0
            chosen.append(int(gain.argmax()))
            so_far += loss[:, chosen[-1]]
        return sorted(chosen)

    def _bounds(self, among: Indices, reader: "_Reader", jury: Jury) -> Floats:
        """Return what pairs cannot exceed at any ohms, by the readings of a reader."""
        bounds: Floats = self.log_prior[among].sum(axis=1)
        low = reader.read(among, 0, 0)
        high = reader.read(among, 2, 2)
        step = max(1, _MOST_NUMBERS // max(1, low.shape[1]))
        for i in range(0, len(among), step):
            some = slice(i, i + step)
            ends = low[some], high[some]
            bounds[some] += jury.at_most(np.minimum(*ends), np.maximum(*ends))
        return bounds

    def _score(self, among: Indices) -> None:
        """Find which pairs without ohms explain the readings."""
        scores = self.log_prior[among].sum(axis=1) + self.elsewhere
        read = self.reader.read(among, 0, 0)
        step = max(1, _MOST_NUMBERS // max(1, read.shape[1]))
        for i in range(0, len(among), step):
            scores[i : i + step] += self.jury.glance(read[i : i + step])
        self.leader = max(self.leader, float(scores.max(initial=-np.inf)))
        self.found += [
            Partners(int(among[n, 0]), int(among[n, 1]), (0.0, 0.0), float(scores[n]))
            for n in self._worth_it(scores, _MOST_POLISHED).tolist()
        ]

    def _settle(self, among: Indices) -> None:
        """Find the likeliest ohms of pairs, those left behind on the way left out."""
        if not len(among):
            return
        grids = np.stack(
            [np.stack([self.reader.read(among, i, j) for i in range(3)], 1) for j in range(3)], 1
        )
        boxes: _Boxes | None = _Boxes(np.arange(len(among)), self.ln_ohms[among])
        telling = self._telling(_BOX_READINGS)
        while boxes is not None:
            bounds = self._box_bounds(among, grids, boxes, telling)
            self._know_the_leader(among, grids, boxes, bounds)
            kept = boxes.only(self._worth_it(bounds, _MOST_BOXES))
            boxes = kept.halved()
        bounds = self._box_bounds(among, grids, kept, range(len(self.all)))
        order = np.argsort(-bounds, kind="stable")[:_MOST_POLISHED]
        x, scores = self._polished(among, grids, kept.only(order))
        best: dict[int, Partners] = {}
        for pair, ln_ohms, score in zip(kept.pair[order].tolist(), x, scores.tolist(), strict=True):
            if pair not in best or best[pair].score < score:
                i, j = among[pair].tolist()
                r_ohm = float(np.exp(ln_ohms[0])), float(np.exp(ln_ohms[1]))
                best[pair] = Partners(i, j, r_ohm, score)
        self.found += best.values()

    def _know_the_leader(
        self, among: Indices, grids: Floats, boxes: "_Boxes", bounds: Floats
    ) -> None:
        early = np.argsort(-bounds, kind="stable")[:_POLISHED_EARLY]
        scores = self._polished(among, grids, boxes.only(early))[1]
        self.leader = max(self.leader, float(scores.max(initial=-np.inf)))

    def _box_bounds(
        self, among: Indices, grids: Floats, boxes: "_Boxes", readings: Sequence[int]
    ) -> Floats:
        """Return what pairs cannot exceed in boxes of their ohms, by some of the readings."""
        jury, grids = self.jury.only(readings), grids[..., readings]
        others = self.elsewhere + float(np.delete(self.most, readings).sum())
        bounds = np.empty(len(boxes.pair))
        step = max(1, _MOST_NUMBERS // (9 * len(readings)))
        for i in range(0, len(bounds), step):
            some = slice(i, i + step)
            pair, box = boxes.pair[some], boxes.ln_ohms[some]
            ends = [_at(grids[pair], np.exp(box[:, :, None, end]))[:, 0] for end in (0, 1)]
            bounds[some] = jury.at_most(np.minimum(*ends), np.maximum(*ends))
        return np.asarray(bounds + others + self.log_prior[among[boxes.pair]].sum(axis=1))

    def _polished(self, among: Indices, grids: Floats, boxes: "_Boxes") -> tuple[Floats, Floats]:
        """Return the likeliest ln ohms in and about boxes, one ohms at a time, and scores there."""
        x = boxes.ln_ohms.mean(axis=2)
        scores = np.full(len(x), -np.inf)
        half = np.ptp(boxes.ln_ohms, axis=2) / 2
        step = max(1, _MOST_NUMBERS // (9 * len(_ZOOM) * grids.shape[-1]))
        for start in range(0, len(x), step):
            some = slice(start, start + step)
            grid = grids[boxes.pair[some]]
            reach = half[some].copy()
            for zoom in (None, *_ZOOMS, *_ZOOMS[-2:]):
                for one in (0, 1):
                    wide = reach[:, one] if zoom is None else np.minimum(reach[:, one], zoom)
                    tried = np.repeat(x[some][:, :, None], len(_ZOOM), axis=2)
                    tried[:, one] += wide[:, None] * _ZOOM
                    each = self.jury.glance(_at(grid, np.exp(tried)))
                    top = each.argmax(axis=1)
                    rows = np.arange(len(top))
                    x[some][rows, one] = tried[rows, one, top]
                    scores[some] = each[rows, top]
        ends = self.ln_ohms[among[boxes.pair]]
        x = np.clip(x, ends[..., 0], ends[..., 1])
        return x, scores + self.elsewhere + self.log_prior[among[boxes.pair]].sum(axis=1)


def _at(grids: Floats, r_ohm: Floats) -> Floats:
    """Return readings (n, k, r) at k ohms of both families, (n, 2, k), from nine, (n, 3, 3, r)."""
    along = [Curves(grids[:, j]).at(r_ohm[:, 0]) for j in range(3)]
    ends = np.stack(along, axis=2)
    n, k, _, r = ends.shape
    flat = Curves(ends.reshape(n * k, 3, r)).at(r_ohm[:, 1].reshape(n * k, 1))
    return flat.reshape(n, k, r)


@dataclass(frozen=True, slots=True)
class _Boxes:
    """Ranges of the ohms of pairs: which pair (n,), and ends of ln ohms (n, 2, 2)."""

    pair: Indices
    ln_ohms: Floats

    def only(self, which: Indices | Flags) -> "_Boxes":
        """Return some of the boxes."""
        return _Boxes(self.pair[which], self.ln_ohms[which])

    def halved(self) -> "_Boxes | None":
        """Return the halves of what is not narrow yet, both ways; None if all are."""
        boxes = self
        for one in (0, 1):
            wide = np.ptp(boxes.ln_ohms[:, one], axis=1) > _NARROW
            middle = boxes.ln_ohms[:, one].mean(axis=1)
            low, high = boxes.ln_ohms.copy(), boxes.ln_ohms[wide].copy()
            low[wide, one, 1] = middle[wide]
            high[:, one, 0] = middle[wide]
            pair = np.concatenate([boxes.pair, boxes.pair[wide]])
            boxes = _Boxes(pair, np.concatenate([low, high]))
        return boxes if len(boxes.pair) > len(self.pair) else None


class _Reader:
    """Reads pairs of families at ends of their ohms, some readings of a bench, in its units."""

    def __init__(self, bench: Bench, families: Sequence[Family], spots: Sequence[int]) -> None:
        self._bench, self._spots = bench, list(spots)
        self._makes: list[MakeEdit] = []
        self._row = np.zeros((len(families), 3), dtype=np.intp)
        for number, family in enumerate(families):
            for which, r_ohm in enumerate(_ENDS_OHM):
                if family.end(which) == which:
                    self._makes.append(family.way.edit(r_ohm))
                self._row[number, which] = len(self._makes) - 1
        self._screens: list[tuple[list[int], PairScreen]] = []
        for indices, network, probes in bench.plain():
            wanted = [
                (self._spots.index(i), p)
                for i, p in zip(indices, probes, strict=True)
                if i in set(spots)
            ]
            if wanted:
                columns = [column for column, _ in wanted]
                screen = self._screen(network, [probe for _, probe in wanted])
                self._screens.append((columns, screen))

    def _screen(self, network: Network, probes: Sequence[Probe]) -> PairScreen:
        edits = [make(network) for make in self._makes]

        def composed(i: int, j: int) -> Edit:
            return {**edits[i], **self._makes[j](edited(network, edits[i]))}

        return PairScreen(network, probes, edits, composed)

    def touching(self, among: Indices) -> Flags:
        """Return which pairs touch a branch in common."""
        i, j = self._row[among, 0].T
        touching = [screen.touching[i, j] for _, screen in self._screens]
        return np.asarray(np.any(touching, axis=0))

    def read(self, among: Indices, first: int, second: int) -> Floats:
        """Return readings of pairs at one of the three ends of either's ohms."""
        rows = np.stack([self._row[among[:, 0], first], self._row[among[:, 1], second]], axis=1)
        out = np.empty((len(among), len(self._spots)))
        for columns, screen in self._screens:
            quick = screen.read(rows)
            out[:, columns] = quick.read / self._bench.unit_size[[self._spots[c] for c in columns]]
            doubtful = np.flatnonzero(~quick.good.all(axis=1))
            if doubtful.size:
                edits = [
                    in_turn([self._makes[i], self._makes[j]]) for i, j in rows[doubtful].tolist()
                ]
                exact = self._bench.read(edits)[:, self._spots]
                for row, number in enumerate(doubtful.tolist()):
                    out[number, columns] = exact[row, columns]
        return out
