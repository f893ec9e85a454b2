"""Values, places and faults as people write them."""

import math

import pytest
from modelled import BRANCHED, LINE, RULEBOOK

from faultfinder.diagnosis.wording import (
    amount_in_words,
    conductors_in_words,
    ends_in_words,
    fault_in_words,
    ohms_in_words,
    place_in_words,
    spot_in_words,
    value_in_words,
)
from faultfinder.readings.reading import Spot
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (math.inf, "ohm", "open"),
        (math.inf, "Mohm", "open"),
        (0.0, "ohm", "0.00 ohm"),
        (0.004, "ohm", "0.00 ohm"),
        (0.42, "ohm", "0.42 ohm"),
        (1.0, "ohm", "1.00 ohm"),
        (15.26, "ohm", "15.3 ohm"),
        (207.4, "ohm", "207 ohm"),
        (9.994, "ohm", "9.99 ohm"),
        (9.996, "ohm", "10.0 ohm"),
        (99.96, "ohm", "100 ohm"),
        (999.4, "ohm", "999 ohm"),
        (999.9, "ohm", "1.00 kohm"),
        (1000.0, "ohm", "1.00 kohm"),
        (99_940.0, "ohm", "99.9 kohm"),
        (99_999.0, "ohm", "0.10 Mohm"),
        (0.0999999, "Mohm", "0.10 Mohm"),
        (999.9, "Mohm", "1.00 Gohm"),
        (38_700.0, "ohm", "38.7 kohm"),
        (100_000.0, "ohm", "0.10 Mohm"),
        (2e6, "ohm", "2.00 Mohm"),
        (3e9, "ohm", "3.00 Gohm"),
        (0.0, "Mohm", "0.00 Mohm"),
        (0.05, "Mohm", "50.0 kohm"),
        (1e-8, "Mohm", "0.01 ohm"),
        (0.5, "Mohm", "0.50 Mohm"),
        (200.0, "Mohm", "200 Mohm"),
        (1000.0, "Mohm", "1.00 Gohm"),
        (20_000.0, "Mohm", "20.0 Gohm"),
    ],
)
def test_values_have_three_figures_and_a_unit(value, unit, words):
    assert value_in_words(value, unit) == words


@pytest.mark.parametrize(
    ("band", "unit", "ends"),
    [
        ((9.9, 10.2, 10.5), "ohm", ("9.90", "10.5")),
        ((970.0, 990.0, 1010.0), "ohm", ("970 ohm", "1.01 kohm")),
        ((1100.0, 1200.0, 1300.0), "ohm", ("1.10", "1.30")),
        ((0.0, 0.13, 0.29), "Mohm", ("0.00", "0.29")),
        ((0.09, 0.13, 0.29), "Mohm", ("90.0 kohm", "0.29 Mohm")),
        ((900.0, 2000.0, math.inf), "Mohm", ("900 Mohm", "open")),
    ],
)
def test_the_ends_of_a_band_have_units_where_they_are_not_the_values(band, unit, ends):
    assert ends_in_words(*band, unit) == ends


@pytest.mark.parametrize(
    ("amount", "unit", "words"),
    [
        (Amount(15.3, "="), "ohm", "15.3 ohm"),
        (Amount(200.0, ">"), "Mohm", ">200 Mohm"),
        (Amount(0.05, "<"), "ohm", "<0.05 ohm"),
        (Amount(math.inf, "open"), "Mohm", "open"),
    ],
)
def test_readings_keep_their_bound(amount, unit, words):
    assert amount_in_words(amount, unit) == words


@pytest.mark.parametrize(
    ("circuit", "at", "words"),
    [
        (LINE, "S1..S2", "in run S1..S2"),
        (LINE, "S2", "in outlet S2"),
        (BRANCHED, "J1", "in joint box J1"),
        (LINE, "DB", "at board DB"),
    ],
)
def test_places(circuit, at, words):
    assert place_in_words(circuit, at) == words


def test_conductors():
    assert conductors_in_words(LINE, ("E",)) == "earth"
    assert conductors_in_words(LINE, ("A", "N")) == "active and neutral"
    assert conductors_in_words(LINE, ("A", "E", "N")) == (
        "active, earth and neutral (active on earth, earth on neutral, neutral on active)"
    )


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (Fault("open", ("E",), "S2"), "earth open in outlet S2"),
        (
            Fault("high-resistance", ("A",), "S1..S2", 2.5),
            "poor joint of 2.50 ohm in the active in run S1..S2",
        ),
        (
            Fault("bridged", ("N", "E"), "S3"),
            "neutral and earth bridged through some ohms in outlet S3",
        ),
        (Fault("switch-stuck-on", (), "S1"), "the switch does not open in outlet S1"),
    ],
)
def test_faults_are_said_as_their_mode_says_them(fault, words):
    assert fault_in_words(RULEBOOK.modes[fault.mode], LINE, fault) == words


def test_ohms_said_of_a_fault_come_before_its_own():
    joint = Fault("high-resistance", ("A",), "S1", 2.5)
    said = fault_in_words(RULEBOOK.modes[joint.mode], LINE, joint, "about 2.40 ohm")
    assert said == "poor joint of about 2.40 ohm in the active in outlet S1"


@pytest.mark.parametrize(
    ("interval", "words"),
    [
        ((2.4, 2.5, 2.6), "about 2.50 ohm"),
        ((1.0, 2.0, 3.0), "about 2.00 ohm"),
        ((1.0, 2.0, 3.01), "1.00 ohm to 3.01 ohm"),
        ((40.0, 2e3, 2e6), "40.0 ohm to 2.00 Mohm"),
    ],
)
def test_ohms_are_about_so_many_or_a_range(interval, words):
    assert ohms_in_words(*interval) == words


def test_spots():
    assert spot_in_words(Spot("terminated", "S3", "on", "A-E")) == "A-E at S3, switch on"
    assert spot_in_words(Spot("insulation", "DB", "", "A+N-E")) == "A+N-E at DB"
    assert spot_in_words(Spot("long-lead", "J1", "", "E")) == "E end to end at J1"
