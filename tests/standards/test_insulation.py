"""Insulation limits: which row applies, and what is refused."""

import pytest

from faultfinder.source.shelf import shipped_shelf
from faultfinder.standards.files import ids
from faultfinder.standards.insulation import (
    _insulation_file,
    insulation_minimum_at,
    insulation_minimum_mohm,
    insulation_test_v,
)
from faultfinder.standards.regions import region, regions
from faultfinder.standards.unknown import UnknownStandard

LIMITED = [id_ for id_ in regions() if region(id_).insulation]
EVERY_REGION = pytest.mark.parametrize("id_", LIMITED)


@EVERY_REGION
@pytest.mark.parametrize(
    ("nominal_v", "minimum"), [(12, 0.5), (50, 0.5), (50.1, 1.0), (230, 1.0), (690, 1.0)]
)
def test_the_row_of_a_voltage(id_, nominal_v, minimum):
    limit = insulation_minimum_mohm(region(id_), nominal_v)
    assert (limit.value, limit.unit, limit.bound, limit.basis) == (
        minimum,
        "Mohm",
        "at least",
        "table",
    )


@pytest.mark.parametrize(
    ("id_", "test_v"),
    [("iec", [250, 500, 1000]), ("uk", [250, 500, 1000]), ("au-nz", [250, 500, 500])],
)
def test_the_test_voltage_of_a_row(id_, test_v):
    for nominal_v, volts in zip([24, 230, 690], test_v, strict=True):
        says = insulation_minimum_mohm(region(id_), nominal_v).says
        assert says.endswith(f"tested at {volts} V d.c.")


@EVERY_REGION
@pytest.mark.parametrize("nominal_v", [0, -230, 1001, float("nan")])
def test_a_voltage_that_no_row_covers(id_, nominal_v):
    with pytest.raises(UnknownStandard, match="a voltage above 0, up to 1000 V"):
        insulation_minimum_mohm(region(id_), nominal_v)


def test_heating_elements_make_a_difference_where_the_standard_says_so():
    assert insulation_minimum_mohm(region("au-nz"), 230, load="heating-elements").value == 0.01
    assert insulation_minimum_mohm(region("au-nz"), 230).value == 1.0
    assert insulation_minimum_mohm(region("uk"), 230, load="heating-elements").value == 1.0


def test_a_limit_says_itself():
    limit = insulation_minimum_mohm(region("au-nz"), 230, load="heating-elements")
    assert limit.says == (
        "Insulation of a 230 V circuit with heating elements connected must have 0.01 Mohm at "
        "least, tested at 500 V d.c."
    )


def test_a_row_from_memory_says_so():
    assert insulation_minimum_mohm(region("uk"), 12).source.endswith("PELV (from memory)")
    assert insulation_minimum_mohm(region("uk"), 230).source.endswith("(read)")


def test_every_insulation_file_is_some_region_s():
    ours = {id_ for id_ in ids("limits") if id_.startswith("insulation-")}
    assert ours == {region(id_).insulation for id_ in LIMITED}
    assert all(_insulation_file(id_, shipped_shelf()).rows for id_ in ours)


@EVERY_REGION
@pytest.mark.parametrize("nominal_v", [24, 50, 230, 400, 690])
def test_a_rows_own_test_voltage_gives_the_rows_limit(id_, nominal_v):
    where = region(id_)
    test_v = insulation_test_v(where, nominal_v)
    assert insulation_minimum_at(where, nominal_v, test_v) == insulation_minimum_mohm(
        where, nominal_v
    )


@EVERY_REGION
@pytest.mark.parametrize(
    ("nominal_v", "test_v", "minimum"),
    [(24, 250, 0.5), (24, 500, None), (230, 250, 1.0), (230, 500, 1.0), (230, 1000, None)],
)
def test_which_row_applies_to_which_test_voltage(id_, nominal_v, test_v, minimum):
    limit = insulation_minimum_at(region(id_), nominal_v, test_v)
    assert (limit and limit.value) == minimum


@pytest.mark.parametrize(("id_", "minimum"), [("iec", 1.0), ("uk", 1.0), ("au-nz", None)])
def test_a_thousand_volts_are_for_circuits_above_500_v_where_the_rules_ask_for_them(id_, minimum):
    limit = insulation_minimum_at(region(id_), 690, 1000)
    assert (limit and limit.value) == minimum


@EVERY_REGION
def test_250_v_on_a_circuit_of_230_v_is_for_what_cannot_be_taken_off(id_):
    assert insulation_minimum_at(region(id_), 230, 250).says == (
        "Insulation of a 230 V circuit with equipment connected must have 1 Mohm at least, tested "
        "at 250 V d.c."
    )


def test_a_region_whose_rules_name_no_insulation():
    """The NEC has none (from memory); 500 V is what people test with (common practice)."""
    assert insulation_minimum_at(region("us"), 120, 500) is None
    assert insulation_test_v(region("us"), 120) == 500
    with pytest.raises(UnknownStandard, match="insulation limit in region us"):
        insulation_minimum_mohm(region("us"), 120)
