"""Readings as arrays."""

import math

import numpy as np
from modelled import RULEBOOK

from faultfinder.evidence.observed import observe
from faultfinder.readings.reading import Instrument, Reading, Spot
from faultfinder.source.quantity import Amount

UNKNOWN = Instrument()


def taken(test, between, value, bound="=", step=0.01):
    return Reading(Spot(test, "S1", "on", between), Amount(value, bound), step)


def test_each_reading_is_one_kind_of_thing():
    seen = observe(
        [
            taken("terminated", "A-N", 15.2),
            taken("terminated", "A-E", math.inf, "open"),
            taken("insulation", "A-E", 200.0, ">", 1.0),
            taken("long-lead", "E", 0.05, "<"),
        ],
        RULEBOOK.procedures,
        UNKNOWN,
    )
    kinds = np.stack([seen.number, seen.open, seen.more, seen.less])
    assert (kinds == np.eye(4, dtype=bool)).all()
    assert seen.value.tolist() == [15.2, math.inf, 200.0, 0.05]
    assert seen.resolution.tolist() == [0.01, 0.01, 1.0, 0.01]
    assert seen.meter.logarithmic.tolist() == [False, False, True, False]


def test_numbers_show_how_far_the_range_goes_and_bounds_do_not():
    def chance_open_at_ten_kilohm(*readings):
        seen = observe([taken("terminated", "A-E", 15.0), *readings], RULEBOOK.procedures, UNKNOWN)
        return seen.meter.chance_open(np.full(len(readings) + 1, 1e4))[0]

    unknown = chance_open_at_ten_kilohm()
    assert 0 < unknown < 1
    assert chance_open_at_ten_kilohm(taken("terminated", "A-N", 2e4)) == 0
    assert chance_open_at_ten_kilohm(taken("terminated", "A-N", 2e4, ">")) == unknown
    assert chance_open_at_ten_kilohm(taken("insulation", "A-N", 2e4)) == unknown


def test_no_readings_are_no_trouble():
    seen = observe([], RULEBOOK.procedures, UNKNOWN)
    assert seen.value.shape == seen.number.shape == (0,)
