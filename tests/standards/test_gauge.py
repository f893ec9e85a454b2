"""American wire gauge: how it is written, and how sizes are named."""

import pytest

from faultfinder.standards import gauge
from faultfinder.standards.conductors import conductor_table
from faultfinder.standards.limits import earth_limit_ohm
from faultfinder.standards.regions import region
from faultfinder.standards.unknown import UnknownStandard


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("12 AWG", 12),
        ("awg 12", 12),
        ("12awg", 12),
        ("1/0 AWG", 0),
        ("4/0 AWG", -3),
        ("0000 AWG", -3),
        ("0 awg", 0),
    ],
)
def test_spellings(text, number):
    assert gauge.written(text) == gauge.area_mm2(number)


@pytest.mark.parametrize("text", ["2.5", "2.5 mm2", "12", "12 AWGs", "AWG", "5/0 AWG"])
def test_what_is_no_gauge(text):
    assert gauge.written(text) is None


@pytest.mark.parametrize("text", ["13 AWG", "36 AWG"])
def test_sizes_that_building_cable_is_not_made_in(text):
    with pytest.raises(ValueError, match=f"no building cable is made in {text}"):
        gauge.written(text)


def test_every_size_is_named_as_it_is_written():
    for number in gauge.NUMBERS:
        assert gauge.written(gauge.name(number)) == gauge.area_mm2(number)
        assert gauge.size_in_words(gauge.area_mm2(number)) == gauge.name(number)
    assert gauge.size_in_words(2.5) == "2.5 mm²"


def test_a_metric_size_in_a_table_by_gauge():
    with pytest.raises(UnknownStandard) as caught:
        conductor_table("awg-copper").row(2.5)
    assert caught.value.found == "size 2.5 mm² in awg-copper"
    assert caught.value.nearest == "14 AWG or 12 AWG"
    assert caught.value.expected.endswith("3/0 AWG, 4/0 AWG")


def test_a_gauge_in_a_metric_table():
    with pytest.raises(UnknownStandard) as caught:
        conductor_table("as-nzs-copper").row(gauge.area_mm2(12))
    assert caught.value.found == "size 12 AWG in as-nzs-copper"
    assert caught.value.nearest == "2.5 or 4"


def test_a_limit_names_the_gauges():
    sizes = gauge.area_mm2(10), gauge.area_mm2(12)
    limit = earth_limit_ohm(region("iec"), "C", 20, *sizes, table=conductor_table("awg-copper"))
    assert "10/12 AWG" in limit.says
