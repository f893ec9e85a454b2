"""From ohms to grades: every grade, at and on both sides of where it begins."""

import math
from dataclasses import replace

import pytest

from faultfinder.evidence.expectation import Expectation
from faultfinder.evidence.grading import grade, grade_readings
from faultfinder.readings.reading import Reading, Spot
from faultfinder.source.quantity import Amount
from faultfinder.standards.limit import Limit

OPEN = math.inf
AT_LEAST = Limit(1.0, "ohm", "at least", "table", "", "", "")
AT_MOST = Limit(1.0, "ohm", "at most", "table", "", "", "")


def should_be(value, low, high, spot=None, limit=None):
    return Expectation(
        spot or Spot("terminated", "S1", "on", "A-E"), "ohm", value, low, high, limit
    )


TEN = should_be(10.0, 9.0, 11.0)
OPEN_FOR_SURE = should_be(OPEN, OPEN, OPEN)
OPEN_ABOVE_FIFTY = should_be(OPEN, 50.0, OPEN)


def amount(text):
    bound = text[0] if text[0] in "<>" else "="
    return Amount(OPEN, "open") if text == "open" else Amount(float(text.lstrip("<>")), bound)


@pytest.mark.parametrize(
    ("read", "expected", "found"),
    [
        ("9", TEN, "as-expected"),
        ("10", TEN, "as-expected"),
        ("11", TEN, "as-expected"),
        ("11.01", TEN, "high"),
        ("8.99", TEN, "low"),
        ("1", TEN, "low"),
        ("0.99", TEN, "short"),
        ("0", TEN, "short"),
        ("open", TEN, "open"),
        ("open", OPEN_FOR_SURE, "as-expected"),
        ("1e9", OPEN_FOR_SURE, "conducts"),
        ("0", OPEN_FOR_SURE, "conducts"),
        ("49.9", OPEN_ABOVE_FIFTY, "conducts"),
        ("50", OPEN_ABOVE_FIFTY, "as-expected"),
        ("open", OPEN_ABOVE_FIFTY, "as-expected"),
        (">5", TEN, "as-expected"),  # may be 10
        (">10.9", TEN, "as-expected"),
        (">11", TEN, "high"),
        (">5", OPEN_FOR_SURE, "as-expected"),
        (">5", OPEN_ABOVE_FIFTY, "as-expected"),
        ("<12", TEN, "as-expected"),
        ("<9.1", TEN, "as-expected"),  # may be 9.05
        ("<9", TEN, "low"),
        ("<0.99", TEN, "short"),
        ("<51", OPEN_ABOVE_FIFTY, "as-expected"),
        ("<49", OPEN_ABOVE_FIFTY, "conducts"),
        ("<1e9", OPEN_FOR_SURE, "conducts"),
    ],
)
def test_every_grade(read, expected, found):
    assert grade(amount(read), expected) == found


@pytest.mark.parametrize(
    ("limit", "read", "within"),
    [
        (None, "5", None),
        (AT_MOST, "1", True),
        (AT_MOST, "1.01", False),
        (AT_MOST, "open", False),
        (AT_MOST, "<1", True),
        (AT_MOST, "<1.5", None),
        (AT_MOST, ">0.5", None),
        (AT_MOST, ">1.5", False),
        (AT_LEAST, "1", True),
        (AT_LEAST, "0.99", False),
        (AT_LEAST, "open", True),
        (AT_LEAST, ">1", True),
        (AT_LEAST, ">0.5", None),
        (AT_LEAST, "<1.5", None),
        (AT_LEAST, "<0.5", False),
    ],
)
def test_a_limit_is_kept_broken_or_left_undecided_by_a_bound(limit, read, within):
    spot = Spot("terminated", "S1", "on", "A-E")
    expected = {spot: should_be(10.0, 9.0, 11.0, spot, limit)}
    (graded,) = grade_readings([Reading(spot, amount(read), 0.01)], expected)
    assert graded.within_limit is within


@pytest.mark.parametrize("limit", [AT_MOST, AT_LEAST])
@pytest.mark.parametrize(("read", "above"), [("0.89", False), ("1.11", True)])
def test_a_limit_is_undecided_within_its_margin(limit, read, above):
    """Beyond it the limit holds as ever; within it neither side is claimed."""
    spot = Spot("terminated", "S1", "on", "A-E")
    expected = {spot: replace(should_be(10.0, 9.0, 11.0, spot, limit), limit_margin=0.1)}

    def within(read):
        (graded,) = grade_readings([Reading(spot, amount(read), 0.01)], expected)
        return graded.within_limit

    assert within(read) is (above == (limit is AT_LEAST))
    for undecided in ("0.91", "1", "1.09"):
        assert within(undecided) is None
    assert within("open") is (limit is AT_LEAST)


BAND = {"A-N": 15.0, "A-E": 10.0, "N-E": 5.0}


def place(at="S1", switch="on", test="terminated"):
    """Return what a place should read: 15, 10 and 5 ohm, or open with its switch off."""
    spots = {pair: Spot(test, at, switch, pair) for pair in BAND}
    return {
        spot: should_be(OPEN, OPEN, OPEN, spot)
        if switch == "off" and pair != "N-E"
        else should_be(BAND[pair], BAND[pair] - 1, BAND[pair] + 1, spot)
        for pair, spot in spots.items()
    }


def likeness(spot, read, expected):
    (graded,) = grade_readings([Reading(spot, amount(read), 0.01)], expected)
    return graded.like


def test_a_reading_that_is_off_is_like_the_pair_whose_value_it_has():
    expected = place()
    spot = Spot("terminated", "S1", "on", "A-E")
    assert likeness(spot, "5.1", expected) == "N-E"
    assert likeness(spot, "15.5", expected) == "A-N"
    assert likeness(spot, "7.5", expected) == ""


def test_a_reading_that_is_fine_or_no_number_is_like_no_other():
    expected = place()
    spot = Spot("terminated", "S1", "on", "A-E")
    for read in ("10.2", "open", "<5", ">15"):
        assert likeness(spot, read, expected) == ""


def test_likeness_is_to_the_same_place_and_test_with_its_switch_on():
    elsewhere = place("S2") | place(test="linked-out")
    spot = Spot("terminated", "S1", "on", "A-E")
    only_here = {spot: should_be(10.0, 9.0, 11.0, spot)}
    assert likeness(spot, "5.1", elsewhere | only_here) == ""
    off = Spot("terminated", "S1", "off", "A-E")
    assert likeness(off, "15.0", place() | place(switch="off")) == "A-N"
    # N-E is 5 with the switch off as well, but only what is read with it on is compared.
    assert likeness(off, "5.0", place(switch="off")) == ""


def test_every_reading_is_graded_in_its_order():
    expected = place()
    taken = [Reading(spot, amount("5"), 0.01) for spot in reversed(expected)]
    graded = grade_readings(taken, expected)
    assert [g.spot for g in graded] == [r.spot for r in taken]
    assert [g.is_fine for g in graded] == [True, False, False]
    assert [g.grade for g in graded] == ["as-expected", "low", "low"]
