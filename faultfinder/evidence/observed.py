"""The readings of a case as arrays, with what the instrument may be off by."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from faultfinder.readings.reading import Instrument, Reading
from faultfinder.rulebook.procedures import Procedure

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

# An instrument whose range is not stated reads open somewhere between these, every ratio equally
# likely (low-resistance ranges end at 200 ohm to 20 Mohm; insulation ranges at 100 Mohm to
# 10 Gohm; common practice, no source).
_UNSTATED_TOP = {"ohm": (200.0, 2e7), "Mohm": (100.0, 1e4)}


@dataclass(frozen=True, slots=True)
class Observed:
    """Readings as arrays, each of shape (r,).

    Attributes
    ----------
    value : ndarray
        What was written, in the test's unit; infinity for open.
    number, open, less, more : ndarray of bool
        Whether it is a plain number, over range, or a bound (``<``, ``>``).
    resolution : ndarray
        Step of the last digit written.
    share, fixed : ndarray
        The instrument's accuracy: a share of the value plus a fixed part.
    top_low, top_high : ndarray
        Where the range may end; equal when it is known.
    logarithmic : ndarray of bool
        Whether errors are judged on the logarithm (insulation) or on the value.
    stated : bool
        Whether the case states the accuracy of an instrument.
    """

    value: Floats
    number: Flags
    open: Flags
    less: Flags
    more: Flags
    resolution: Floats
    share: Floats
    fixed: Floats
    top_low: Floats
    top_high: Floats
    logarithmic: Flags
    stated: bool

    def sd(self, read: Floats) -> Floats:
        """Return the accuracy at predicted readings, shape (..., r): of the value, or of its log.

        Readings of the last digit add their rounding. Open predictions get an sd of one, unused.
        """
        finite = np.where(np.isfinite(read) & (read > 0), read, 1.0)
        accuracy = self.share * finite + self.fixed
        accuracy = np.sqrt(accuracy**2 + self.resolution**2 / 12)
        return np.where(self.logarithmic, accuracy / finite, accuracy)

    def scale(self, read: Floats) -> Floats:
        """Return readings on the scale errors are judged on: the value, or its logarithm."""
        with np.errstate(divide="ignore"):
            return np.where(self.logarithmic, np.log(np.maximum(read, 1e-12)), read)

    def chance_open(self, read: Floats) -> Floats:
        """Return the chance that the instrument shows a resistance as over its range."""
        low, high = np.log(self.top_low), np.log(self.top_high)
        with np.errstate(divide="ignore"):
            above = np.log(read) - low
        width = high - low
        return np.where(width > 0, np.clip(above / np.where(width > 0, width, 1), 0, 1), above > 0)


def observe(
    readings: Sequence[Reading], procedures: Mapping[str, Procedure], instrument: Instrument
) -> Observed:
    """Return readings as arrays."""
    units = [procedures[reading.spot.test].unit for reading in readings]
    accuracies = [instrument.accuracy(unit) for unit in units]
    bounds = [reading.amount.bound for reading in readings]
    value = np.array(
        [np.inf if r.amount.bound == "open" else r.amount.value for r in readings], dtype=float
    )
    tops = []
    for unit, accuracy in zip(units, accuracies, strict=True):
        low, high = _UNSTATED_TOP[unit]
        if accuracy.range_top is not None:
            low = high = accuracy.range_top
        shown = [
            r.amount.value
            for r, u in zip(readings, units, strict=True)
            if u == unit and r.amount.bound == "="
        ]
        # What it has shown is within its range, whatever the case says of it.
        tops.append((max([low, *shown]), max([high, *shown])))
    return Observed(
        value=value,
        number=np.array([bound == "=" for bound in bounds]),
        open=np.array([bound == "open" for bound in bounds]),
        less=np.array([bound == "<" for bound in bounds]),
        more=np.array([bound == ">" for bound in bounds]),
        resolution=np.array([reading.resolution for reading in readings]),
        share=np.array([accuracy.share for accuracy in accuracies]),
        fixed=np.array([accuracy.fixed for accuracy in accuracies]),
        top_low=np.array([low for low, _ in tops]),
        top_high=np.array([high for _, high in tops]),
        logarithmic=np.array([unit == "Mohm" for unit in units]),
        stated=any(accuracy.stated for accuracy in accuracies),
    )
