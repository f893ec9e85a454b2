"""How likely the readings are under a hypothesis.

Model
-----
The readings that are numbers, under a hypothesis that predicts numbers for them, are jointly
Gaussian about the prediction. Their errors are of two kinds. Scatter is each reading's own:
``D = s² (share · R + fixed)²`` with a factor ``s`` that is averaged over, since few people know
their instrument. Shared errors move many readings together: the length of each run and of all
cable, the terminators' true values, the instrument's gain, what nulling left of the leads. With
``B`` their slopes times their standard deviations the covariance is ``D + B Bᵀ``, so that a cable
longer than drawn is not taken for a bad joint. Where cable is far from as drawn, ``B`` is taken at
the lengths that are likeliest. It is evaluated through the ``p × p`` matrix
``M = I + Bᵀ D⁻¹ B`` (Woodbury identity and the determinant lemma): ``p`` is the number of shared
errors, far less than the number of readings on a long circuit.

A reading may also be plain wrong. Where a hypothesis has no place for a number, or one lies far
outside what is left of its own scatter, it is scored as a slip: a small chance, spread evenly over
the decades a reading can have. Which readings are slips is decided by each one's
density given all the others. Open readings are scored by the chance that the instrument's range
ends below the prediction, bounds by the Gaussian tail.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import log, pi

import numpy as np

from faultfinder.diagnosis.gaussian import Joint, normal_cdf
from faultfinder.evidence.lean import Flags, Floats, Indices, Lean
from faultfinder.evidence.observed import Observed
from faultfinder.rulebook.tolerances import Tolerances

_SLIP_RANGE = log(1e7)  # a slip may show anything over seven decades
_MOST_SLIPS = 4
_MOST_GROWN = 3.0
_REFUTED = 0.01  # chance below which an open reading or a bound has no place
_FAR_LENGTHENED = 0.02  # of a run's own standard deviation, that all cable adds
_MOVED = 0.04  # share of a variance by which it has to change to be worth the trouble
_MOST_NUMBERS = 100_000  # in one array, so that it stays in cache; the rest waits its turn


@dataclass(frozen=True, slots=True)
class Fit:
    """How hypotheses fit the readings.

    Attributes
    ----------
    log : ndarray, shape (h,)
        Log likelihood.
    residual : ndarray, shape (h, r)
        What shared errors leave of each number, in standard deviations of its scatter.
    slips : ndarray of bool, shape (h, r)
        Readings a hypothesis has no explanation for.
    """

    log: Floats
    residual: Floats
    slips: Flags


@dataclass(frozen=True)
class Jury:
    """The readings, with everything predictions of them are weighed by.

    Attributes
    ----------
    observed : Observed
        The readings, r of them.
    tolerances : Tolerances
        How far off the drawing and the leads may be.
    sound : Lean
        The sound circuit's predictions and slopes.
    """

    observed: Observed
    tolerances: Tolerances
    sound: Lean

    @cached_property
    def scatters(self) -> tuple[float, ...]:
        """Scatter of a reading as factors of the instrument's accuracy, equally likely."""
        t = self.tolerances
        return t.stated_scatter if self.observed.meter.stated else t.scatter

    def spread(self, lean: Lean) -> Floats:
        """Return the shared errors of predictions, shape (h, r, p)."""
        return self.observed.meter.shared_errors(lean, self.tolerances)

    @cached_property
    def slip_log(self) -> Floats:
        """Log density of a number that is a slip, shape (r,)."""
        flat = np.log(self.tolerances.slip / _SLIP_RANGE)
        size = np.maximum(np.abs(self.observed.value), 1e-2)
        per_value = np.where(self.observed.meter.logarithmic, 0.0, np.log(size))
        return np.where(self.observed.number, flat - per_value, 0.0)

    @cached_property
    def sound_spread(self) -> Floats:
        """Shared errors of the sound circuit, shape (r, p)."""
        return np.asarray(self.spread(self.sound)[0])

    @cached_property
    def _sound_spread_squared(self) -> Floats:
        return np.asarray((self.sound_spread**2).sum(axis=-1))

    @cached_property
    def closed(self) -> "tuple[Indices, Jury]":
        """The readings that are not open, and a jury that looks at those alone.

        What an open one says depends on no scatter and on nothing that is shared.
        """
        kept = np.flatnonzero(~self.observed.open)
        return kept, self.only(kept.tolist())

    def _grown(self, read: Floats) -> Floats:
        """Return by how much shared errors may exceed the sound circuit's, (..., r), at least one.

        A longer way round reads more and leans more on lengths; to what it reads is near enough
        for choosing what to weigh.
        """
        sound = self.sound.read[0]
        both = np.isfinite(read) & np.isfinite(sound) & (sound > 0)
        ratio = np.where(both, read, 1.0) / np.where(both, sound, 1.0)
        return np.asarray(np.clip(ratio, 1.0, _MOST_GROWN))

    def rough_spread(self, read: Floats) -> Floats:
        """Return about what the shared errors of predictions (h, r) are, shape (h, r, p).

        The sound circuit's, grown with the reading. Where it reads nothing, those of what it reads
        most like the reading that was taken.
        """
        sound, value = self.sound.read[0], self.observed.value
        like = np.arange(len(sound))
        known = np.flatnonzero(np.isfinite(sound))
        if known.size:
            scale = self.observed.meter.scale
            there = scale(sound)
            for i in np.flatnonzero(self.observed.number & ~np.isfinite(sound)).tolist():
                like[i] = known[np.abs(there[known] - scale(value)[i]).argmin()]
        ratio = np.where(np.isfinite(read), read, 0.0) / np.where(sound[like] > 0, sound[like], 1.0)
        grown = np.clip(ratio, 1.0, _MOST_GROWN)
        return np.asarray(self.sound_spread[like] * grown[..., None])

    def beyond(self, read: Floats) -> Floats:
        """Return about what open readings and bounds say for predictions, (..., r) to (...)."""
        logs = self.opens(read)
        bounds = np.flatnonzero(self.observed.less | self.observed.more).tolist()
        if bounds:
            some, there = self.only(bounds), read[..., bounds]
            own = (max(self.scatters) * some.observed.meter.sd(there)) ** 2
            variance = own + some._sound_spread_squared  # noqa: SLF001 (own class)
            logs += some._log_chance(some._chance(there, variance)).sum(axis=-1)  # noqa: SLF001
        return logs

    def opens(self, read: Floats) -> Floats:
        """Return what open readings say for predictions, (..., r) to (...)."""
        which = self.observed.open
        there = read[..., which]
        logs = np.zeros(read.shape[:-1])
        some = np.isfinite(there).any(axis=-1)
        if some.any():
            chance = self.observed.meter.chance_open(there[some], which)
            logs[some] = self.log_of_chance(chance).sum(axis=-1)
        return logs

    def glance(self, read: Floats) -> Floats:
        """Return quick log likelihoods of predictions, shape (..., r) to (...)."""
        return np.asarray(self.glance_each(read).sum(axis=-1))

    def glance_each(self, read: Floats) -> Floats:
        """Return what each reading says for predictions of it, (..., r), in nats.

        Shared errors are about the sound circuit's, taken as if each reading had its own.
        """
        observed, meter = self.observed, self.observed.meter
        variance = (max(self.scatters) * meter.sd(read, observed.resolution)) ** 2
        variance += self._sound_spread_squared * self._grown(read) ** 2
        with np.errstate(invalid="ignore"):  # numbers only: the rest is masked below
            error = meter.scale(observed.value) - meter.scale(read)
            own = -0.5 * (error**2 / variance + np.log(2 * pi * variance))
        possible = observed.number & np.isfinite(read)
        own = np.where(possible, np.maximum(own, self.slip_log), self.slip_log)
        return np.asarray(own + self._log_chance(self._chance(read, variance)))

    def only(self, readings: Sequence[int]) -> "Jury":
        """Return a jury that looks at some of the readings."""
        observed, sound = self.observed.only(readings), self.sound.only(readings)
        return Jury(observed, self.tolerances, sound)

    def weigh_roughly(self, read: Floats) -> Floats:
        """Return log likelihoods of predictions (h, r) with the sound circuit's shared errors.

        At one scatter, and with slips told by what shared errors leave: to choose what to weigh.
        """
        if self.observed.open.any():
            kept, closed = self.closed
            return closed.weigh_roughly(read[:, kept]) + self.opens(read)
        spread = self.sound_spread
        middle = np.array([sorted(self.scatters)[len(self.scatters) // 2]])
        step = max(1, _MOST_NUMBERS // max(1, spread.size))
        parts = []
        for i in range(0, max(1, len(read)), step):
            some = read[i : i + step]
            joint = self.joint(some, spread * self._grown(some)[..., None])
            parts.append(self._weigh_at(joint, some, middle, closely=False).log)
        return np.concatenate(parts)

    def weigh(
        self,
        read: Floats,
        spread: Floats,
        whose: Indices | None = None,
        scatters: Sequence[float] = (),
    ) -> Fit:
        """Return how each hypothesis fits, scatter averaged over.

        Parameters
        ----------
        read : ndarray, shape (h, r)
            Predictions, in the tests' units; infinity is open.
        spread : ndarray, shape (s, r, p)
            Shared errors, from ``spread``.
        whose : ndarray of int, shape (h,), optional
            Which of the s shared errors each hypothesis has; left out, its own.
        scatters : sequence of float, optional
            Scatters that are known to matter; the others count for nothing. Left out, all do.
        """
        if self.observed.open.any():
            kept, closed = self.closed
            fit = closed.weigh(read[:, kept], spread[:, kept], whose, scatters)
            return self._with_opens(fit, read)
        whose = np.arange(len(read)) if whose is None else whose
        at = np.array(scatters or self.scatters)
        step = max(1, _MOST_NUMBERS // max(1, spread.shape[1] * spread.shape[2] * len(at)))
        parts = [
            self._weigh_some(read[i : i + step], spread[whose[i : i + step]], at)
            for i in range(0, max(1, len(read)), step)
        ]
        return Fit(*(np.concatenate([getattr(part, f) for part in parts]) for f in Fit.__slots__))

    def _with_opens(self, closed: Fit, read: Floats) -> Fit:
        """Return how predictions (h, r) fit, given how they do by what is not open."""
        which = self.observed.open
        chance = self.observed.meter.chance_open(read[:, which], which)
        residual, slips = np.zeros(read.shape), np.empty(read.shape, dtype=bool)
        residual[:, ~which], slips[:, ~which] = closed.residual, closed.slips
        slips[:, which] = chance < _REFUTED
        return Fit(closed.log + self.log_of_chance(chance).sum(axis=-1), residual, slips)

    def _weigh_some(self, read: Floats, spread: Floats, scatters: Floats) -> Fit:
        all_ = self._weigh_at(self.joint(read, spread), read, scatters, closely=True)
        several = len(scatters), *read.shape
        logs = all_.log.reshape(several[:2])
        peak = logs.max(axis=0)
        likeliest = logs.argmax(axis=0), np.arange(len(read))
        return Fit(
            peak + np.log(np.exp(logs - peak).sum(axis=0) / len(self.scatters)),
            all_.residual.reshape(several)[likeliest],
            all_.slips.reshape(several)[likeliest],
        )

    def joint(self, read: Floats, spread: Floats) -> Joint:
        """Return the numbers of predictions, jointly, at a scatter of one."""
        observed, meter = self.observed, self.observed.meter
        possible = observed.number & np.isfinite(read)
        with np.errstate(invalid="ignore"):
            error = meter.scale(observed.value) - meter.scale(read)
        variance = meter.sd(read, observed.resolution) ** 2
        return Joint(np.where(possible, error, 0.0), variance, spread, possible)

    def _weigh_at(self, unit: Joint, read: Floats, scatters: Floats, *, closely: bool) -> Fit:
        """Return how each hypothesis fits at each scatter, those of one after the other.

        By readings none of which is open.
        """
        slip_log = self.slip_log
        joint = unit.scaled(scatters)
        scatter, read = np.repeat(scatters, len(read))[:, None], np.tile(read, (len(scatters), 1))
        slips = self.observed.number & ~joint.used
        rows = np.arange(len(read))
        for _ in range(_MOST_SLIPS if read.size else 0):
            own = joint.log_given_others(rows) if closely else joint.log_of_left(rows)
            gain = np.where(joint.used[rows], slip_log - own, -np.inf)
            worst = gain.argmax(axis=-1)
            better = np.flatnonzero(gain[np.arange(len(rows)), worst] > 0)
            if not better.size:
                break
            rows, worst = rows[better], worst[better]
            slips[rows, worst] = True
            joint.leave_out(rows, worst)
        if closely:
            self._lengthen(joint)
            self._settle(joint, read, scatter)
        total = joint.log() + np.where(slips, slip_log, 0.0).sum(-1)
        if (self.observed.less | self.observed.more).any():
            chance = self._chance(read, joint.variance + (joint.spread**2).sum(-1))
            total += self._log_chance(chance).sum(-1)
            slips |= chance < _REFUTED
        residual = np.where(joint.used, joint.left / np.sqrt(joint.variance), 0.0)
        return Fit(total, residual, slips)

    def _lengthen(self, joint: Joint) -> None:
        """Take slopes at the likeliest lengths, where those are far from the drawing.

        What all cable is off by multiplies what each run is off by itself: (1 + aᵢ)(1 + b), of
        which slopes leave out aᵢb. One step of Newton's from where slopes as drawn lead.
        """
        runs = len(self.sound.runs)
        own, all_ = joint.shift[:, :runs], self.tolerances.cable * joint.shift[:, runs]
        far = np.abs(all_) * np.abs(own).max(axis=1, initial=0.0) > _FAR_LENGTHENED
        rows = np.flatnonzero(far)
        if not rows.size:
            return
        own, all_ = own[rows], all_[rows, None]
        spread = joint.spread[rows]
        by_runs = np.einsum("hrk,hk->hr", spread[..., :runs], own)
        spread[..., :runs] *= 1 + all_[..., None]
        spread[..., runs] += self.tolerances.cable * by_runs
        joint.lean(rows, joint.error[rows] + all_ * by_runs, spread)

    def _settle(self, joint: Joint, read: Floats, scatter: Floats) -> None:
        """Take accuracy at what is there to be read, not at what was drawn.

        What is there is the prediction, moved as shared errors are likeliest to have moved it. In
        a hypothesis that fits poorly that is far enough to count.
        """
        observed, meter = self.observed, self.observed.meter
        moved = np.maximum(read + joint.error - joint.left, 0.0)
        there = np.where(meter.logarithmic, read, moved)
        variance = (scatter * meter.sd(there, observed.resolution)) ** 2
        changed = np.abs(variance / joint.variance - 1) > _MOVED
        rows = np.flatnonzero((changed & joint.used).any(axis=-1))
        if rows.size:
            joint.settle(rows, variance[rows])

    def _log_chance(self, chance: Floats) -> Floats:
        """Return log chances of open readings and of bounds; nil for plain numbers."""
        logs, asked = np.zeros(chance.shape), ~self.observed.number
        logs[..., asked] = self.log_of_chance(chance[..., asked])
        return logs

    def log_of_chance(self, chance: Floats) -> Floats:
        """Return logarithms of chances, none of them less than the least."""
        return np.asarray(np.log(np.maximum(chance, self.least_chance)))

    @property
    def least_chance(self) -> float:
        """Chance that stands for none, since any reading may be miswritten."""
        return self.tolerances.slip / 10

    def _chance(self, read: Floats, variance: Floats) -> Floats:
        """Return the chance of each open reading and bound; one for plain numbers."""
        observed, meter = self.observed, self.observed.meter
        chance = np.ones(read.shape)
        if observed.open.any():
            which = observed.open
            chance[..., which] = meter.chance_open(read[..., which], which)
        if (observed.less | observed.more).any():
            finite = np.isfinite(read)
            with np.errstate(invalid="ignore"):
                off = (meter.scale(observed.value) - meter.scale(read)) / np.sqrt(variance)
            below = np.where(finite, normal_cdf(np.where(finite, off, 0.0)), 0.0)
            chance = np.where(observed.less, below, chance)
            chance = np.where(observed.more, 1 - below, chance)
        return chance
