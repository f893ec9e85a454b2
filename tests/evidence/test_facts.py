"""Facts for the rule engine: one example for every row of the table of spreads, at least."""

import math

import pytest
from modelled import BRANCHED, LINE, expected, readings

from faultfinder.evidence.expectation import of_spots
from faultfinder.evidence.facts import facts
from faultfinder.evidence.grading import grade_readings
from faultfinder.readings.reading import Reading, Spot
from faultfinder.rulebook.sign import is_word
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

OPEN = Amount(math.inf, "open")
# BRANCHED: DB - S1 - J1 - S2 - S3, and S4 - S5 from J1.


def graded(circuit, changed, test="terminated"):
    """Return sound readings, graded, of all spots but those changed to an amount or to None."""
    sound = readings(circuit, tests=(test,))
    taken = [
        Reading(r.spot, changed.get(r.spot, r.amount), r.resolution)
        for r in sound
        if changed.get(r.spot, r.amount) is not None
    ]
    return grade_readings(taken, of_spots(expected(circuit, tests=(test,))))


def only(*places, off=(), circuit=BRANCHED):
    """Return graded A-E readings with the switch on at some places, those in ``off`` lost."""
    changed = {
        r.spot: None
        for r in readings(circuit)
        if r.spot.between != "A-E" or r.spot.switch == "off" or r.spot.at not in places
    }
    lost = {r.spot: OPEN for r in readings(circuit) if r.spot.at in off and r.spot not in changed}
    return graded(circuit, changed | lost)


def spread_at(place, several, circuit=BRANCHED):
    (found,) = (f for f in facts(circuit, several) if f["kind"] == "reading" and f["at"] == place)
    return found["spread"]


ALL = ("S1", "S2", "S3", "S4", "S5")


@pytest.mark.parametrize(
    ("spread", "at", "read", "off"),
    [
        ("fine", "S1", ALL, ("S2", "S3")),
        ("fine", "S1", ("S1",), ()),
        ("beyond", "S3", ALL, ("S2", "S3")),
        ("beyond", "S5", ("S1", "S5"), ("S1", "S5")),  # S4 lies between and was not read
        ("everywhere", "S1", ALL, ALL),
        ("everywhere", "S2", ("S2", "S4"), ("S2", "S4")),  # both branches, nothing before them
        ("here-and-beyond", "S2", ALL, ("S2", "S3")),
        ("here-and-beyond", "S2", ("S2", "S3", "S4"), ("S2", "S3")),  # nothing read before
        ("only-here", "S2", ALL, ("S2",)),
        ("only-here", "S1", ALL, ("S1",)),
        ("last-read", "S3", ALL, ("S3",)),
        ("last-read", "S2", ("S1", "S2", "S4"), ("S2",)),  # S3 beyond it was not read
        ("last-read", "S2", ("S2", "S4"), ("S2",)),  # nothing before, another branch is right
        ("last-read", "S2", ("S2",), ("S2",)),  # the only one read
        ("scattered", "S1", ALL, ("S1", "S3")),
        ("scattered", "S1", ALL, ("S1", "S4", "S5")),
    ],
)
def test_every_spread(spread, at, read, off):
    assert spread_at(at, only(*read, off=off)) == spread


def test_a_spread_looks_at_the_same_test_pair_and_position_only():
    """N-E is lost everywhere, and A-E with the switch off reads where it should not."""
    everything = {r.spot: r.amount for r in readings(LINE)}
    changed = {s: OPEN for s in everything if s.between == "N-E"}
    changed |= {s: Amount(10.3, "=") for s in everything if s.switch == "off" and s.at == "S1"}
    lost = Spot("terminated", "S1", "on", "A-E")
    told = facts(LINE, graded(LINE, changed | {lost: OPEN}))
    (found,) = (
        f
        for f in told
        if f["kind"] == "reading" and (f["at"], f["switch"], f["between"]) == ("S1", "on", "A-E")
    )
    assert found["spread"] == "only-here"


