"""Numbers that are jointly Gaussian, with errors that they share, and the normal distribution."""

from functools import cached_property
from math import pi, sqrt

import numpy as np

from faultfinder.evidence.lean import Flags, Floats, Indices

# How what a Joint is made of grows with its variance.
_POWERS = {"error": 0, "spread": 0, "used": 0, "variance": 1} | dict.fromkeys(
    ("weight", "gram", "projected"), -1
)
_FAR_SHIFT, _FAR_LEFT = 2.5, 3.2  # standard deviations of a shared error, of a reading


class Joint:
    """Numbers jointly Gaussian about predictions: scatter of their own, and shared errors.

    Shapes: error, variance, used (h, r); spread (h, r, p). The covariance is D + B Bᵀ over the
    readings used, its inverse W - W B M⁻¹ Bᵀ W with W = D⁻¹ and M = I + Bᵀ W B.
    """

    def __init__(self, error: Floats, variance: Floats, spread: Floats, used: Flags) -> None:
        self.error, self.variance, self.spread, self.used = error, variance, spread, used
        self.weight = np.where(used, 1 / variance, 0.0)
        weighted = spread * self.weight[..., None]
        self.gram = np.swapaxes(weighted, -1, -2) @ spread
        self.projected = np.einsum("hrp,hr->hp", weighted, error)

    def scaled(self, scatters: Floats) -> "Joint":
        """Return the same with the scatter of each number so many times as large.

        For all scatters (s,) at once: s times h rows, those of one scatter after the other.
        """
        scaled, squared = Joint.__new__(Joint), np.repeat(scatters**2, len(self.error))
        for name, power in _POWERS.items():
            own = getattr(self, name)
            several = np.tile(own, (len(scatters), *(1,) * (own.ndim - 1)))
            factor = squared.reshape(-1, *(1,) * (own.ndim - 1))
            setattr(scaled, name, several * factor**power if power else several)
        return scaled

    @cached_property
    def log_variance(self) -> Floats:
        """Logarithm of the variance, and of what a density has besides, shape (h, r)."""
        return np.log(2 * pi * self.variance)

    @cached_property
    def inner(self) -> Floats:
        """``M``, shape (h, p, p)."""
        return np.asarray(self.gram + np.eye(self.gram.shape[-1]))

    @cached_property
    def shift(self) -> Floats:
        """How far each shared error is likeliest to be off, in standard deviations, (h, p)."""
        return np.linalg.solve(self.inner, self.projected[..., None])[..., 0]

    @cached_property
    def left(self) -> Floats:
        """What that leaves of each error, shape (h, r)."""
        return np.asarray(self.error - np.einsum("hrp,hp->hr", self.spread, self.shift))

    def leave_out(self, rows: Indices, columns: Indices) -> None:
        """Leave out one reading each of some of the hypotheses."""
        weight, error = self.weight[rows, columns, None], self.error[rows, columns, None]
        spread = self.spread[rows, columns]
        self.used[rows, columns] = False
        self.weight[rows, columns] = 0.0
        self.gram[rows] -= (weight * spread)[..., None] * spread[:, None]
        self.projected[rows] -= weight * error * spread
        self.inner[rows] = self.gram[rows] + np.eye(spread.shape[1])
        inner, projected = self.inner[rows], self.projected[rows, :, None]
        self.shift[rows] = shift = np.linalg.solve(inner, projected)[..., 0]
        self.left[rows] = self.error[rows] - np.einsum("hrp,hp->hr", self.spread[rows], shift)

    def lean(self, rows: Indices, error: Floats, spread: Floats) -> None:
        """Give the numbers of some of the hypotheses other shared errors, and errors to go with."""
        self.error[rows], self.spread[rows] = error, spread
        self._anew(rows)

    def settle(self, rows: Indices, variance: Floats) -> None:
        """Give the numbers of some of the hypotheses another scatter."""
        self.variance[rows] = variance
        self._anew(rows)

    def _anew(self, rows: Indices) -> None:
        anew = Joint(self.error[rows], self.variance[rows], self.spread[rows], self.used[rows])
        for name in ("weight", "gram", "log_variance", "inner", "projected", "shift", "left"):
            getattr(self, name)[rows] = getattr(anew, name)

    def log(self) -> Floats:
        """Return the log density, shape (h,)."""
        squares = (self.error**2 * self.weight).sum(-1) - (self.projected * self.shift).sum(-1)
        log_det = np.linalg.slogdet(self.inner)[1]
        log_det = log_det + np.where(self.used, self.log_variance, 0.0).sum(-1)
        return np.asarray(-0.5 * (squares + log_det))

    def log_of_left(self, rows: Indices) -> Floats:
        """Return the log densities of some hypotheses' numbers, shared errors settled, (m, r)."""
        squares = self.left[rows] ** 2 / self.variance[rows]
        return np.asarray(-0.5 * (squares + self.log_variance[rows]))

    def log_given_others(self, rows: Indices) -> Floats:
        """Return the log density of each of their numbers given all the others, shape (m, r).

        From the inverse covariance Q: error [Q e]_i / Q_ii, variance 1 / Q_ii. It differs from what
        is left only where shared errors have moved far to please one reading; where none has, and
        nothing much is left, the quicker figure stands.
        """
        log_density = self.log_of_left(rows)
        moved = (np.abs(self.shift[rows]) > _FAR_SHIFT).any(-1)
        is_left = (self.left[rows] ** 2 * self.weight[rows] > _FAR_LEFT**2).any(-1)
        far = np.flatnonzero(moved | is_left)
        if not far.size:
            return log_density
        some = rows[far]
        spread, weight, left = self.spread[some], self.weight[some], self.left[some]
        own = ((spread @ np.linalg.inv(self.inner[some])) * spread).sum(-1)
        precision = np.where(self.used[some], weight - weight**2 * own, 1.0)
        off = weight * left / precision
        log_density[far] = -0.5 * (off**2 * precision + np.log(2 * pi / precision))
        return log_density


def normal_cdf(x: Floats) -> Floats:
    """Return the standard normal distribution function, to 1.5e-7 absolute.

    Abramowitz and Stegun, Handbook of Mathematical Functions, 7.1.26 (from memory; held against
    ``math.erf`` in the tests). numpy has no erf, and scipy would cost a second at start-up.
    """
    t = 1 / (1 + 0.3275911 * np.abs(x) / sqrt(2))
    coefficients = (1.061405429, -1.453152027, 1.421413741, -0.284496736, 0.254829592)
    tail = np.polyval((*coefficients, 0.0), t) * np.exp(-(x**2) / 2) / 2
    return np.where(x < 0, tail, 1 - tail)
