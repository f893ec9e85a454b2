"""What a reading should be, how far it may be off, and which limit it is held to."""

import math
from dataclasses import replace

import numpy as np
import pytest
from modelled import DEAD, LINE, RULEBOOK, TERMINATORS, UNKNOWN, expected

from faultfinder.diagnosis.foretell import foretell
from faultfinder.evidence.expectation import of_spots
from faultfinder.readings.reading import Accuracy, Instrument, Spot
from faultfinder.wiring.fault import Fault
from faultfinder.wiring.installation import Board, Impedance, Installation, Supply

OPEN = math.inf
PER_M = LINE.conductor_ohm(LINE.runs[0], "A") / LINE.runs[0].length_m


def table(faults=(), tests=("terminated",), instrument=UNKNOWN):
    return of_spots(expected(LINE, faults, tests, instrument))


def at(place, between, switch="on", test="terminated"):
    return Spot(test, place, switch, between)


def test_values_are_the_terminators_and_the_conductors():
    found = table()
    way_m = 14.0 + 6.0
    assert found[at("S2", "A-N")].value == pytest.approx(15.0 + 2 * way_m * PER_M, rel=1e-9)
    assert found[at("S2", "A-E")].value == pytest.approx(10.0 + 2 * way_m * PER_M, rel=1e-9)
    assert found[at("S2", "N-E")].value == pytest.approx(5.0 + 2 * way_m * PER_M, rel=1e-9)


def test_the_band_is_of_instrument_and_shared_errors_together():
    """By hand, for A-E at S1: one run, the active's terminator, gain, leads, and the accuracy."""
    t = RULEBOOK.tolerances
    cable = 2 * 14.0 * PER_M
    value = 10.0 + cable
    parts = [
        0.01 * value + 0.01,
        t.run_length * cable,
        t.cable * cable,
        t.terminator * 10.0,
        t.gain * 0.01 * value,
        t.leads,
    ]
    half = t.band * math.hypot(*parts)
    found = table()[at("S1", "A-E")]
    # 1e-6: the slopes are forward differences; see test_bench.
    assert found.low == pytest.approx(value - half, rel=1e-6)
    assert found.high == pytest.approx(value + half, rel=1e-6)


def test_a_better_instrument_narrows_the_band():
    fine = Instrument(resistance=Accuracy(0.001, 0.001, stated=True))
    wide, narrow = table()[at("S1", "A-E")], table(instrument=fine)[at("S1", "A-E")]
    assert wide.low < narrow.low < narrow.value == wide.value < narrow.high < wide.high


def test_an_open_switch_should_read_open_and_is_held_to_no_limit():
    found = table()[at("S1", "A-E", "off")]
    assert found.is_open
    assert (found.value, found.low, found.high) == (OPEN, OPEN, OPEN)
    assert found.limit is None
    assert table()[at("S1", "A-E")].limit is not None


def test_over_range_is_open_but_the_least_that_is_expected_stays_known():
    found = table(tests=("insulation",))[at("S1", "A-E", test="insulation")]
    assert found.is_open
    assert found.unit == "Mohm"
    assert math.isfinite(found.low)
    assert found.limit.bound == "at least"  # over range passes an "at least"


def test_a_range_that_ends_lower_makes_open_of_a_value():
    short_range = Instrument(resistance=Accuracy(0.01, 0.01, 12.0, stated=True))
    found = table(instrument=short_range)
    assert found[at("S1", "A-N")].is_open
    assert found[at("S1", "A-N")].low < 15.2
    assert not found[at("S1", "A-E")].is_open


def test_the_band_of_insulation_is_a_ratio():
    leak = Fault("bridged", ("A", "E"), "S2", 2e6)
    found = table([leak], ("insulation",))[at("S1", "A-E", test="insulation")]
    assert found.value == pytest.approx(2.0, rel=1e-3)
    shift = 0.05 / 0.15  # fixed part over share: see Meter.scale
    up, down = (
        (found.high + shift) / (found.value + shift),
        (found.value + shift) / (found.low + shift),
    )
    assert up == pytest.approx(down)


def test_a_limit_has_a_margin_of_two_standard_deviations_of_the_terminator():
    """A-E is read through the active's 10 ohm, of 1 %; without terminators nothing is left open."""
    found = table(tests=("terminated", "linked-out", "insulation"))
    assert found[at("S1", "A-E")].limit_margin == pytest.approx(2 * 0.01 * 10.0)
    assert found[at("S1", "A-E", test="linked-out")].limit_margin == 0.0
    assert found[at("S1", "A-E", test="insulation")].limit_margin == 0.0


def test_a_limit_of_a_voltage_drop_has_a_margin_of_what_is_not_known_of_the_supply():
    """20 A through the supply's 0.4 ohm, which the drawing knows to 30 %."""
    one_way = Impedance(0.2)
    supply = Supply("TN-C-S", 230.0, ("A",), 50.0, one_way, one_way)
    there = Installation("Site", supply, (Board("DB", link=True),), (LINE,))
    every = foretell(
        LINE, RULEBOOK, ("voltage-drop", "loop"), TERMINATORS, UNKNOWN, installation=there
    ).readings
    found = of_spots(every)
    drop, loop = found[at("S1", "A-N", test="voltage-drop")], found[at("S1", "A-E", test="loop")]
    assert drop.limit_margin == pytest.approx(2 * RULEBOOK.tolerances.supply_ohms * 20 * 0.4)
    assert drop.limit.unit == drop.unit == "V"
    assert loop.limit_margin == 0.0
    assert loop.limit.value == pytest.approx(230 / 150)


def test_nothing_is_expected_below_zero():
    dead_short = Fault("bridged", ("A", "N"), "S1", 0.01)
    found = table([dead_short])[at("S1", "A-N")]
    assert found.low == 0.0
    assert 0.0 < found.value < found.high


def test_there_is_one_for_each_spot():
    every = expected(LINE)
    assert [e.spot for e in every] == list(of_spots(every))
    switched = [e for e in every if e.spot.at == "S1"]
    assert len(switched) == 6
    assert {e.spot.switch for e in every if e.spot.at == "S3"} == {""}


def test_each_end_of_the_band_contains_the_value():
    for circuit_test in DEAD:
        for e in expected(LINE, tests=(circuit_test,)):
            assert 0 <= e.low <= e.value <= e.high
            assert np.isfinite(e.value) or e.is_open


def test_warmer_conductors_read_more():
    warm = replace(LINE, temperature_c=40.0)
    cold_ohm, warm_ohm = (
        of_spots(expected(c, tests=("long-lead",)))[at("S3", "E", "", "long-lead")].value
        for c in (LINE, warm)
    )
    # Copper, 0.00393 a kelvin of its resistance at 20 °C.
    assert warm_ohm / cold_ohm == pytest.approx(1 + 0.00393 * 20, rel=1e-3)
