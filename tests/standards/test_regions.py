"""Regions: their figures in use, their words, and what is refused."""

from typing import get_args

import pytest

from faultfinder.source.problem import BadInput
from faultfinder.standards.limits import internal_loop_limit_ohm, loop_limit_ohm
from faultfinder.standards.live_limits import measured_loop_limit_ohm
from faultfinder.standards.regions import DEFAULT_REGION, LimitKind, region, regions
from faultfinder.standards.unknown import UnknownStandard

EVERY_REGION = pytest.mark.parametrize("id_", regions())
WITH_CURVES = pytest.mark.parametrize("id_", [id_ for id_ in regions() if region(id_).curves])


def test_the_regions_there_are():
    assert regions() == ("au-nz", "iec", "uk", "us")
    assert region() == region(DEFAULT_REGION) == region("au-nz")


@EVERY_REGION
def test_a_region_finds_its_tables(id_):
    assert region(id_).conductor_table().material == "copper"
    assert region(id_).conductor_table("aluminium").material == "aluminium"


@WITH_CURVES
def test_a_region_has_the_three_curves_in_rising_order(id_):
    curves = region(id_).curves
    assert [curve.name for curve in curves] == ["B", "C", "D"]
    assert curves[0].multiple < curves[1].multiple < curves[2].multiple
    assert all(curve.citation.source for curve in curves)


@pytest.mark.parametrize(("id_", "hot_c"), [("au-nz", 75), ("uk", 70), ("iec", 70)])
def test_figures_that_no_published_example_pins(id_, hot_c):
    """From memory: V-75 and 70 °C insulation; 0.8 of AS/NZS 3000 Appendix B5, for all three."""
    assert region(id_).hot_temperature_c == hot_c
    assert region(id_).test_temperature_c == 20
    assert region(id_).internal_share == 0.8
    assert region(id_).nominal_voltage_v == 230


@EVERY_REGION
def test_shares_say_where_they_are_from(id_):
    there = region(id_)
    for share in (there.measured_loop, there.lighting_drop, there.other_drop):
        assert share is None or share.citation.source
    assert there.lighting_drop.value <= there.other_drop.value < 0.1
    assert there.measured_loop is None or there.measured_loop.value > 0.1


@EVERY_REGION
def test_a_full_load_is_warmer_than_a_test(id_):
    assert region(id_).hot_temperature_c > region(id_).test_temperature_c


@pytest.mark.parametrize(
    ("id_", "words"),
    [
        ("au-nz", ["active", "neutral", "earth"]),
        ("uk", ["line", "neutral", "CPC"]),
        ("iec", ["line", "neutral", "protective conductor"]),
        ("us", ["hot", "neutral", "ground"]),
    ],
)
def test_words_of_the_conductors(id_, words):
    assert [region(id_).word(conductor) for conductor in ("A", "N", "E")] == words


def test_an_unknown_region_gets_the_nearest():
    with pytest.raises(UnknownStandard) as caught:
        region("au-nzs")
    assert caught.value.found == 'region "au-nzs"'
    assert caught.value.expected == "au-nz, iec, uk or us"
    assert caught.value.nearest == "au-nz"


def test_an_unknown_curve():
    with pytest.raises(UnknownStandard, match='tripping curve "K": expected B, C or D'):
        region("uk").curve("K")


def test_a_curve_in_a_small_letter_gets_the_capital():
    with pytest.raises(UnknownStandard) as caught:
        region("uk").curve("c")
    assert caught.value.nearest == "C"


def test_an_unknown_material():
    with pytest.raises(UnknownStandard) as caught:
        region("uk").conductor_table("aluminum")
    assert caught.value.nearest == "aluminium"


def test_an_unknown_key_in_a_region_is_placed(rules_with):
    rules_with("regions/uk.yaml", "voltage_factor:", "voltage_facter:")
    with pytest.raises(BadInput) as caught:
        region("uk")
    assert "voltage_factor" in {problem.nearest for problem in caught.value.problems}
    assert "voltage_facter" in str(caught.value)


def test_a_region_without_loop_limits_says_so():
    """NEC article 250 names no figures (from memory)."""
    us = region("us")
    assert us.curves == ()
    assert us.internal_share is us.measured_loop is us.insulation is None
    assert set(us.unlimited) == {*get_args(LimitKind)} - {"voltage-drop"}
    assert "names no impedance (NEC 250.4(A)(5), from memory)" in us.unlimited["loop"]
    for limit in (internal_loop_limit_ohm, measured_loop_limit_ohm, loop_limit_ohm):
        with pytest.raises(UnknownStandard):
            limit(us, "C", 20)


@pytest.mark.parametrize("id_", ["au-nz", "iec", "uk"])
def test_the_others_limit_all_that_tests_ask_for(id_):
    assert region(id_).unlimited == {}


def test_some_of_the_loop_s_figures_are_not_enough(rules_with):
    rules_with(
        "regions/us.yaml",
        "colours:",
        "internal_share: {value: 0.8, basis: practice, source: x, provenance: memory}\ncolours:",
    )
    with pytest.raises(BadInput, match="only some of curves"):
        region("us")
