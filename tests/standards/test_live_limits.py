"""Limits of live tests: how they hang together, what they say, and what is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from faultfinder.source.problem import BadInput
from faultfinder.standards.limits import loop_limit_ohm
from faultfinder.standards.live_limits import (
    measured_loop_limit_ohm,
    residual_loop_limit_ohm,
    trip_time_limit_ms,
    voltage_drop_limit_v,
)
from faultfinder.standards.regions import region, regions
from faultfinder.standards.unknown import UnknownStandard

AU_NZ, UK, IEC = region("au-nz"), region("uk"), region("iec")
REGIONS = st.sampled_from([region(id_) for id_ in regions() if region(id_).curves])


def test_one_device_has_three_limits_of_a_measured_loop():
    """A 20 A type C by hand: 230/150, 0.8 x 0.95 x 230/200, 2/3 x 230/200."""
    limits = [measured_loop_limit_ohm(where, "C", 20).value for where in (AU_NZ, UK, IEC)]
    assert limits == pytest.approx([1.5333, 0.8740, 0.7667], abs=0.00005)


@given(REGIONS, st.sampled_from("BCD"), st.floats(1, 100))
def test_a_loop_read_cold_is_never_allowed_more_than_a_hot_one(where, curve, rating_a):
    cold, hot = (
        limit(where, curve, rating_a) for limit in (measured_loop_limit_ohm, loop_limit_ohm)
    )
    assert cold.value <= hot.value
    assert (cold.unit, cold.bound) == (hot.unit, hot.bound)


def test_a_measured_loop_says_whose_share_it_has():
    assert measured_loop_limit_ohm(IEC, "B", 16).says == (
        "The whole earth fault loop may have 2.88 ohm at most with its conductors hot, so that 80 "
        "A flow and the B16 device trips at once; read near ambient, it is held to 1.92 ohm, two "
        "thirds of that."
    )
    assert "1.09 ohm at most" in measured_loop_limit_ohm(UK, "C", 20).says
    assert "1.53 ohm, all of that" in measured_loop_limit_ohm(AU_NZ, "C", 20).says


def test_a_measured_loop_cites_its_share_and_a_rule_of_thumb_is_practice():
    assert "two-thirds rule (read)" in measured_loop_limit_ohm(IEC, "B", 16).source
    assert "rule of thumb (read)" in measured_loop_limit_ohm(UK, "B", 16).source
    assert [measured_loop_limit_ohm(r, "B", 16).basis for r in (AU_NZ, UK, IEC)] == [
        "derived",
        "practice",
        "derived",
    ]


def test_an_unknown_curve_is_refused():
    with pytest.raises(UnknownStandard, match="tripping curve"):
        measured_loop_limit_ohm(UK, "Z", 20)


def test_a_loop_behind_a_residual_current_device_says_itself_in_plain_figures():
    limit = residual_loop_limit_ohm(30)
    assert limit.says == (
        "The whole earth fault loop may have 1667 ohm at most, so that no more than 50 V can be "
        "touched while the 30 mA flow at which the residual current device trips."
    )
    assert (limit.unit, limit.bound, limit.basis) == ("ohm", "at most", "derived")
    assert "166.7" not in residual_loop_limit_ohm(300).says
    assert "167 ohm" in residual_loop_limit_ohm(300).says


@given(st.floats(1, 1000))
def test_the_rated_current_through_the_limit_makes_the_touch_voltage(residual_ma):
    assert residual_loop_limit_ohm(residual_ma).value * residual_ma / 1e3 == pytest.approx(50)


@pytest.mark.parametrize("residual_ma", [0, -30, math.inf, math.nan])
def test_a_residual_current_that_no_device_has(residual_ma):
    with pytest.raises(ValueError, match="cannot be rated"):
        residual_loop_limit_ohm(residual_ma)


@pytest.mark.parametrize(
    ("where", "light_v", "other_v"), [(AU_NZ, 11.5, 11.5), (UK, 6.9, 11.5), (IEC, 6.9, 11.5)]
)
def test_a_light_may_lose_less_where_the_rules_say_so(where, light_v, other_v):
    assert voltage_drop_limit_v(where, "lighting").value == pytest.approx(light_v)
    assert voltage_drop_limit_v(where).value == pytest.approx(other_v)


def test_a_voltage_drop_says_itself_and_where_it_is_from():
    limit = voltage_drop_limit_v(IEC, "lighting")
    assert limit.says == (
        "No more than 6.9 V, 3 % of 230 V, may be lost between the point of supply and a light."
    )
    assert (limit.unit, limit.bound, limit.basis) == ("V", "at most", "table")
    assert "NF C 15-100, public supply (read)" in limit.source
    assert "Table 4Ab, public supply (from memory)" in voltage_drop_limit_v(UK).source


@pytest.mark.parametrize(
    ("name", "old", "of"),
    [
        ("measured-loop", "{share}", lambda: measured_loop_limit_ohm(region("au-nz"), "C", 20)),
        ("residual-loop", "{touch}", lambda: residual_loop_limit_ohm(30)),
        ("voltage-drop", "{use}", lambda: voltage_drop_limit_v(region("au-nz"))),
    ],
)
def test_a_sentence_with_a_blank_that_nothing_fills(rules_with, name, old, of):
    rules_with(f"limits/{name}.yaml", old, "{sizes}")
    with pytest.raises(BadInput) as caught:
        of()
    (problem,) = caught.value.problems
    assert problem.id == "bad-blank"
    assert old in problem.expected


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("voltage_drop:\n  lighting: {value: 0.05,", "voltage_drop:\n  lighting: {value: 5,"),
        ("measured_loop: {value: 1,", "measured_loop: {value: 1.2,"),
        ("measured_loop: {value: 1, says: all,", 'measured_loop: {value: 1, says: "",'),
    ],
)
def test_a_share_that_is_none(rules_with, old, new):
    rules_with("regions/au-nz.yaml", old, new)
    with pytest.raises(BadInput) as caught:
        region("au-nz")
    assert len(caught.value.problems) == 1


def test_trip_times_where_there_are_none():
    assert trip_time_limit_ms(region("us"), "general", 6, 1) is None
    assert trip_time_limit_ms(AU_NZ, "general", 30, 3) is None


def test_the_sentence_of_a_trip_time():
    said = trip_time_limit_ms(UK, "selective", 300, 5).says
    assert said == (
        "A selective residual current device of 300 mA must trip within 150 ms at 1500 mA."
    )
