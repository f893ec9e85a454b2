"""What plans find on the invented circuits, where it can be told by hand."""

import pytest
from modelled import BRANCHED, LINE, LONG, RING, RULEBOOK
from planned import covered, group_of, of

from faultfinder.coverage.result import share

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced


@pytest.fixture(scope="module")
def twelve():
    return covered(LONG)


FAINT = {"high-resistance", "bridged", "undersized", "parallel-earth"}
"""Faults that are a matter of degree."""


def test_twelve_outlets_every_gross_fault_is_seen(twelve):
    """The terminated test at every outlet, switch on and off."""
    gross = [one for one in twelve.faults if one.fault.mode not in FAINT]
    assert share(gross) == pytest.approx(1)
    assert twelve.detected == pytest.approx(0.904, abs=0.02)
    assert twelve.minutes == 8 + 12 * 2


def test_twelve_outlets_what_is_not_seen_is_joints_of_few_ohms_and_bridges_of_many(twelve):
    assert {one.fault.mode for one in twelve.faults if one.detected < 0.995} <= FAINT
    for one in twelve.faults:
        if one.fault.mode == "high-resistance":
            ((low, high),) = one.seen
            assert 0.1 < low < 0.5
            assert high == pytest.approx(2000)
        if one.fault.mode == "bridged":
            ((low, high),) = one.seen
            assert low == pytest.approx(0.01)
            assert high < 600


def test_twelve_outlets_isolated_but_for_the_last_and_bridges(twelve):
    assert twelve.isolated[1] == pytest.approx(0.91, abs=0.015)
    assert twelve.isolated_to_open[1] == pytest.approx(0.98, abs=0.01)
    gross = [one for one in twelve.faults if one.fault.mode not in {*FAINT, "link-extra"}]
    ambiguous = {one.fault.at for one in gross if one.places > 1}
    assert ambiguous == {"S11..S12", "S12"}


def test_linked_out_and_insulation_beside_it_see_what_it_does_not():
    more = covered(LONG, "terminated", "linked-out", "insulation")
    assert more.detected > 0.98
    assert more.detected_of("high-resistance") > 0.99
    assert more.detected_of("bridged") > 0.95


def test_a_switch_stuck_on_reads_as_one_bypassed_at_one_place(twelve):
    assert group_of(twelve, "switch-stuck-on at S4") == {
        "switch-stuck-on at S4",
        "switch-bypassed at S4",
    }
    assert of(twelve, "switch-stuck-on at S4").places == 1


def test_priors_are_those_of_the_rule_files(twelve):
    whole = sum(one.prior for one in twelve.faults)
    by_hand = sum(
        mode.chance(LONG, at)
        for mode in RULEBOOK.modes.values()
        for at in [run.name for run in LONG.runs] + [point.name for point in LONG.points]
    )
    assert whole == pytest.approx(by_hand)
    assert twelve.detected == pytest.approx(share(twelve.faults))


def test_every_fault_seen_is_in_exactly_one_group():
    coverage = covered(BRANCHED)
    listed = [fault for group in coverage.groups for fault in group.faults]
    assert len(listed) == len(set(listed))
    assert set(listed) == {one.fault for one in coverage.faults if one.places}


def test_a_break_in_a_ring_is_not_seen_where_both_ends_stay_joined():
    """With both ends of a ring on the bar every outlet keeps one way round: only ohms change."""
    joined, parted = covered(RING, "insulation"), covered(RING, "ring-ends")
    assert of(joined, "open A at S1..S2").detected < 0.01
    assert of(parted, "open A at S1..S2").detected == pytest.approx(1)
    assert not of(covered(LINE, "insulation"), "transposed A-N at S3").moves
