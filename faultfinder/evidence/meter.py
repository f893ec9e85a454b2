"""What the instrument and the drawing may be off by, for each reading of a bench."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from faultfinder.evidence.lean import SUPPLY_OHMS, SUPPLY_VOLTS, Flags, Floats, Lean
from faultfinder.readings.reading import Instrument, Quantity, Spot
from faultfinder.rulebook.procedures import Procedure
from faultfinder.rulebook.tolerances import Tolerances

# An instrument whose range is not stated reads open somewhere between these, every ratio equally
# likely (low-resistance ranges end at 200 ohm to 20 Mohm; insulation ranges at 100 Mohm to
# 10 Gohm; loop ranges at 20 ohm to 2 kohm; common practice, no source). The others have no "open".
_UNSTATED_TOP = {"resistance": (200.0, 2e7), "insulation": (100.0, 1e4), "loop": (20.0, 2e3)}
_NO_TOP = (1e12, 1e12)

# Insulation ranges over decades; a fault current is one over an impedance, whose errors are shares;
# devices trip in half or twice the usual time.
_OVER_DECADES = frozenset({"insulation", "fault-current", "trip-time"})

# A dead short reads 0 Mohm, and a leaflet may give a share alone: the logarithm must end somewhere.
# The last digit that insulation testers show, 0.01 Mohm; common practice, no source.
_LEAST_SHIFT = 0.01


@dataclass(frozen=True, slots=True)
class Meter:
    """The instrument as it stands behind each of r readings; arrays have shape (r,).

    Attributes
    ----------
    share, fixed : ndarray
        Its accuracy: a share of the value plus a fixed part in the test's unit.
    top_low, top_high : ndarray
        Where its range may end; equal where that is known.
    logarithmic : ndarray of bool
        Whether errors are judged on a logarithm (insulation, fault current, trip time) or on the
        value.
    quantity : tuple of str
        What each reading is of; one instrument's gain is shared by all of one quantity.
    stated : bool
        Whether the case states its accuracy.
    """

    share: Floats
    fixed: Floats
    top_low: Floats
    top_high: Floats
    logarithmic: Flags
    quantity: tuple[Quantity, ...]
    stated: bool

    def only(self, readings: Sequence[int]) -> "Meter":
        """Return what stands behind some of the readings."""
        return Meter(
            self.share[readings],
            self.fixed[readings],
            self.top_low[readings],
            self.top_high[readings],
            self.logarithmic[readings],
            tuple(self.quantity[index] for index in readings),
            self.stated,
        )

    def sd(self, read: Floats, resolution: Floats | float = 0.0) -> Floats:
        """Return the accuracy at predictions (..., r), on the scale of ``scale``.

        A last digit written adds its rounding. Open predictions get the accuracy at one, unused.
        """
        finite = np.where(np.isfinite(read), read, 1.0)
        accuracy = np.sqrt((self.share * finite + self.fixed) ** 2 + resolution**2 / 12)
        return accuracy / self._per(finite) if self.logarithmic.any() else accuracy

    def scale(self, read: Floats) -> Floats:
        """Return values on the scale errors are judged on.

        Resistance is judged as it is; insulation, which ranges over decades, on the logarithm of
        the value plus ``fixed / share``: there the instrument's accuracy is the same everywhere.
        Where nothing fixed is stated a last digit is added, so that zero has a place.
        """
        if not self.logarithmic.any():
            return read
        return np.where(self.logarithmic, np.log(read + self.shift), read)

    def unscale(self, scaled: Floats) -> Floats:
        """Return values from that scale back in the test's unit."""
        return np.where(self.logarithmic, np.exp(scaled * self.logarithmic) - self.shift, scaled)

    def _per(self, read: Floats) -> Floats:
        """Return the change of a value for a small change of its place on the scale."""
        return np.where(self.logarithmic, read + self.shift, 1.0)

    @property
    def shift(self) -> Floats:
        """What is added to a value before its logarithm is taken, shape (r,)."""
        return np.maximum(self.fixed / self.share, _LEAST_SHIFT)

    def chance_open(self, read: Floats, which: Flags | None = None) -> Floats:
        """Return the chance that the instrument shows a resistance as over its range.

        ``which`` of the r readings the last axis of ``read`` is of, where it is not of all.
        """
        which = np.ones(len(self.share), dtype=bool) if which is None else which
        top_low, top_high = self.top_low[which], self.top_high[which]
        low, width = np.log(top_low), np.log(top_high / top_low)
        with np.errstate(divide="ignore"):
            above = np.log(read) - low
        known = width == 0
        return np.where(known, above > 0, np.clip(above / np.where(known, 1.0, width), 0.0, 1.0))

    def shows_value(self, read: Floats) -> Flags:
        """Return where a value is likelier to be shown than open, for predictions (..., r)."""
        return np.asarray(read <= np.sqrt(self.top_low * self.top_high))

    def shared_errors(self, lean: Lean, tolerances: Tolerances) -> Floats:
        """Return slopes times standard deviations of errors that readings share, (h, r, p).

        Columns: the length of each run, all cable, the terminators, sound insulation, the supply,
        the cores' capacitance, each as far as readings lean on any; the gain of the instrument by
        quantity, and what nulling left of the leads. On the scale of ``scale``.
        """
        terminators = [i for i, name in enumerate(lean.names) if name.startswith("terminator ")]
        leaks = [i for i, name in enumerate(lean.names) if name.startswith("leak ")]
        cores = [i for i, name in enumerate(lean.names) if name.startswith("cores ")]
        finite = np.where(np.isfinite(lean.read), lean.read, 1.0)
        gain = tolerances.gain * self.share * finite
        quantity = np.array(self.quantity, dtype=str)
        leads = np.broadcast_to((quantity == "resistance") * tolerances.leads, finite.shape)
        columns = [
            *_each_and_all(lean.slopes[..., lean.runs], tolerances.run_length, tolerances.cable),
            lean.slopes[..., terminators] * tolerances.terminator,
            *_each_and_all(lean.slopes[..., leaks], tolerances.leak_of_pair, tolerances.leak),
            *(
                lean.slopes[..., [i for i, n in enumerate(lean.names) if n == name]] * sd
                for name, sd in (
                    (SUPPLY_OHMS, tolerances.supply_ohms),
                    (SUPPLY_VOLTS, tolerances.supply_volts),
                )
            ),
            *_each_and_all(lean.slopes[..., cores], tolerances.cores_of_pair, tolerances.cores),
            np.stack(
                [*(gain * (quantity == one) for one in dict.fromkeys(self.quantity)), leads],
                axis=-1,
            ),
        ]
        return np.concatenate(columns, axis=-1) / self._per(finite)[..., None]


