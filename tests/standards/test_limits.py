"""Limits: how they hang together, what they say, and what is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from faultfinder.source.problem import BadInput
from faultfinder.standards.conductors import conductor_table
from faultfinder.standards.insulation import insulation_minimum_mohm
from faultfinder.standards.limits import (
    earth_limit_ohm,
    internal_loop_limit_ohm,
    loop_limit_ohm,
    tripping_current_a,
)
from faultfinder.standards.regions import region, regions
from faultfinder.standards.unknown import UnknownStandard

AU_NZ, UK, IEC = region("au-nz"), region("uk"), region("iec")
SIZES = st.sampled_from(AU_NZ.conductor_table().sizes())
REGIONS = st.sampled_from([region(id_) for id_ in regions() if region(id_).curves])
CURVES = st.sampled_from("BCD")


def test_one_device_has_three_limits():
    """A 20 A type C by hand: 230/150, 0.95 x 230/200, 230/200."""
    limits = [loop_limit_ohm(where, "C", 20).value for where in (AU_NZ, UK, IEC)]
    assert limits == pytest.approx([1.5333, 1.0925, 1.15], abs=0.00005)


def test_internal_loop_by_hand():
    """0.8 x 230 V / 150 A / (1 + 0.00393 x 55), in exact figures 1.226667 / 1.21615."""
    assert internal_loop_limit_ohm(AU_NZ, "C", 20).value == pytest.approx(1.226667 / 1.21615)


def test_a_reading_at_operating_temperature_has_the_whole_share():
    hot = internal_loop_limit_ohm(AU_NZ, "C", 20, test_temperature_c=75)
    assert hot.value == pytest.approx(0.8 * loop_limit_ohm(AU_NZ, "C", 20).value)


def test_aluminium_brings_its_own_coefficient():
    """1 + 0.00403 x 55 is 1.22165."""
    aluminium = conductor_table("iec-60228-aluminium")
    limit = internal_loop_limit_ohm(AU_NZ, "C", 20, table=aluminium)
    assert limit.value == pytest.approx(1.226667 / 1.22165)


@given(REGIONS, CURVES, SIZES, SIZES, st.floats(-10, 60))
def test_earth_and_active_share_the_internal_loop(where, curve, active_mm2, earth_mm2, test_c):
    """The earth's limit of a cable and of the same cable turned round add up to the loop's."""
    one = earth_limit_ohm(where, curve, 20, active_mm2, earth_mm2, test_temperature_c=test_c)
    other = earth_limit_ohm(where, curve, 20, earth_mm2, active_mm2, test_temperature_c=test_c)
    loop = internal_loop_limit_ohm(where, curve, 20, test_temperature_c=test_c)
    assert one.value + other.value == pytest.approx(loop.value)


@given(REGIONS, CURVES, SIZES, SIZES)
def test_both_limits_are_reached_at_one_length(where, curve, active_mm2, earth_mm2):
    """The run whose earth is at its limit has active and earth together at theirs."""
    table = where.conductor_table()
    earth_ohm_per_m = table.ohm_per_m(earth_mm2, 20)
    length_m = earth_limit_ohm(where, curve, 16, active_mm2, earth_mm2).value / earth_ohm_per_m
    together_ohm = length_m * (earth_ohm_per_m + table.ohm_per_m(active_mm2, 20))
    assert together_ohm == pytest.approx(internal_loop_limit_ohm(where, curve, 16).value)


@given(REGIONS, CURVES, st.floats(1, 100), st.floats(1.01, 3))
def test_a_larger_device_allows_less(where, curve, rating_a, times):
    smaller = internal_loop_limit_ohm(where, curve, rating_a * times).value
    assert smaller < internal_loop_limit_ohm(where, curve, rating_a).value
    assert smaller < loop_limit_ohm(where, curve, rating_a * times).value


def test_a_limit_says_itself_in_the_region_s_words():
    assert earth_limit_ohm(AU_NZ, "C", 20, 2.5, 2.5).says == (
        "Earth of a 2.5/2.5 mm² cable may have 0.504 ohm at most at 20 °C, so that 150 A flow in "
        "an earth fault and the C20 device trips at once."
    )
    assert internal_loop_limit_ohm(IEC, "B", 16).says.startswith("Line and protective conductor of")
    assert "1.53 ohm" in loop_limit_ohm(AU_NZ, "C", 20).says


def test_a_limit_cites_its_formula_and_its_figures():
    limit = loop_limit_ohm(AU_NZ, "C", 20)
    assert limit.basis == "derived"
    assert "U0 / Ia" in limit.formula
    assert limit.source.startswith("IEC 60364-4-41 clause 411.4.4")
    assert "newsletter, January 2004 (read)" in limit.source


def test_a_figure_from_memory_says_so():
    assert "AS/NZS 1125 (from memory)" in earth_limit_ohm(AU_NZ, "B", 10, 1.5, 1.5).source


def test_a_share_that_the_rules_do_not_have_makes_a_limit_practice():
    assert internal_loop_limit_ohm(AU_NZ, "C", 20).basis == "derived"
    assert internal_loop_limit_ohm(UK, "C", 20).basis == "practice"
    assert earth_limit_ohm(IEC, "C", 20, 2.5, 1.5).basis == "practice"
    assert loop_limit_ohm(UK, "C", 20).basis == "derived"


def test_what_a_limit_allows():
    most, least = loop_limit_ohm(AU_NZ, "C", 20), insulation_minimum_mohm(AU_NZ, 230)
    assert most.allows(most.value)
    assert most.allows(0.1)
    assert not most.allows(1.54)
    assert least.allows(1.0)
    assert least.allows(math.inf)
    assert not least.allows(0.99)


def test_an_unknown_curve_is_refused():
    with pytest.raises(UnknownStandard, match="tripping curve"):
        loop_limit_ohm(UK, "Z", 20)


@pytest.mark.parametrize("rating_a", [0, -6, math.inf, math.nan])
def test_a_rating_that_no_device_has(rating_a):
    with pytest.raises(ValueError, match="cannot be rated"):
        tripping_current_a(UK, "C", rating_a)


def test_a_size_that_is_not_made():
    with pytest.raises(UnknownStandard) as caught:
        earth_limit_ohm(AU_NZ, "C", 20, 2.5, 2)
    assert caught.value.nearest == "1.5 or 2.5"


@pytest.mark.parametrize(
    ("spoilt", "found"),
    [
        ("{curent}", "unknown blank {curent}"),
        ("{}", "unknown blank {}"),
        ("{current:.2f}", "blank {current} says how"),
        ("}", "a brace stands alone"),
    ],
)
def test_a_sentence_with_a_blank_that_nothing_fills(rules_with, spoilt, found):
    rules_with("limits/earth-fault-loop.yaml", "{current}", spoilt)
    with pytest.raises(BadInput) as caught:
        loop_limit_ohm(region("au-nz"), "C", 20)
    (problem,) = caught.value.problems
    assert problem.id == "bad-blank"
    assert problem.found.startswith(found)
    assert "{current}" in problem.expected
