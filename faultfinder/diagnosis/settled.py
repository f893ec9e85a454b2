"""Quick scores with shared errors settled: what no weighing of a hypothesis can exceed.

A hypothesis with its ohms left open predicts ranges, and there are far too many of those for
covariances of their own. Here all share one, ``s² D + B Bᵀ`` (``likelihood.py``), with accuracies
and slopes of what reads nearest to each reading. Divided by the root of ``D`` and by its singular
vectors, ``D^-½ B = U σ Vᵀ``, that is ``s² + U σ² Uᵀ`` for every scatter ``s``: two thin products
settle the shared errors of any number of predictions.

Bound
-----
Of misfits ``t`` within ranges the log density is at most ``peak - ½ min tᵀ Q t``, with ``Q`` the
inverse covariance. For any ``λ`` that is nil where ``t`` lies inside its range, and pulls the right
way where it is at an end,

    min ½ tᵀ Q t  ≥  λᵀt - ½ λᵀ Q⁻¹ λ,

by duality; a few rounds of settling and clipping find a ``λ`` near the best. Some of the readings
bound the whole as well: what is left out adds no more than its peak given those. So the bound is
one on the likelihood that is reported, as far as the hypothesis leans on shared errors as what
reads nearest does, and as far as its slips are those found here: the tests hold it to a few nats.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import log, pi

import numpy as np

from faultfinder.diagnosis.likelihood import Indices, Jury
from faultfinder.evidence.lean import Flags, Floats

_NEAR_SD = 3.0  # a prediction so near a reading tells how that leans
_UNSURE = 0.08  # of what a reading is off by all that: how much else it may lean
_ROUNDS = 4  # of settling and clipping
_FIRST_ROUNDS = 12
_LEAST_SHARED = 0.15  # of the scatter: smaller shared errors are taken for each reading's own
_TIED_NATS = 5.0
_SUITING_NATS = 3.0
_MOST_NUMBERS = 60_000  # in one array, so that it stays in cache


@dataclass(frozen=True, slots=True, eq=False)
class _AtScatter:
    """What holds at one factor of scatter. Shapes: q shared errors, r numbers.

    ``thin`` (r, q): misfits times it, and times it again, are what shared errors make of them;
    times ``root`` (q,) it is the shared errors themselves. ``own`` is the variance of scatter,
    ``peak`` the log density of no misfit at all; ``slip`` (r,) what calling a number a slip costs,
    ``width`` (r,) the misfit from which on it is cheaper; ``start`` (r,) what shared errors make of
    the leader's misfits.
    """

    scatter: float
    thin: Floats
    root: Floats
    own: float
    peak: float
    slip: Floats
    width: Floats
    start: Floats


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
    scatters : tuple of _AtScatter
        One for each scatter that the jury averages over.
    likeliest : int
        Which of them suits the leader best.
    suiting : tuple of _AtScatter
        Those that suit it about as well.
    """

    jury: Jury
    sd: Floats
    scatters: tuple[_AtScatter, ...]
    likeliest: int
    suiting: tuple[_AtScatter, ...] = ()

    @cached_property
    def _numbers(self) -> Indices:
        return np.flatnonzero(self.jury.observed.number)

    @property
    def most(self) -> float:
        """What nothing can exceed."""
        return float(_averaged(np.array([[at.peak] for at in self.scatters]))[0])

    def only(self, readings: Sequence[int]) -> "Settled":
        """Return bounds on the whole likelihood by some of the readings."""
        place = np.cumsum(self.jury.observed.number) - 1
        kept = [place[i] for i in readings if self.jury.observed.number[i]]
        scatters = []
        for at in self.scatters:
            # Its own covariance, of which these rows are what is seen.
            covered = at.thin[kept] * at.root
            thin, root, own = _thinned(covered, at.scatter)
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

    def at_most(self, read: Floats, enough: Floats | float = -np.inf) -> Floats:
        """Return what predictions (..., r) score at most, shape (...).

        No more work than it takes is done for those that stay below ``enough``.
        """
        shape = read.shape[:-1]
        flat = read.reshape(int(np.prod(shape)), read.shape[-1])
        enough = np.broadcast_to(enough, shape).reshape(-1)
        step = max(1, _MOST_NUMBERS // max(1, flat.shape[1]))
        parts = [
            _averaged(self.by_scatter(flat[i : i + step], enough[i : i + step]))
            for i in range(0, len(flat), step)
        ]
        return np.concatenate([*parts, np.empty(0)]).reshape(shape)

    def about(self, read: Floats, enough: Floats | float = -np.inf) -> Floats:
        """Return about what predictions (..., r) score, shape (...).

        All are taken to lean alike, and to have the scatters that suit the leader; slips are told
        by what shared errors leave. Minus infinity where that stays below ``enough``.
        """
        shape = read.shape[:-1]
        flat = read.reshape(int(np.prod(shape)), read.shape[-1])
        least = np.broadcast_to(enough, shape).reshape(-1)
        step = max(1, _MOST_NUMBERS // max(1, flat.shape[1]))
        parts = [
            self._about(flat[i : i + step], least[i : i + step]) for i in range(0, len(flat), step)
        ]
        return np.concatenate([*parts, np.empty(0)]).reshape(shape)

    def _about(self, read: Floats, enough: Floats) -> Floats:
        beyond = self.jury.beyond(read)
        off, impossible = self._misfits(read)
        broken = impossible.any(axis=1)
        logs = []
        for at in self.suiting:
            shared = off @ at.thin
            loss = 0.5 * ((off**2).sum(axis=1) - (shared**2).sum(axis=1)) / at.own
            own = np.where(broken, -np.inf, at.peak + beyond - loss)
            near = np.flatnonzero(own > enough)
            left = np.abs(off[near] - shared[near] @ at.thin.T)
            plain = near[(left <= at.width).all(axis=1)]
            # The others may do better by calling some readings slips.
            rest = np.delete(np.arange(len(off)), plain)
            first = at.peak + beyond[rest] - impossible[rest] @ at.slip
            own[rest] = most = first - _losses_at_first(at, off[rest], impossible[rest])
            some = most > enough[rest]
            rest, first = rest[some], first[some]
            own[rest] = np.minimum(own[rest], first - _losses(at, off[rest], impossible[rest]))
            logs.append(own)
        found = self._over_suiting(logs)
        return np.where(found > enough, found, -np.inf)

    def _over_suiting(self, logs: Sequence[Floats]) -> Floats:
        return np.asarray(_averaged(np.stack(logs)) + log(len(logs) / len(self.scatters)))

    def at_most_between(self, low: Floats, high: Floats) -> Floats:
        """Return what ``about`` cannot exceed for predictions between these, (n, r) to (n,).

        By the same duality, pulled at as the leader's shared errors tell: a misfit that may be what
        they make of it is not pulled at.
        """
        meter, value = self.jury.observed.meter, self.jury.observed.value
        scaled = meter.scale(value)
        with np.errstate(invalid="ignore"):
            most = (scaled - meter.scale(low))[:, self._numbers] / self.sd
            least = (scaled - meter.scale(high))[:, self._numbers] / self.sd
        impossible = most == -np.inf
        logs = []
        for at in self.suiting:
            nearest = np.where(impossible, 0.0, np.clip(at.start, least, most))
            loss = _losses_at_first(at, nearest, impossible) + impossible @ at.slip
            logs.append(at.peak - loss)
        return self._over_suiting(logs) + self.jury.opens(high)

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
            costs[:, observed.open] = -np.log(np.maximum(chance, self.jury.least_chance))
        return costs.reshape(read.shape)

    def share_off(self, read: Floats) -> Floats:
        """Return how far numbers are off predictions (..., r), as shares of what makes a slip."""
        at, meter = self.scatters[self.likeliest], self.jury.observed.meter
        with np.errstate(invalid="ignore"):
            off = meter.scale(self.jury.observed.value) - meter.scale(read)
        return np.asarray((off[..., self._numbers] / self.sd - at.start) / at.width)

    def _misfits(self, read: Floats) -> tuple[Floats, Flags]:
        """Return how far numbers are off predictions (n, r), and where those are none."""
        observed, meter = self.jury.observed, self.jury.observed.meter
        with np.errstate(invalid="ignore"):
            off = (meter.scale(observed.value) - meter.scale(read))[:, self._numbers] / self.sd
        impossible = ~np.isfinite(off)
        off[impossible] = 0.0
        return off, impossible

    def by_scatter(self, read: Floats, enough: Floats | float = -np.inf) -> Floats:
        """Return what predictions (n, r) score at most at each scatter, (scatters, n)."""
        observed, meter = self.jury.observed, self.jury.observed.meter
        opens = np.zeros(len(read))
        if observed.open.any():
            chance = meter.chance_open(read[:, observed.open], observed.open)
            opens = np.log(np.maximum(chance, self.jury.least_chance)).sum(axis=1)
        off, impossible = self._misfits(read)
        bounds = np.empty((len(self.scatters), len(read)))
        for row, at in zip(bounds, self.scatters, strict=True):
            row[:] = first = at.peak + opens - impossible @ at.slip
            for losses in (_losses_at_first, _losses):
                left = np.flatnonzero(row > enough)
                if left.size:
                    loss = losses(at, off[left], impossible[left])
                    row[left] = np.minimum(row[left], first[left] - loss)
        return bounds


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
    leader = read[:1]
    read = np.concatenate([read, jury.sound.read])[:, numbers]
    spread = np.concatenate([spread, jury.spread(jury.sound)])[:, numbers]
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
    scatters = []
    for scatter in jury.scatters:
        peak, precise = _peak(variance, lean, scatter)
        thin = _thinned(lean / sd[:, None], scatter)
        costs = np.maximum(0.5 * np.log(precise / (2 * pi)) - slip, 0.0)
        precision = _peak(sd**2, lean, scatter)[1] * sd**2
        width = np.sqrt(2 * costs / precision)
        at = _AtScatter(scatter, *thin, peak=peak, slip=costs, width=width, start=0.0 * value)
        with np.errstate(invalid="ignore"):
            misfit = (value - meter.scale(read[:1])) / sd
        scatters.append(replace(at, start=_start(at, misfit)))
    found = Settled(jury, sd, tuple(scatters), 0)
    logs = found.by_scatter(leader)[:, 0]
    # Of scatters about as likely the widest, so that no estimate is too hard on a hypothesis.
    likely = np.flatnonzero(logs > logs.max() - _TIED_NATS).tolist()
    suiting = [
        at for at, one in zip(scatters, logs, strict=True) if one > logs.max() - _SUITING_NATS
    ]
    return replace(
        found, likeliest=max(likely, key=lambda i: jury.scatters[i]), suiting=tuple(suiting)
    )


def _peak(variance: Floats, lean: Floats, scatter: float) -> tuple[float, Floats]:
    """Return the log density of no misfit, and the precision of each number given all others."""
    weighted = lean / (scatter**2 * variance)[:, None]
    inner = np.eye(lean.shape[1]) + lean.T @ weighted
    log_det = float(np.linalg.slogdet(inner)[1]) + float(np.log(scatter**2 * variance).sum())
    precision = 1 / (scatter**2 * variance) - ((weighted @ np.linalg.inv(inner)) * weighted).sum(-1)
    return -0.5 * (log_det + len(variance) * log(2 * pi)), precision


def _thinned(lean: Floats, scatter: float) -> tuple[Floats, Floats, float]:
    """Return the shared errors that are more than scatter, as ``thin``, ``root`` and ``own``.

    What is less is taken for scatter, at its most.
    """
    left, size, _ = np.linalg.svd(lean, full_matrices=False)
    kept = size > _LEAST_SHARED * scatter
    own = scatter**2 + float((size[~kept] ** 2).max(initial=0.0))
    whole = np.sqrt(own + size[kept] ** 2)
    return left[:, kept] * (size[kept] / whole), whole, own


def _start(at: _AtScatter, misfit: Floats) -> Floats:
    """Return what shared errors make of the leader's misfits, slips left out."""
    impossible = ~np.isfinite(misfit)
    fit = np.zeros_like(misfit)
    for _ in range(_FIRST_ROUNDS):
        held = ~impossible & (np.abs(misfit - fit) <= 2 * at.width)
        fit = (np.where(held, misfit, fit) @ at.thin) @ at.thin.T
    return np.asarray(fit[0])


def _losses_at_first(at: _AtScatter, off: Floats, impossible: Flags) -> Floats:
    """Return what misfits cost at least, pulled at as if shared errors were the leader's."""
    pull = np.where(impossible, 0.0, off - at.start)
    slips = np.abs(pull) > at.width
    pull[slips] = 0.0
    return np.asarray(_dual(at, pull, off) + slips @ at.slip)


def _losses(at: _AtScatter, off: Floats, impossible: Flags) -> Floats:
    """Return what misfits cost at least, shared errors settled and slips told by what is left."""
    fit = at.start
    for _ in range(_ROUNDS):
        # One that is far off may be a slip, and pulls no harder than one that just is none.
        held = np.minimum(np.maximum(off, fit - at.width), fit + at.width)
        fit = (np.where(impossible, fit, held) @ at.thin) @ at.thin.T
    slips = ~impossible & (np.abs(off - fit) > at.width)
    loss = _loss(at, off, fit, slips | impossible) + slips @ at.slip
    rows = np.flatnonzero(slips.any(axis=1))
    if rows.size:
        without = _loss(at, off[rows], fit[rows], impossible[rows])
        loss[rows] = np.minimum(loss[rows], without)
    return np.asarray(loss)


def _loss(at: _AtScatter, off: Floats, fit: Floats, out: Flags) -> Floats:
    """Return what misfits cost at least, those left ``out`` aside."""
    held = np.where(out, fit, off)
    for _ in range(_ROUNDS):
        pull = held - (held @ at.thin) @ at.thin.T
        if not out.any():
            break
        held[out] -= pull[out]
    pull[out] = 0.0
    return _dual(at, pull, off)


def _dual(at: _AtScatter, pull: Floats, off: Floats) -> Floats:
    """Return what a pull on misfits shows that they cost, at its best strength."""
    along = (pull * off).sum(axis=1)
    back = at.own * (pull**2).sum(axis=1) + (((pull @ at.thin) * at.root) ** 2).sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        loss = np.where(along > 0, along**2 / (2 * back), 0.0)
    return np.nan_to_num(loss)


def _averaged(logs: Floats) -> Floats:
    """Return the log of the mean over the first axis."""
    return np.asarray(np.logaddexp.reduce(logs, axis=0) - log(len(logs)))
