"""From ohms to grades: how each reading stands against what it should be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from faultfinder.evidence.expectation import Expectation
from faultfinder.readings.reading import Reading, Spot
from faultfinder.rulebook.vocabulary import Grade
from faultfinder.source.quantity import Amount

_SHORT_SHARE = 0.1  # of what is expected: below it a low reading is called a short


@dataclass(frozen=True, slots=True)
class GradedReading:
    """A reading with its grade.

    Attributes
    ----------
    reading : Reading
        As written.
    expected : Expectation
        What the sound circuit should read.
    grade : Grade
        ``open`` where a value was expected, ``conducts`` where open was, ``short`` near nothing.
    like : str
        The other pair at this place whose expected value it reads instead, or "".
    within_limit : bool or None
        Whether the standard's limit allows it; None without a limit, or where a bound leaves it
        undecided.
    """

    reading: Reading
    expected: Expectation
    grade: Grade
    like: str
    within_limit: bool | None

    @property
    def spot(self) -> Spot:
        """What it is a reading of."""
        return self.reading.spot

    @property
    def is_fine(self) -> bool:
        """Whether it reads as it should."""
        return self.grade == "as-expected"


def grade_readings(
    readings: Sequence[Reading], expected: Mapping[Spot, Expectation]
) -> tuple[GradedReading, ...]:
    """Return the readings with their grades; ``expected`` holds every pair of their places."""
    return tuple(
        GradedReading(
            reading,
            expected[reading.spot],
            grade(reading.amount, expected[reading.spot]),
            _like(reading, expected),
            _within(reading.amount, expected[reading.spot]),
        )
        for reading in readings
    )


def grade(amount: Amount, expected: Expectation) -> Grade:
    """Return how an amount stands against what was expected."""
    value, bound = amount.value, amount.bound
    if bound == "open":
        return "as-expected" if expected.is_open else "open"
    if bound == ">":
        return "as-expected" if expected.is_open or value < expected.high else "high"
    if bound == "<" and value > expected.low:
        return "as-expected"
    if expected.is_open:
        return "conducts" if value < expected.low else "as-expected"
    if bound == "=" and expected.low <= value <= expected.high:
        return "as-expected"
    if bound == "=" and value > expected.high:
        return "high"
    return "short" if value < _SHORT_SHARE * expected.value else "low"


def _like(reading: Reading, expected: Mapping[Spot, Expectation]) -> str:
    spot, amount = reading.spot, reading.amount
    if amount.bound != "=" or grade(amount, expected[spot]) == "as-expected":
        return ""
    for other, expectation in expected.items():
        here = (other.test, other.at) == (spot.test, spot.at)
        another = here and other.switch != "off" and other.between != spot.between
        if another and expectation.low <= amount.value <= expectation.high:
            return other.between
    return ""


def _within(amount: Amount, expected: Expectation) -> bool | None:
    limit = expected.limit
    if limit is None:
        return None
    if abs(amount.value - limit.value) < expected.limit_margin:
        return None
    allowed = limit.allows(amount.value)
    if amount.bound == "<" and limit.bound == "at least":
        return None if allowed else False
    if amount.bound == ">" and limit.bound == "at most":
        return None if allowed else False
    if amount.bound == "<":
        return True if allowed else None
    if amount.bound == ">":
        return True if allowed else None
    return allowed