def test_each_reading_is_told_in_words():
    told = facts(LINE, graded(LINE, {}))
    ids = [fact["id"] for fact in told]
    assert len(set(ids)) == len(ids)
    assert all(is_word(word) for fact in told for word in fact.values())
    by_spot = {(f["at"], f["switch"], f["between"]): f for f in told if f["kind"] == "reading"}
    assert by_spot["S1", "on", "A-E"] == {
        "kind": "reading",
        "id": by_spot["S1", "on", "A-E"]["id"],
        "test": "terminated",
        "at": "S1",
        "switch": "on",
        "between": "A-E",
        "grade": "as-expected",
        "like": "none",
        "spread": "fine",
        "lowest": "yes",
        "switched": "yes",
    }
    assert by_spot["S3", "none", "A-E"]["switched"] == "no"
    assert by_spot["S3", "none", "A-E"]["lowest"] == "no"


def test_the_lowest_of_a_pair_is_the_one_nearest_a_bridge():
    bridge = Fault("bridged", ("A", "E"), "S2", 0.5)
    sound = of_spots(expected(LINE))
    told = facts(LINE, grade_readings(readings(LINE, [bridge]), sound))
    lowest = {
        f["at"]
        for f in told
        if f["kind"] == "reading" and f["between"] == "A-E" and f["switch"] != "off"
        if f["lowest"] == "yes"
    }
    assert lowest == {"S2"}


def test_a_reading_at_the_board_is_of_no_switch():
    told = facts(LINE, graded(LINE, {}, "insulation"))
    at_board = [f for f in told if f["at"] == "DB"]
    assert at_board
    assert {f["switched"] for f in at_board} == {"no"}
    assert {f["spread"] for f in at_board} == {"fine"}


ON, OFF = (Spot("terminated", "S1", switch, "A-E") for switch in ("on", "off"))


@pytest.mark.parametrize(
    ("on", "off", "effect"),
    [
        (Amount(10.3, "="), OPEN, "opens"),
        (OPEN, OPEN, "none"),
        (OPEN, Amount(10.3, "="), "closes"),
        (Amount(10.3, "="), Amount(10.5, "="), "none"),  # a twentieth, or 0.05 ohm
        (Amount(10.3, "="), Amount(15.3, "="), "other"),
        (Amount(0.0, "="), Amount(0.05, "="), "none"),
        (Amount(0.0, "="), Amount(0.06, "="), "other"),
    ],
)
def test_every_effect_of_a_switch(on, off, effect):
    told = facts(LINE, graded(LINE, {ON: on, OFF: off}))
    (found,) = (
        f for f in told if f["kind"] == "switch" and (f["at"], f["between"]) == ("S1", "A-E")
    )
    assert (found["effect"], found["should"]) == (effect, "opens")


def test_a_switch_should_do_what_the_drawing_says():
    told = {
        (f["at"], f["between"]): f["should"]
        for f in facts(LINE, graded(LINE, {}))
        if f["kind"] == "switch"
    }
    assert told == {
        ("S1", "A-N"): "opens",
        ("S1", "A-E"): "opens",
        ("S1", "N-E"): "none",  # only the active goes through it
        ("S2", "A-N"): "opens",
        ("S2", "A-E"): "opens",
        ("S2", "N-E"): "opens",  # both poles
    }


def test_what_is_open_in_both_positions_should_not_change():
    told = facts(LINE, graded(LINE, {}, "insulation"))
    switches = [fact for fact in told if fact["kind"] == "switch"]
    assert switches
    assert {(fact["effect"], fact["should"]) for fact in switches} == {("none", "none")}


def test_a_switch_read_in_one_position_tells_nothing():
    told = facts(LINE, graded(LINE, {OFF: None}))
    switches = {(f["at"], f["between"]) for f in told if f["kind"] == "switch"}
    assert ("S1", "A-E") not in switches
    assert ("S1", "A-N") in switches
    assert facts(LINE, ()) == ()
