"""What a reading should be on this circuit, how far it may be off, and what a standard allows."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite

import numpy as np

from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Lean
from faultfinder.evidence.limits import added_ohm, limit_for, supply_drop_v
from faultfinder.evidence.meter import Meter
from faultfinder.readings.reading import Spot
from faultfinder.rulebook.tolerances import Tolerances
from faultfinder.standards.limit import Limit

_MARGIN_SD = 2.0  # of the tolerance of what is added to the limit


@dataclass(frozen=True, slots=True)
class Expectation:
    """What one reading should be, in the test's unit.

    ``value`` is infinite where the instrument should show it as over range; ``low`` and ``high``
    bound what still counts as expected, and ``high`` is infinite where over range is expected too.
    Within ``limit_margin`` of the limit, what a terminator or the supply adds leaves it undecided.
    """

    spot: Spot
    unit: str
    value: float
    low: float
    high: float
    limit: Limit | None
    limit_margin: float = 0.0

    @property
    def is_open(self) -> bool:
        """Whether it should read open, over range."""
        return not isfinite(self.value)


def expectations(
    bench: Bench, meter: Meter, tolerances: Tolerances, lean: Lean, row: int = 0
) -> tuple[Expectation, ...]:
    """Return what each reading of a bench should be, from one row of predictions.

    The band is ``tolerances.band`` standard deviations of the instrument's accuracy and the
    shared errors together.
    """
    read = lean.read[row]
    spread = meter.shared_errors(lean, tolerances)[row]
    half = tolerances.band * np.sqrt(meter.sd(read) ** 2 + (spread**2).sum(-1))
    middle = meter.scale(np.where(np.isfinite(read), read, 1.0))
    low, high = meter.unscale(middle - half), meter.unscale(middle + half)
    opens = meter.chance_open(read) > 0.5
    return tuple(
        _expectation(bench, tolerances, spot, value, (max(0.0, low_), high_), over_range=over)
        for spot, value, low_, high_, over in zip(
            bench.spots, read.tolist(), low.tolist(), high.tolist(), opens.tolist(), strict=True
        )
    )


def _expectation(
    bench: Bench,
    tolerances: Tolerances,
    spot: Spot,
    value: float,
    band: tuple[float, float],
    *,
    over_range: bool,
) -> Expectation:
    procedure = bench.procedures[spot.test]
    low, high = band
    if over_range:
        low = low if isfinite(value) else inf
        value = high = inf
    limit = limit_for(procedure, bench.circuit, bench.terminators, spot, bench.installation)
    if over_range and limit is not None and limit.bound == "at most":
        limit = None  # an open switch is not a failed earth
    margin = _MARGIN_SD * (
        tolerances.terminator * added_ohm(procedure, bench.circuit, bench.terminators, spot)
        + tolerances.supply_ohms * supply_drop_v(procedure, bench.circuit, spot, bench.installation)
    )
    return Expectation(spot, procedure.unit, value, low, high, limit, margin)


def of_spots(expected: Sequence[Expectation]) -> dict[Spot, Expectation]:
    """Return expectations by what they are of."""
    return {expectation.spot: expectation for expectation in expected}
