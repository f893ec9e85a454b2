"""Insulation limits against the rows that were seen; all exact."""

import pytest
from published import each, near, published

from faultfinder.standards.insulation import (
    insulation_minimum_at,
    insulation_minimum_mohm,
    insulation_test_v,
)
from faultfinder.standards.regions import region


@pytest.mark.parametrize(
    ("id_", "nominal_v"),
    [("iec-ir-elv", 50), ("iec-ir-upto500", 230), ("iec-ir-upto500", 500), ("iec-ir-over500", 690)],
)
def test_rows_of_iec_60364(id_, nominal_v):
    """Norwegian railway technical rules, seen."""
    row, limit = published(id_), insulation_minimum_mohm(region("iec"), nominal_v)
    assert limit.value == near(row)
    assert f"{row['test_v_dc']} V d.c." in limit.says
    assert insulation_test_v(region("iec"), nominal_v) == row["test_v_dc"]
    assert insulation_minimum_at(region("iec"), nominal_v, row["test_v_dc"]) == limit


def test_the_lower_voltage_once_equipment_is_connected():
    """Trade magazine, seen; that 1 Mohm stays the least value is from memory."""
    row = published("bs-ir-after-connection")
    limit = insulation_minimum_at(region("uk"), 230, row["value"])
    assert limit.value == 1.0
    assert "with equipment connected" in limit.says


def test_bs_7671():
    """Trade magazine, seen."""
    row, limit = published("bs-ir-min"), insulation_minimum_mohm(region("uk"), 230)
    assert limit.value == near(row)
    assert f"{row['test_v_dc']} V d.c." in limit.says


def test_as_nzs_3000():
    """Western Australian regulator's booklet, seen."""
    row, limit = published("asnzs-ir-min"), insulation_minimum_mohm(region("au-nz"), 230)
    assert limit.value == near(row)
    assert f"{row['test_v_dc']} V d.c." in limit.says


@pytest.mark.parametrize("row", each("asnzs-ir-min-"))
def test_as_nzs_3000_with_heating_elements(row):
    """The booklet and a New Zealand examination, both seen."""
    limit = insulation_minimum_mohm(region("au-nz"), 230, load="heating-elements")
    assert limit.value == near(row)
    assert f"{row['test_v_dc']} V d.c." in limit.says
