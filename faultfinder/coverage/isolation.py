"""Which faults a plan's readings cannot tell from one another.

The bound is that of ``diagnosis.groups``: two faults are told apart when, if one were there, the
readings would be expected to speak for it against the other by more than half a natural unit of
log likelihood, ½ dᵀ C⁻¹ d with C the covariance under the true one, the other given every way and
whatever ohms suit it best. An open that one makes and the other does not counts as a slip.

A circuit has hundreds of families, and pairs of samples and families are far too many to weigh
outright. Three looks thin them out, each cheaper than the next: what one visibly moves the other
has to move too; the ohms that the most telling reading asks for have to suit every other reading;
what is left is weighed with shared errors, its ohms settled by one Gauss-Newton step.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import log

import numpy as np

from faultfinder.coverage.lineup import SAMPLES, Lineup, Samples
from faultfinder.coverage.power import scatter_of
from faultfinder.diagnosis.groups import BOUND_NATS
from faultfinder.evidence.lean import Flags, Floats, Indices

_VISIBLE_SD = 3.0  # beyond this a reading's move has to be shared
_NIL_SD = 0.1  # below this a family does not move a reading
_NEAR = 4.0  # of the bound: one reading alone may say so much before the ohms are settled
_HOPELESS_NATS = 12.0  # so far apart, better ohms do not bring two together
_MOST_GROWN = 3.0
_STEP = 1e-3  # of ln ohms, for slopes
_AT_ONCE = 2_000_000  # numbers in one array
_IN_CACHE = 250_000  # numbers in one array that is gone through several times


@dataclass(frozen=True)
class Isolation:
    """Samples of a lineup, and the families that each could be taken for.

    Attributes
    ----------
    lineup : Lineup
        The faults, and what would be read.
    spread, variance : ndarray, shapes (r, p) and (r,)
        Shared errors and scatter of the sound circuit's readings.
    samples : Samples
        What is really there, n of them.
    rows : ndarray of bool, shape (r,)
        The readings taken.
    """

    lineup: Lineup
    spread: Floats
    variance: Floats
    samples: Samples
    rows: Flags

    @cached_property
    def _numbers(self) -> Flags:
        """Which readings of each sample show a value, shape (n, r)."""
        return self.lineup.meter.shows_value(self.samples.read)

    @cached_property
    def _grown(self) -> Floats:
        """By how much each sample's shared errors exceed the sound circuit's, shape (n, r)."""
        sound, read = self.lineup.sound.read[0], self.samples.read
        both = np.isfinite(read) & np.isfinite(sound) & (sound > 0)
        ratio = np.where(both, read, 1.0) / np.where(both, sound, 1.0)
        return np.asarray(np.clip(ratio, 1.0, _MOST_GROWN))

    @cached_property
    def _own(self) -> Floats:
        """Scatter of each sample's readings, as a variance, shape (n, r)."""
        scatter = scatter_of(self.lineup)
        return np.asarray((scatter * self.lineup.meter.sd(self.samples.read)) ** 2)

    @cached_property
    def _whole(self) -> Floats:
        """Variance of each reading of each sample, shared errors included, shape (n, r)."""
        return np.asarray(self._own + (self.spread**2).sum(-1) * self._grown**2)

    def _scaled(self, read: Floats) -> Floats:
        return self.lineup.meter.scale(np.where(np.isfinite(read), read, 1.0))

    @cached_property
    def pairs(self) -> tuple[Indices, Indices, Floats]:
        """Samples, families that they could be taken for, and how far apart the two are. [nat]

        A pair may come more than once.
        """
        return self._told(self._candidates())

    def mistakable(self, families: Indices) -> bool:
        """Tell whether the first sample could be taken for any of some families."""
        sample = np.zeros(len(families), dtype=np.intp)
        return bool(len(self._told([(sample, families)])[0]))

    # -- first look ------------------------------------------------------------------------------

    def _candidates(self) -> Iterator[tuple[Indices, Indices]]:
        """Yield pairs of sample and family in which neither surely moves what the other does not.

        Families without ohms have one set of readings, held against each sample's; with ohms, a
        reading is as good as moved if it is at any of them.
        """
        lineup, rows = self.lineup, self.rows
        sound = lineup.sound.read[:1]
        visible = self._visible(self.samples.read, sound, _VISIBLE_SD) & rows
        sd = np.sqrt(self.variance + (self.spread**2).sum(-1))
        can = np.zeros((len(lineup.of), len(rows)), dtype=bool)
        for end in range(lineup.ends.shape[1]):
            can |= self._differs(lineup.ends[:, end], sound, sd, _NIL_SD)
        must = self._differs(lineup.ends[:, 0], sound, sd, _VISIBLE_SD) & rows
        must[lineup.ranged] = False
        moves = self._visible(self.samples.read, sound, _NIL_SD)
        step = max(1, _AT_ONCE // max(1, len(lineup.of)))
        for i in range(0, len(visible), step):
            some = slice(i, i + step)
            stray = visible[some].astype(np.float32) @ (~can).astype(np.float32).T
            stray += (~moves[some]).astype(np.float32) @ must.astype(np.float32).T
            sample, family = np.nonzero(stray == 0)
            sample += i
            share = max(1, _AT_ONCE // len(rows))
            for j in range(0, len(sample), share):
                yield sample[j : j + share], family[j : j + share]

    def _visible(self, read: Floats, other: Floats, least_sd: float) -> Flags:
        return self._differs(read, other, np.sqrt(self._whole), least_sd)

    def _differs(self, read: Floats, other: Floats, sd: Floats, least_sd: float) -> Flags:
        """Return where readings differ by so much, or one shows a value and the other open."""
        shown, others = self.lineup.meter.shows_value(read), self.lineup.meter.shows_value(other)
        off = np.abs(self._scaled(read) - self._scaled(other)) > least_sd * sd
        return np.asarray((shown != others) | (shown & others & off))

    # -- second look -----------------------------------------------------------------------------

    def _told(
        self, candidates: Iterable[tuple[Indices, Indices]]
    ) -> tuple[Indices, Indices, Floats]:
        """Return the pairs that the readings cannot tell apart, of some candidates."""
        near = [(np.zeros(0, np.intp), np.zeros(0, np.intp), np.zeros(0))]
        for sample, family in candidates:
            for some, ohms in self._worth_trying(sample, family):
                kept = self._alike_each(sample[some], family[some], ohms)
                near.append((sample[some][kept], family[some][kept], ohms[kept]))
        one, other, r_ohm = (np.concatenate(column) for column in zip(*near, strict=True))
        # Those of one sample together: they are weighed with one covariance.
        order = np.argsort(one, kind="stable")
        share = max(1, _IN_CACHE // len(self.rows))
        found = [(one[:0], other[:0], r_ohm[:0])]
        for i in range(0, len(order), share):
            some = order[i : i + share]
            found.append(self._weighed(one[some], other[some], r_ohm[some]))
        sample, family, nats = (np.concatenate(column) for column in zip(*found, strict=True))
        return sample, family, nats

    def _weighed(
        self, sample: Indices, family: Indices, r_ohm: Floats
    ) -> tuple[Indices, Indices, Floats]:
        """Return the pairs under the bound, samples rising, with how far apart they are. [nat]"""
        off, strays = self._between(sample, family, r_ohm)
        apart = off**2 > 2 * _NEAR * BOUND_NATS * self._whole[sample]
        kept = np.flatnonzero(~(strays | apart).any(axis=1))
        sample, family = sample[kept], family[kept]
        nats = self._nats(sample, family, r_ohm[kept], off[kept])
        kept = np.flatnonzero(nats < BOUND_NATS)
        return sample[kept], family[kept], nats[kept]

    def _worth_trying(self, sample: Indices, family: Indices) -> Iterator[tuple[Indices, Floats]]:
        """Yield some of the pairs, with ohms for each.

        Those that the sample's most moved reading asks for; where it asks for none, both ends.
        Live readings ask for none: there the range is gone through.
        """
        lineup = self.lineup
        low, high = lineup.low[family], lineup.high[family]
        whole = np.arange(len(sample))
        if lineup.bench.live.any():
            for share in (np.arange(SAMPLES) + 0.5) / SAMPLES:
                yield whole, np.exp(np.log(low) * (1 - share) + np.log(high) * share)
            return
        telling = self._off.argmax(axis=1)[sample]
        asked = lineup.curves.one_ohms_for(family, telling, self.samples.read[sample, telling])
        none = np.flatnonzero(np.isnan(asked))
        some = np.flatnonzero(~np.isnan(asked))
        yield some, np.clip(asked[some], low[some], high[some])
        yield none, low[none]
        yield none[lineup.ranged[family[none]]], high[none[lineup.ranged[family[none]]]]

    @cached_property
    def _off(self) -> Floats:
        """How far each reading of each sample is off, in standard deviations; -1 for no number."""
        sound = self.lineup.sound.read[:1]
        off = np.abs(self._scaled(self.samples.read) - self._scaled(sound)) / np.sqrt(self._whole)
        return np.where(self._numbers & self.lineup.meter.shows_value(sound) & self.rows, off, -1.0)

    @cached_property
    def _kinds(self) -> list[Indices]:
        """Readings by test, pair and whether the switch is on; live ones are left out."""
        kinds: dict[object, list[int]] = {}
        for column, spot in enumerate(self.lineup.spots):
            if self.rows[column] and not self.lineup.bench.live[column]:
                key = spot.test, spot.between, spot.switch == "off"
                kinds.setdefault(key, []).append(column)
        return [np.array(columns) for columns in kinds.values()]

    @cached_property
    def _reach(self) -> Floats:
        """How far each family can move each reading, shape (f, r)."""
        sound = self._scaled(self.lineup.sound.read[0])
        reach = np.zeros((len(self.lineup.of), len(sound)))
        for end in range(self.lineup.ends.shape[1]):
            read = self.lineup.ends[:, end]
            off = np.abs(self._scaled(read) - sound)
            reach = np.maximum(reach, np.where(self.lineup.meter.shows_value(read), off, np.inf))
        return reach

    def _alike_each(self, sample: Indices, family: Indices, r_ohm: Floats) -> Indices:
        """Return which pairs the most telling reading of each kind does not tell.

        Of each kind the one that the family moves most is asked, then the one the sample does.
        """
        kept = np.arange(len(sample))
        for of_family, of_sample in self._telling:
            reading = of_family[family[kept]]
            kept = kept[self._alike(sample[kept], family[kept], r_ohm[kept], reading)]
            reading = of_sample[sample[kept]]
            kept = kept[self._alike(sample[kept], family[kept], r_ohm[kept], reading)]
        return kept

    @cached_property
    def _telling(self) -> list[tuple[Indices, Indices]]:
        """The most telling reading of each kind for each family and for each sample."""
        return [
            (columns[self._reach[:, columns].argmax(1)], columns[self._off[:, columns].argmax(1)])
            for columns in self._kinds
        ]

    def _alike(self, sample: Indices, family: Indices, r_ohm: Floats, reading: Indices) -> Flags:
        """Return which pairs one reading each does not tell clearly apart."""
        meter = self.lineup.meter
        here = self.lineup.curves.one_at(family, reading, r_ohm)
        there = self.samples.read[sample, reading]
        shown = here <= np.sqrt(meter.top_low * meter.top_high)[reading]
        others = self._numbers[sample, reading]
        if meter.logarithmic.any():
            with np.errstate(invalid="ignore", divide="ignore"):
                logs = meter.logarithmic[reading], meter.shift[reading]
                here, there = (np.where(logs[0], np.log(v + logs[1]), v) for v in (here, there))
        with np.errstate(invalid="ignore"):
            near = (here - there) ** 2 <= 2 * _NEAR * BOUND_NATS * self._whole[sample, reading]
        return np.asarray((shown == others) & (near | ~shown))

    def _between(self, sample: Indices, family: Indices, r_ohm: Floats) -> tuple[Floats, Flags]:
        """Return how far readings of families lie from samples', nil where either is open.

        And where one of them is open and the other is not; each of shape (k, r).
        """
        read = self.lineup.read_at(family, r_ohm)
        shown, others = self._numbers[sample], self.lineup.meter.shows_value(read)
        off = self._scaled(read) - self._scaled(self.samples.read[sample])
        return np.where(shown & others & self.rows, off, 0.0), (shown != others) & self.rows

    # -- third look ------------------------------------------------------------------------------

    def _nats(self, sample: Indices, family: Indices, r_ohm: Floats, off: Floats) -> Floats:
        """Return the log likelihood ratio expected for each sample against a family, (k,).

        Samples rise; ``off`` is how far their readings lie apart, none of them open for one alone.
        Where the ratio is over the bound the family's ohms are moved from ``r_ohm`` to where a
        straight line says they suit best.
        """
        weights = self._weights(sample)
        apart = weights.of(sample, off)
        ratio = 0.5 * weights.product(apart, apart)
        doubtful = (ratio >= BOUND_NATS) & (ratio < _HOPELESS_NATS)
        over = np.flatnonzero(self.lineup.ranged[family] & doubtful)
        if over.size:
            one, other, r_ohm, apart = sample[over], family[over], r_ohm[over], apart[over]
            moved = self._between(one, other, r_ohm * (1 + _STEP))[0]
            slope = weights.of(one, (moved - off[over]) / _STEP)
            cross, bend = weights.product(apart, slope), weights.product(slope, slope)
            step = np.where(bend > 0, -cross / np.where(bend > 0, bend, 1.0), 0.0)
            suits = r_ohm * np.exp(np.clip(step, -1.0, 1.0))
            suits = np.clip(suits, self.lineup.low[other], self.lineup.high[other])
            off, strays = self._between(one, other, suits)
            apart = weights.of(one, off)
            again = 0.5 * weights.product(apart, apart)
            again -= strays.sum(-1) * log(self.lineup.tolerances.slip)
            ratio[over] = np.minimum(ratio[over], again)
        return ratio

    def _weights(self, sample: Indices) -> "_Weights":
        """Return the weights of some samples, each once, in their order."""
        some = np.unique(sample)
        weight = np.where(self._numbers[some] & self.rows, 1 / self._own[some], 0.0)
        spread = self.spread * self._grown[some, :, None]
        weighted = spread * weight[..., None]
        inner = np.eye(spread.shape[-1]) + np.swapaxes(spread, 1, 2) @ weighted
        shared = weighted @ np.swapaxes(np.linalg.inv(np.linalg.cholesky(inner)), 1, 2)
        return _Weights(some, np.sqrt(weight), shared)


@dataclass(frozen=True, slots=True)
class _Weights:
    """Inverses of the covariances C of u samples: C⁻¹ = S² - T Tᵀ, S on the diagonal.

    With C = S⁻² + B Bᵀ and I + Bᵀ S² B = G Gᵀ, T is S² B G⁻ᵀ (Woodbury).

    Attributes
    ----------
    samples : ndarray of int, shape (u,)
        Which samples, rising.
    root : ndarray, shape (u, r)
        S; nil where the sample shows no number.
    shared : ndarray, shape (u, r, p)
        T.
    """

    samples: Indices
    root: Floats
    shared: Floats

    def of(self, sample: Indices, off: Floats) -> Floats:
        """Return S d and Tᵀ d side by side, for rows d of ``off`` and the sample of each, rising.

        Shape (k, r + p).
        """
        at = np.searchsorted(self.samples, sample)
        count = off.shape[1]
        out = np.empty((len(off), count + self.shared.shape[-1]))
        np.multiply(off, self.root[at], out=out[:, :count])
        begins = np.searchsorted(at, np.arange(len(self.samples) + 1)).tolist()
        for number, (begin, end) in enumerate(pairwise(begins)):
            if end > begin:
                np.matmul(off[begin:end], self.shared[number], out=out[begin:end, count:])
        return out

    def product(self, first: Floats, second: Floats) -> Floats:
        """Return dᵀ C⁻¹ e for rows d and e of what ``of`` returns, shape (k,)."""
        count = self.root.shape[1]
        both = first * second
        return np.asarray(both[:, :count].sum(-1) - both[:, count:].sum(-1))


def taken_for(isolation: Isolation, of: Indices) -> list[dict[int, float]]:
    """Return for each sample the hypotheses that it could be taken for, and how far apart. [nat]

    Its own is among them. ``of`` says which hypothesis each family belongs to.
    """
    found: list[dict[int, float]] = [{int(of[f]): 0.0} for f in isolation.samples.family]
    sample, family, nats = isolation.pairs
    for one, other, apart in zip(sample.tolist(), of[family].tolist(), nats.tolist(), strict=True):
        found[one][other] = min(apart, found[one].get(other, apart))
    return found
