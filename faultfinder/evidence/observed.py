"""The readings of a case as arrays."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from faultfinder.evidence.lean import Flags, Floats
from faultfinder.evidence.meter import Meter, meter_for
from faultfinder.readings.reading import Instrument, Quantity, Reading
from faultfinder.rulebook.procedures import Procedure


@dataclass(frozen=True, slots=True)
class Observed:
    """Readings as arrays, each of shape (r,).

    Attributes
    ----------
    meter : Meter
        The instrument behind them.
    value : ndarray
        What was written, in the test's unit; infinity for open.
    number, open, less, more : ndarray of bool
        Whether it is a plain number, over range, or a bound (``<``, ``>``).
    resolution : ndarray
        Step of the last digit written.
    """

    meter: Meter
    value: Floats
    number: Flags
    open: Flags
    less: Flags
    more: Flags
    resolution: Floats

    def only(self, readings: Sequence[int]) -> "Observed":
        """Return some of the readings."""
        return Observed(
            self.meter.only(readings),
            self.value[readings],
            self.number[readings],
            self.open[readings],
            self.less[readings],
            self.more[readings],
            self.resolution[readings],
        )


def observe(
    readings: Sequence[Reading], procedures: Mapping[str, Procedure], instrument: Instrument
) -> Observed:
    """Return readings as arrays."""
    bounds = np.array([reading.amount.bound for reading in readings], dtype=str)
    shown: dict[Quantity, float] = {}
    for reading in readings:
        if reading.amount.bound == "=":
            quantity = procedures[reading.spot.test].quantity
            shown[quantity] = max(shown.get(quantity, 0.0), reading.amount.value)
    return Observed(
        meter=meter_for([reading.spot for reading in readings], procedures, instrument, shown),
        value=np.array([reading.amount.value for reading in readings], dtype=float),
        number=bounds == "=",
        open=bounds == "open",
        less=bounds == "<",
        more=bounds == ">",
        resolution=np.array([reading.resolution for reading in readings], dtype=float),
    )
