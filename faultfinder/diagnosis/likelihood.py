"""How likely the readings are under a hypothesis.

Model
-----
The readings that are numbers, under a hypothesis that predicts numbers for them, are jointly
Gaussian about the prediction. Their errors are of two kinds. Scatter is each reading's own:
``D = s² (share · R + fixed)²`` with a factor ``s`` that is averaged over, since few people know
their instrument. Shared errors move many readings together: the length of each run and of all
cable, the terminators' true values, the instrument's gain, what nulling left of the leads. With
``B`` their slopes times their standard deviations the covariance is ``D + B Bᵀ``, so that a cable
longer than drawn is not taken for a bad joint. It is evaluated through the ``p × p`` matrix
``M = I + Bᵀ D⁻¹ B`` (Woodbury identity and the determinant lemma): ``p`` is the number of shared
errors, far less than the number of readings on a long circuit.

A reading may also be plain wrong. Where a hypothesis has no place for a number, or one lies far
outside what is left of its own scatter, it is scored as a slip: a small chance, spread evenly over
the decades a reading can have. Open readings are scored by the chance that the instrument's range
ends below the prediction, bounds by the Gaussian tail.
"""

from dataclasses import dataclass
from functools import cached_property
from math import log, pi, sqrt

import numpy as np

from faultfinder.evidence.bench import Floats, Lean
from faultfinder.evidence.meter import Flags
from faultfinder.evidence.observed import Observed
from faultfinder.rulebook.tolerances import Tolerances

