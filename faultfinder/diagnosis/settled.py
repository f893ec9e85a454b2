"""Quick scores with shared errors settled: what no weighing of a hypothesis can exceed.

A hypothesis with its ohms left open predicts ranges, and there are far too many of those for
covariances of their own. Here all share one, ``s² D + B Bᵀ`` (``likelihood.py``), with accuracies
and slopes of what reads nearest to each reading. Divided by the root of ``D`` and by its singular
vectors, ``D^-½ B = U σ Vᵀ``, that is ``s² + U σ² Uᵀ`` for every scatter ``s``: two thin products
settle the shared errors of any number of predictions.

What misfits cost at least, within ranges too, is bounded by duality (``pulls.py``). Some of the
readings bound the whole as well: what is left out adds no more than its peak given those. So the
bound is one on the likelihood that is reported, as far as the hypothesis leans on shared errors as
what reads nearest does, and as far as its slips are those found here: the tests hold it to a few
nats.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import log, pi

import numpy as np

from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.pulls import (
    AtScatter,
    Off,
    leaders_fit,
    losses,
    losses_at_first,
    parted,
    steps,
    thinned,
)
from faultfinder.evidence.lean import Floats, Indices

_NEAR_SD = 3.0  # a prediction so near a reading tells how that leans
_UNSURE = 0.08  # of what a reading is off by all that: how much else it may lean
_TIED_NATS = 5.0
_SUITING_NATS = 3.0
_MOST_NUMBERS = 100_000  # in one array, so that it stays in cache


@dataclass(frozen=True)
class Settled:
    """Bounds on log likelihoods, by all readings of a jury or by some of them.

    Attributes
    ----------
    jury : Jury
        The readings looked at, r of them.
    sd : ndarray, shape (n,)
        Of the n numbers among them, what scatter of one is; generous where it is not sure how they
        lean.
    scatters : tuple of AtScatter
        One for each scatter that the jury averages over.
    likeliest : int
        Which of them suits the leader best.
    suiting : tuple of int
        Those that suit it about as well.
    leaning : (ndarray, ndarray)
        What all readings of the jury lean as: predictions, the leader's first, and their shared
        errors.
    """

    jury: Jury
    sd: Floats
    scatters: tuple[AtScatter, ...]
    likeliest: int
    suiting: tuple[int, ...]
    leaning: tuple[Floats, Floats]

    @cached_property
    def _numbers(self) -> Indices:
        return np.flatnonzero(self.jury.observed.number)

    @property
    def most(self) -> float:
        """What nothing can exceed."""
        return float(_averaged(np.array([[at.peak] for at in self.scatters]))[0])

    @property
    def most_shared(self) -> float:
        """How many times its own scatter the errors are that a number shares, at the most."""
        at = self.scatters[self.likeliest]
        shared = np.sqrt(((at.thin * at.root) ** 2).sum(axis=1) / at.own)
        return float(shared.max(initial=0.0))

    def led_by(self, read: Floats, spread: Floats) -> "Settled":
        """Return bounds by all readings with another leader, (r,) and (r, p)."""
        reads, spreads = self.leaning
        return settled(
            self.jury,
            np.concatenate([read[None], reads]),
            np.concatenate([spread[None], spreads]),
        )

    def only(self, readings: Sequence[int]) -> "Settled":
        """Return bounds on the whole likelihood by some of the readings."""
        place = np.cumsum(self.jury.observed.number) - 1
        kept = [place[i] for i in readings if self.jury.observed.number[i]]
        scatters = []
        for at in self.scatters:
            # Its own covariance, of which these rows are what is seen.
            covered = at.thin[kept] * at.root
            thin, root, own = thinned(*parted(covered), at.scatter)
            scatters.append(
                replace(
                    at,
                    thin=thin,
                    root=root,
                    own=own,
                    slip=at.slip[kept],
                    width=at.width[kept],
                    start=at.start[kept],
                )
            )
        return replace(
            self, jury=self.jury.only(readings), sd=self.sd[kept], scatters=tuple(scatters)
        )

    def that_matter(self, leader: float, nats: float) -> tuple[float, ...]:
        """Return the scatters at which anything may come so near what the leader scores."""
        return tuple(at.scatter for at in self.scatters if at.peak > leader - nats)

    def at_suiting(self) -> "Settled":
        """Return scores with those scatters alone that suit the leader about as well as any."""
        return self._at([self.scatters[i] for i in self.suiting])

    def broadened(self, wide: float) -> "Settled":
        """Return scores by which to find tops: at the likeliest scatter, so many times."""
        at = self.scatters[self.likeliest]
        thin, root, own = thinned(*parted(at.thin * at.root), wide * at.scatter)
        return self._at([replace(at, thin=thin, root=root, own=own, width=wide * at.width)])

    def _at(self, scatters: Sequence[AtScatter]) -> "Settled":
        suiting = tuple(range(len(scatters)))
        return replace(self, scatters=tuple(scatters), likeliest=0, suiting=suiting)

    def at_most(self, read: Floats, enough: Floats | float = -np.inf) -> Floats:
        """Return what predictions (..., r) score at most, shape (...).

        No more work than it takes is done for those that stay below ``enough``.
        """
        shape = read.shape[:-1]
        flat = read.reshape(int(np.prod(shape)), read.shape[-1])
        return self.within(flat, flat, np.broadcast_to(enough, shape).reshape(-1)).reshape(shape)

    def within(self, low: Floats, high: Floats, enough: Floats | float = -np.inf) -> Floats:
        """Return what predictions anywhere between these, both (n, r), score at most, (n,)."""
        enough = np.broadcast_to(enough, len(low))
        step = max(1, _MOST_NUMBERS // max(1, low.shape[1]))
        parts = []
        for start in range(0, len(low), step):
            some = slice(start, start + step)
            one = low[some]
            other = one if high is low else high[some]
            parts.append(_averaged(self.by_scatter(one, other, enough[some])))
        return np.concatenate([*parts, np.empty(0)])

    def about(self, read: Floats, enough: Floats | float = -np.inf) -> Floats:
        """Return about what predictions (..., r) score, shape (...).

        All are taken to lean alike; slips are told by what shared errors leave. Minus infinity
        where that stays below ``enough``.
        """
        shape = read.shape[:-1]
        flat = read.reshape(int(np.prod(shape)), read.shape[-1])
        least = np.broadcast_to(enough, shape).reshape(-1)
        step = max(1, _MOST_NUMBERS // max(1, flat.shape[1]))
        parts = [
            self._about(flat[i : i + step], least[i : i + step]) for i in range(0, len(flat), step)
        ]
        return np.concatenate([*parts, np.empty(0)]).reshape(shape)

    def plainly(self, read: Floats) -> Floats:
        """Return about what predictions (..., r) score with no reading called a slip, (...)."""
        shape = read.shape[:-1]
        flat = read.reshape(int(np.prod(shape)), read.shape[-1])
        off = self._off(flat)
        broken = ~np.isfinite(off).all(axis=1)
        off[broken] = 0.0
        loss = np.stack([self._loss(at, off, off @ at.thin) - at.peak for at in self.scatters])
        found = self.jury.beyond(flat) + _averaged(-loss)
        return np.where(broken, -np.inf, found).reshape(shape)

    @staticmethod
    def _loss(at: AtScatter, off: Floats, shared: Floats) -> Floats:
        """Return what misfits (n, r) cost, given what shared errors make of them, (n, q)."""
        return np.asarray(0.5 * ((off**2).sum(axis=1) - (shared**2).sum(axis=1)) / at.own)

    def _about(self, read: Floats, enough: Floats) -> Floats:
        beyond = self.jury.beyond(read)
        off = self._off(read)
        impossible = ~np.isfinite(off)
        off[impossible] = 0.0
        broken = impossible.any(axis=1)
        logs = np.empty((len(self.scatters), len(read)))
        for own, at in zip(logs, self.scatters, strict=True):
            shared = off @ at.thin
            own[:] = np.where(broken, -np.inf, at.peak + beyond - self._loss(at, off, shared))
            near = np.flatnonzero(own > enough)
            left = np.abs(off[near] - shared[near] @ at.thin.T)
            plain = near[(left <= at.width).all(axis=1)]
            if len(plain) == len(off):
                continue
            # The others may do better by calling some readings slips.
            rest = np.delete(np.arange(len(off)), plain)
            own[rest] = first = at.peak + beyond[rest] - impossible[rest] @ at.slip
            for cost in (losses_at_first, losses):
                left = np.flatnonzero(own[rest] > enough[rest])
                some, known = rest[left], impossible[rest[left]]
                loss = cost(at, Off(off[some], off[some]), known)
                own[some] = np.minimum(own[some], first[left] - loss)
        found = _averaged(logs)
        return np.where(found > enough, found, -np.inf)

    def each_cost(self, read: Floats, wide: float = 1.0) -> Floats:
        """Return about what each reading counts against predictions (..., r), in nats.

        Shared errors and scatter are taken to be as the leader has them, so that readings count one
        by one: for an estimate, not for a bound. Scatter so many times as ``wide`` makes broader
        tops, to find them by.
        """
        observed, at = self.jury.observed, self.scatters[self.likeliest]
        flat = read.reshape(-1, read.shape[-1])
        costs = np.zeros(flat.shape)
        costs[:, self._numbers] = at.slip * np.minimum((self.share_off(flat) / wide) ** 2, 1.0)
        if observed.open.any():
            chance = observed.meter.chance_open(flat[:, observed.open], observed.open)
            costs[:, observed.open] = -self.jury.log_of_chance(chance)
        return costs.reshape(read.shape)

    def share_off(self, read: Floats) -> Floats:
        """Return how far numbers are off predictions (..., r), as shares of what makes a slip."""
        at, meter = self.scatters[self.likeliest], self.jury.observed.meter
        with np.errstate(invalid="ignore"):
            off = meter.scale(self.jury.observed.value) - meter.scale(read)
        return np.asarray((off[..., self._numbers] / self.sd - at.start) / at.width)

    def steps(self, read: Floats, changed: Floats) -> Floats:
        """Return how much of some changes would suit the readings best, (n, k), as if straight.

        ``changed`` (n, k, r) is what predictions ``read`` (n, r) become with each change. It is at
        the likeliest scatter.
        """
        off = self._off(read)
        after = self._off(changed.reshape(-1, changed.shape[-1])).reshape(*changed.shape[:2], -1)
        return steps(self.scatters[self.likeliest], off, after)

    def by_scatter(self, low: Floats, high: Floats, enough: Floats | float = -np.inf) -> Floats:
        """Return what predictions between these (n, r) score at most at each scatter.

        Shape (scatters, n). The chance of open grows with what is there to be read.
        """
        opens = self.jury.opens(high)
        most = self._off(low)
        impossible = ~np.isfinite(most)
        most[impossible] = 0.0
        off = Off(most, most)
        if high is not low:
            off = Off(np.where(impossible, 0.0, self._off(high)), most)
        bounds = np.empty((len(self.scatters), len(low)))
        for row, at in zip(bounds, self.scatters, strict=True):
            row[:] = first = at.peak + opens - impossible @ at.slip
            for cost in (losses_at_first, losses):
                left = np.flatnonzero(row > enough)
                if left.size:
                    loss = cost(at, off.only(left), impossible[left])
                    row[left] = np.minimum(row[left], first[left] - loss)
        return bounds

    def _off(self, read: Floats) -> Floats:
        """Return how far numbers are off predictions (n, r), in scatters of one."""
        observed, meter = self.jury.observed, self.jury.observed.meter
        with np.errstate(invalid="ignore"):
            off = meter.scale(observed.value) - meter.scale(read)
        return np.asarray(off[:, self._numbers] / self.sd)


def settled(jury: Jury, read: Floats, spread: Floats) -> Settled:
    """Return bounds by all readings of a jury.

    Parameters
    ----------
    jury : Jury
        The readings, r of them.
    read : ndarray, shape (k, r)
        What hypotheses predict, the best first; each reading leans as the first that is near it.
    spread : ndarray, shape (k, r, p)
        Their shared errors.
    """
    observed, meter = jury.observed, jury.observed.meter
    numbers = np.flatnonzero(observed.number)
    leader, leaning = read[:1], (read, spread)
    read = np.concatenate([read, jury.sound.read])[:, numbers]
    spread = np.concatenate([spread, jury.sound_spread[None]])[:, numbers]
    meter = meter.only(numbers.tolist())
    resolution = observed.resolution[numbers]
    value = meter.scale(observed.value[numbers])
    each = np.arange(len(numbers))
    with np.errstate(invalid="ignore"):
        off = np.abs(meter.scale(read) - value)
    off = np.where(np.isfinite(read), off, np.inf)
    whole = np.sqrt((max(jury.scatters) * meter.sd(read, resolution)) ** 2 + (spread**2).sum(-1))
    near = off <= _NEAR_SD * whole
    first = np.where(near.any(axis=0), near.argmax(axis=0), off.argmin(axis=0))
    lean, gap = spread[first, each], off[first, each]
    # Where nothing makes a reading, it leans as that does which the sound circuit reads like it.
    lost = np.flatnonzero(~np.isfinite(gap))
    known = np.flatnonzero(np.isfinite(read[-1]))
    if known.size:
        for i in lost.tolist():
            like = known[np.abs(meter.scale(read[-1])[known] - value[i]).argmin()]
            lean[i], gap[i] = spread[-1, like], abs(meter.scale(read[-1])[like] - value[i])
    size = np.where(near.any(axis=0), read[first, each], observed.value[numbers])
    variance = meter.sd(size, resolution) ** 2
    unsure = np.where(near.any(axis=0), 0.0, _UNSURE * np.where(np.isfinite(gap), gap, 1.0))
    sd = np.sqrt(variance + unsure**2)
    slip = jury.slip_log[numbers]
    peaks, precise = _peaks(variance, lean, jury.scatters)
    _, generously = _peaks(sd**2, lean, jury.scatters)
    left, shared = parted(lean / sd[:, None])
    with np.errstate(invalid="ignore"):
        misfit = (value - meter.scale(read[:1])) / sd
    scatters = []
    for place, scatter in enumerate(jury.scatters):
        costs = np.maximum(0.5 * np.log(precise[place] / (2 * pi)) - slip, 0.0)
        at = AtScatter(
            scatter,
            *thinned(left, shared, scatter),
            peak=float(peaks[place]),
            slip=costs,
            width=np.sqrt(2 * costs / (generously[place] * sd**2)),
            start=0.0 * value,
        )
        scatters.append(replace(at, start=leaders_fit(at, misfit)))
    found = Settled(jury, sd, tuple(scatters), 0, (), leaning)
    logs = found.by_scatter(leader, leader)[:, 0]
    # Of scatters about as likely the widest, so that no estimate is too hard on a hypothesis.
    likely = np.flatnonzero(logs > logs.max() - _TIED_NATS).tolist()
    return replace(
        found,
        likeliest=max(likely, key=lambda i: jury.scatters[i]),
        suiting=tuple(np.flatnonzero(logs > logs.max() - _SUITING_NATS).tolist()),
    )


def _peaks(variance: Floats, lean: Floats, scatters: Sequence[float]) -> tuple[Floats, Floats]:
    """Return at each scatter the log density of no misfit, (s,), and precisions, (s, n).

    The precision of a number is that given all the others.
    """
    own = np.square(scatters)[:, None] * variance
    weighted = lean / own[..., None]
    inner = np.eye(lean.shape[1]) + lean.T @ weighted
    log_det = np.linalg.slogdet(inner)[1] + np.log(own).sum(axis=-1)
    precision = 1 / own - ((weighted @ np.linalg.inv(inner)) * weighted).sum(axis=-1)
    return -0.5 * (log_det + len(variance) * log(2 * pi)), precision


def _averaged(logs: Floats) -> Floats:
    """Return the log of the mean over the first axis."""
    return np.asarray(np.logaddexp.reduce(logs, axis=0) - log(len(logs)))
