"""Quick scores: predictions against readings, each reading by itself.

Accuracy is taken at what was read, not at what is predicted: a prediction that fits differs little
in it, and one that does not is out anyway. So a score is a distance, a square and a floor. Shared
errors are taken as if each reading had its own.
"""

from math import pi

import numpy as np

from faultfinder.diagnosis.likelihood import Jury
from faultfinder.evidence.lean import Floats


class Quick:
    """The readings of a jury, r of them, ready to score very many predictions."""

    def __init__(self, jury: Jury) -> None:
        observed, meter = jury.observed, jury.observed.meter
        self._jury, self._numbers = jury, np.flatnonzero(observed.number)
        self._meter = meter.only(self._numbers.tolist())
        own = max(jury.scatters) * meter.sd(observed.value, observed.resolution)
        shared = jury.rough_spread(observed.value[None])[0]
        variance = (own**2 + (shared**2).sum(axis=-1))[self._numbers]
        self._value = self._meter.scale(observed.value[self._numbers])
        self._sharp = np.sqrt(0.5 / variance)
        self._top = -0.5 * np.log(2 * pi * variance)
        self._floor = jury.slip_log[self._numbers]

    def scores(self, read: Floats) -> Floats:
        """Return log likelihoods of predictions, shape (..., r) to (...)."""
        off = self._meter.scale(read[..., self._numbers]) - self._value
        off *= self._sharp
        off *= off
        np.subtract(self._top, off, out=off)
        np.maximum(off, self._floor, out=off)
        return np.asarray(off.sum(axis=-1) + self._jury.beyond(read))