def _each_and_all(slopes: Floats, each: float, together: float) -> list[Floats]:
    """Return slopes (..., n) times how far each is off by itself, and all are together."""
    whole = slopes.sum(axis=-1, keepdims=True)
    return [slopes * each, whole * together] if slopes.shape[-1] else []


def meter_for(
    spots: Sequence[Spot],
    procedures: Mapping[str, Procedure],
    instrument: Instrument,
    shown: Mapping[Quantity, float] | None = None,
) -> Meter:
    """Return the meter behind a set of readings.

    ``shown`` is the highest value it has shown, by quantity: that is within its range, whatever the
    case says of it.
    """
    quantities = tuple(procedures[spot.test].quantity for spot in spots)
    accuracies = [instrument.accuracy(quantity) for quantity in quantities]
    tops = []
    for quantity, accuracy in zip(quantities, accuracies, strict=True):
        low, high = _UNSTATED_TOP.get(quantity, _NO_TOP)
        if accuracy.range_top is not None:
            low = high = accuracy.range_top
        highest = (shown or {}).get(quantity, 0.0)
        tops.append((max(low, highest), max(high, highest)))
    return Meter(
        share=np.array([accuracy.share for accuracy in accuracies]),
        fixed=np.array([accuracy.fixed for accuracy in accuracies]),
        top_low=np.array([low for low, _ in tops]),
        top_high=np.array([high for _, high in tops]),
        logarithmic=np.array([one in _OVER_DECADES for one in quantities], dtype=bool),
        quantity=quantities,
        stated=any(accuracy.stated for accuracy in accuracies),
    )
