"""Conductor tables: what is refused, how it is said, and how resistance behaves."""

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from faultfinder.source.problem import BadInput
from faultfinder.standards.conductors import conductor_table, tables
from faultfinder.standards.unknown import UnknownStandard

COPPER = conductor_table("iec-60228-copper-class-2")
SIZES = st.sampled_from(COPPER.sizes())


@pytest.mark.parametrize("id_", tables())
def test_every_table_is_in_order_and_says_where_it_is_from(id_):
    table = conductor_table(id_)
    resistances = [row.ohm_per_km_20c for row in table.rows]
    assert list(table.sizes()) == sorted(table.sizes())
    assert resistances == sorted(resistances, reverse=True)
    assert all(row.citation.source for row in table.rows)
    assert table.alpha_citation.source


def test_an_unknown_table_gets_the_nearest_id():
    with pytest.raises(UnknownStandard) as caught:
        conductor_table("as-nzs-coper")
    assert caught.value.nearest == "as-nzs-copper"
    assert "iec-60228-aluminium" in caught.value.expected


@pytest.mark.parametrize(
    ("area_mm2", "beside"), [(2, "1.5 or 2.5"), (0.75, "1"), (150, "120"), (2.4, "1.5 or 2.5")]
)
def test_a_size_that_is_not_made_gets_the_sizes_beside_it(area_mm2, beside):
    with pytest.raises(UnknownStandard) as caught:
        COPPER.ohm_per_m(area_mm2, 20)
    assert caught.value.nearest == beside
    assert caught.value.expected == "1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120 mm²"
    assert f"{area_mm2:g} mm²" in str(caught.value)


def test_the_error_can_be_sent_out_of_a_child_process():
    error = UnknownStandard("size 2 mm²", "1.5, 2.5 mm²", "1.5 or 2.5")
    assert str(pickle.loads(pickle.dumps(error))) == str(error)  # noqa: S301 - our own bytes


def test_frost_is_no_obstacle():
    """1 - 0.00393 x 30 of 18.1 ohm/km."""
    assert COPPER.ohm_per_m(1, -10) == pytest.approx(0.0181 * 0.8821)


@pytest.mark.parametrize("temperature_c", [-274, float("nan"), float("inf")])
def test_an_impossible_temperature(temperature_c):
    with pytest.raises(ValueError, match="no conductor can be at"):
        COPPER.ohm_per_m(1, temperature_c)


@given(SIZES, st.floats(-40, 120), st.floats(0.1, 60))
def test_a_warmer_conductor_has_more_resistance(size, temperature_c, rise):
    cold = COPPER.ohm_per_m(size, temperature_c)
    assert cold < COPPER.ohm_per_m(size, temperature_c + rise)


@given(SIZES, SIZES)
def test_temperature_moves_all_sizes_alike(one, other):
    ratio_cold = COPPER.ohm_per_m(one, 20) / COPPER.ohm_per_m(other, 20)
    assert COPPER.ohm_per_m(one, 75) / COPPER.ohm_per_m(other, 75) == pytest.approx(ratio_cold)


def test_tables_can_be_told_apart_and_kept_in_sets():
    assert len({conductor_table(id_) for id_ in tables()}) == len(tables())
    assert conductor_table("as-nzs-copper") is conductor_table("as-nzs-copper")


def test_a_size_written_twice(rules_with):
    rules_with("conductors/as-nzs-copper.yaml", "area_mm2: 1.5", "area_mm2: 1")
    with pytest.raises(BadInput) as caught:
        conductor_table("as-nzs-copper")
    (problem,) = caught.value.problems
    assert problem.id == "repeated-size"
    line = caught.value.sources[problem.position.file].splitlines()[problem.position.line - 1]
    assert "13.6" in line


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("gauge_resistivity:", "rows: [{area_mm2: 1, ohm_per_km: 18}]\ngauge_resistivity:", "both"),
        (
            "gauge_resistivity:\n  ohm_mm2_per_m: 0.028264\n  source: IEC 60889, hard-drawn aluminium wire\n  provenance: memory\n",  # noqa: E501
            "",
            "no sizes",
        ),
    ],
)
def test_a_table_has_sizes_once(rules_with, old, new, found):
    rules_with("conductors/awg-aluminium.yaml", old, new)
    with pytest.raises(BadInput) as caught:
        conductor_table("awg-aluminium")
    (problem,) = caught.value.problems
    assert found in problem.found


def test_an_id_that_is_not_the_file_s_name(rules_with):
    rules_with("conductors/as-nzs-copper.yaml", "id: as-nzs-copper", "id: as-nz-copper")
    with pytest.raises(BadInput) as caught:
        conductor_table("as-nzs-copper")
    (problem,) = caught.value.problems
    assert (problem.id, problem.nearest) == ("id-not-file-name", "as-nzs-copper")
