"""Regions: their figures in use, their words, and what is refused."""

import pytest

from faultfinder.source.problem import BadInput
from faultfinder.standards.regions import DEFAULT_REGION, region, regions
from faultfinder.standards.unknown import UnknownStandard

EVERY_REGION = pytest.mark.parametrize("id_", regions())


def test_the_regions_there_are():
    assert regions() == ("au-nz", "iec", "uk")
    assert region() == region(DEFAULT_REGION) == region("au-nz")


@EVERY_REGION
def test_a_region_finds_its_tables(id_):
    assert region(id_).conductor_table().material == "copper"
    assert region(id_).conductor_table("aluminium").material == "aluminium"


@EVERY_REGION
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
        assert share.citation.source
    assert there.lighting_drop.value <= there.other_drop.value < 0.1 < there.measured_loop.value


@EVERY_REGION
def test_a_full_load_is_warmer_than_a_test(id_):
    assert region(id_).hot_temperature_c > region(id_).test_temperature_c


@pytest.mark.parametrize(
    ("id_", "words"),
    [
        ("au-nz", ["active", "neutral", "earth"]),
        ("uk", ["line", "neutral", "circuit protective conductor"]),
        ("iec", ["line", "neutral", "protective conductor"]),
    ],
)
def test_words_of_the_conductors(id_, words):
    assert [region(id_).word(conductor) for conductor in ("A", "N", "E")] == words


def test_an_unknown_region_gets_the_nearest():
    with pytest.raises(UnknownStandard) as caught:
        region("au-nzs")
    assert caught.value.found == 'region "au-nzs"'
    assert caught.value.expected == "au-nz, iec or uk"
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