_SLIP_RANGE = log(1e7)  # a slip may show anything over seven decades
_MOST_SLIPS = 4


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
    def _slip_log(self) -> Floats:
        """Log density of a number that is a slip, shape (r,)."""
        flat = np.log(self.tolerances.slip / _SLIP_RANGE)
        size = np.maximum(np.abs(self.observed.value), 1e-2)
        per_value = np.where(self.observed.meter.logarithmic, 0.0, np.log(size))
        return np.where(self.observed.number, flat - per_value, 0.0)

    @cached_property
    def _sound_spread_squared(self) -> Floats:
        return np.asarray((self.spread(self.sound)[0] ** 2).sum(axis=-1))

    def glance(self, read: Floats) -> Floats:
        """Return quick log likelihoods of predictions, shape (..., r) to (...)."""
        return np.asarray(self.glance_each(read).sum(axis=-1))

    def glance_each(self, read: Floats) -> Floats:
        """Return what each reading says for predictions of it, (..., r), in nats.

        Shared errors are the sound circuit's, taken as if each reading had its own.
        """
        observed, meter = self.observed, self.observed.meter
        variance = (max(self.scatters) * meter.sd(read, observed.resolution)) ** 2
        variance += self._sound_spread_squared
        with np.errstate(invalid="ignore"):  # numbers only: the rest is masked below
            error = meter.scale(observed.value) - meter.scale(read)
            own = -0.5 * (error**2 / variance + np.log(2 * pi * variance))
        possible = observed.number & np.isfinite(read)
        own = np.where(possible, np.maximum(own, self._slip_log), self._slip_log)
        return np.asarray(own + self._beyond_numbers(read, variance))

    def weigh(self, read: Floats, spread: Floats) -> Fit:
        """Return how each hypothesis fits, scatter averaged over.

        Parameters
        ----------
        read : ndarray, shape (h, r)
            Predictions, in the tests' units; infinity is open.
        spread : ndarray, shape (h, r, p)
            Shared errors, from ``spread``.
        """
        parts = [self._weigh_at(read, spread, scatter) for scatter in self.scatters]
        logs = np.stack([part.log for part in parts])
        peak = logs.max(axis=0)
        likeliest = logs.argmax(axis=0), np.arange(read.shape[0])
        return Fit(
            peak + np.log(np.exp(logs - peak).mean(axis=0)),
            np.stack([part.residual for part in parts])[likeliest],
            np.stack([part.slips for part in parts])[likeliest],
        )

    def _weigh_at(self, read: Floats, spread: Floats, scatter: float) -> Fit:
        observed, meter, slip_log = self.observed, self.observed.meter, self._slip_log
        variance = (scatter * meter.sd(read, observed.resolution)) ** 2
        possible = observed.number & np.isfinite(read)
        with np.errstate(invalid="ignore"):
            error = meter.scale(observed.value) - meter.scale(read)
        error = np.where(possible, error, 0.0)
        slips = observed.number & ~possible
        identity = np.eye(spread.shape[-1])
        for _ in range(_MOST_SLIPS + 1):
            used = observed.number & ~slips
            weight = np.where(used, 1 / variance, 0.0)
            weighted = spread * weight[..., None]
            inner = np.swapaxes(weighted, -1, -2) @ spread + identity
            projected = np.einsum("hrp,hr->hp", weighted, error)
            shift = np.linalg.solve(inner, projected[..., None])[..., 0]
            left = error - np.einsum("hrp,hp->hr", spread, shift)
            own = -0.5 * (left**2 / variance + np.log(2 * pi * variance))
            gain = np.where(used, slip_log - own, -np.inf)
            if not gain.size:  # nothing was read
                break
            worst = gain.argmax(axis=-1)
            rows = np.flatnonzero(gain[np.arange(len(worst)), worst] > 0)
            if not rows.size:
                break
            slips[rows, worst[rows]] = True
        squares = (error**2 * weight).sum(-1) - (projected * shift).sum(-1)
        log_det = np.linalg.slogdet(inner)[1] + np.where(used, np.log(variance), 0.0).sum(-1)
        gaussian = -0.5 * (squares + log_det + used.sum(-1) * log(2 * pi))
        whole = variance + (spread**2).sum(-1)
        total = gaussian + np.where(slips, slip_log, 0.0).sum(-1)
        total += self._beyond_numbers(read, whole).sum(-1)
        residual = np.where(used, left / np.sqrt(variance), 0.0)
        return Fit(total, residual, slips | self._refuted(read))

    def _beyond_numbers(self, read: Floats, variance: Floats) -> Floats:
        """Return log chances of open readings, of bounds, and of a number being in range at all."""
        observed, meter = self.observed, self.observed.meter
        chance_open = meter.chance_open(read)
        finite = np.isfinite(read)
        chance = np.where(observed.number & finite, 1 - chance_open, 1.0)
        chance = np.where(observed.open, chance_open, chance)
        if (observed.less | observed.more).any():
            with np.errstate(invalid="ignore"):
                off = (meter.scale(observed.value) - meter.scale(read)) / np.sqrt(variance)
            below = np.where(finite, normal_cdf(np.where(finite, off, 0.0)), 0.0)
            chance = np.where(observed.less, below, chance)
            chance = np.where(observed.more, 1 - below, chance)
        return np.log(np.maximum(chance, self.tolerances.slip / 10))

    def _refuted(self, read: Floats) -> Flags:
        """Return which open readings a hypothesis has no place for, shape (h, r)."""
        return self.observed.open & (self.observed.meter.chance_open(read) < 0.01)


def normal_cdf(x: Floats) -> Floats:
    """Return the standard normal distribution function, to 1.5e-7 absolute.

    Abramowitz and Stegun, Handbook of Mathematical Functions, 7.1.26 (from memory; held against
    ``math.erf`` in the tests). numpy has no erf, and scipy would cost a second at start-up.
    """
    t = 1 / (1 + 0.3275911 * np.abs(x) / sqrt(2))
    coefficients = (1.061405429, -1.453152027, 1.421413741, -0.284496736, 0.254829592)
    tail = np.polyval((*coefficients, 0.0), t) * np.exp(-(x**2) / 2) / 2
    return np.where(x < 0, tail, 1 - tail)
