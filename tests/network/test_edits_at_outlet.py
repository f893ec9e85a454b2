"""Faults in an outlet, each worked by hand on the circuit of ``two_outlets``."""

import math

import pytest

from faultfinder.network.edits import Step
from network.two_outlets import OPEN, SOUND_READS, assert_reads, beside, faulty

BREAK = (Step("break"),)
ADD_OHMS = (Step("add-ohms"),)
EXCHANGE = (Step("exchange"),)


# -- open and poor joints: what is fed through the outlet does not see them -----------------------


@pytest.mark.parametrize(
    ("conductor", "at_s1", "at_s2"),
    [
        ("A", (OPEN, OPEN, 1006), (OPEN, OPEN, 1054)),
        ("N", (OPEN, 105, OPEN), (OPEN, 145, OPEN)),
        ("E", (1103, OPEN, OPEN), (1127, OPEN, OPEN)),
    ],
)
def test_open(conductor, at_s1, at_s2):
    off = (OPEN, OPEN, at_s1[2])
    assert_reads(faulty((BREAK, "S1", (conductor,))), S1_on=at_s1, S1_off=off)
    assert_reads(faulty((BREAK, "S2", (conductor,))), S2_on=at_s2)


@pytest.mark.parametrize(
    ("conductor", "at_s1"),
    [("A", (1153, 155, 1006)), ("N", (1153, 105, 1056)), ("E", (1103, 155, 1056))],
)
def test_poor_joint_of_50_ohm(conductor, at_s1):
    off = (OPEN, OPEN, at_s1[2])
    assert_reads(faulty((ADD_OHMS, "S1", (conductor,), 50.0)), S1_on=at_s1, S1_off=off)


# -- conductors exchanged: the switch stays at the contact it serves -----------------------------
# S1's contacts are fed from 101, 1002 and 4 ohm in another order. Its switch still breaks the
# active contact, so that A-N and A-E are open and N-E is whatever feeds those two.


@pytest.mark.parametrize(
    ("conductors", "contacts"),
    [
        (("A", "N"), (1002, 101, 4)),
        (("A", "E"), (4, 1002, 101)),
        (("N", "E"), (101, 4, 1002)),
        (("A", "N", "E"), (4, 101, 1002)),  # A lands on N, N on E, E on A
        (("A", "E", "N"), (1002, 4, 101)),  # A lands on E, E on N, N on A
    ],
)
def test_exchanged_behind_a_switch_in_the_active(conductors, contacts):
    a, n, e = contacts
    assert_reads(
        faulty((EXCHANGE, "S1", conductors)),
        S1_on=(a + n, a + e, n + e),
        S1_off=(OPEN, OPEN, n + e),
    )


@pytest.mark.parametrize(
    ("conductors", "at_s2"),
    [
        (("A", "N"), (1127, 1054, 145)),
        (("A", "E"), (1054, 145, 1127)),
        (("N", "E"), (145, 1127, 1054)),
        (("A", "N", "E"), (145, 1054, 1127)),
        (("A", "E", "N"), (1054, 1127, 145)),
    ],
)
def test_exchanged_behind_a_switch_in_both_poles(conductors, at_s2):
    """Off, the active and neutral contacts are cut off and every reading is open, as when sound."""
    assert_reads(faulty((EXCHANGE, "S2", conductors)), S2_on=at_s2)


@pytest.mark.parametrize("turn", [1, -1])
def test_an_open_contact_among_those_exchanged(turn):
    """S1's active contact is cut off; A's core, 101 ohm, feeds the neutral contact; any order."""
    both = [(BREAK, "S1", ("A",)), (EXCHANGE, "S1", ("A", "N"))]
    assert_reads(faulty(*both[::turn]), S1_on=(OPEN, OPEN, 105), S1_off=(OPEN, OPEN, 105))


# -- bridged -------------------------------------------------------------------------------------


def bridged(at, conductors, r_ohm, side):
    return faulty(((Step("bridge", side=side),), at, conductors, r_ohm))


def test_active_and_neutral_where_the_cables_meet():
    """50 ohm beside 101 + 1002; S2 reads through it, S1's switch does not take it away."""
    n_e = 4 + beside(1002, 50 + 101)
    assert_reads(
        bridged("S1", ("A", "N"), 50.0, "supply"),
        S1_on=(beside(50, 1103), 4 + beside(101, 50 + 1002), n_e),
        S1_off=(OPEN, OPEN, n_e),
        S2_on=(
            24 + beside(50, 1103),
            8 + 36 + beside(101, 50 + 1002),
            16 + 36 + beside(1002, 50 + 101),
        ),
    )


def test_a_dead_short_reads_zero_to_the_letter():
    both = beside(101, 1002)
    assert_reads(
        bridged("S1", ("A", "N"), 0.0, "supply"),
        S1_on=(0, 4 + both, 4 + both),
        S1_off=(OPEN, OPEN, 4 + both),
        S2_on=(24, 44 + both, 52 + both),
    )


# 50 ohm between S1's active and earth contacts. Switched on, it lies beside 101 + 4.
BEHIND_S1_ON = (1002 + beside(101, 54), beside(50, 105), 1002 + beside(4, 151))
# Switched off, the active contact hangs on the bridge alone.
BEHIND_S1_OFF = (50 + 1006, 50, 1006)


def test_active_and_earth_behind_the_switch():
    """S1 rests switched on, so that S2 reads through the bridge too."""
    assert_reads(
        bridged("S1", ("A", "E"), 50.0, "load"),
        S1_on=BEHIND_S1_ON,
        S1_off=BEHIND_S1_OFF,
        S2_on=(
            24 + 1002 + beside(101, 54),
            40 + beside(50, 105),
            48 + 1002 + beside(4, 151),
        ),
    )


def test_active_and_earth_behind_a_switch_that_rests_off():
    """Only S1 sees it, as if the switch were off while S2 is read."""
    assert_reads(
        bridged("S1", ("A", "E"), 50.0, "load-in-use"), S1_on=BEHIND_S1_ON, S1_off=BEHIND_S1_OFF
    )


def test_behind_a_switch_in_both_poles():
    """Off, both contacts hang on the bridge alone: A-N reads it, earth is out of reach."""
    assert_reads(
        bridged("S2", ("A", "N"), 50.0, "load-in-use"),
        S2_on=(beside(50, 1127), 36 + beside(109, 50 + 1018), 36 + beside(1018, 50 + 109)),
        S2_off=(50, OPEN, OPEN),
    )


@pytest.mark.parametrize("side", ["supply", "load", "load-in-use"])
def test_an_infinite_bridge_is_none(side):
    assert_reads(bridged("S1", ("A", "E"), math.inf, side))


# -- the switch ----------------------------------------------------------------------------------


def test_active_past_the_switch():
    unswitched = faulty(((Step("unswitch", on=("A",)),), "S1", ()))
    assert_reads(unswitched, S1_off=SOUND_READS["S1", "on"])


def test_switch_in_the_neutral():
    steps = (Step("unswitch", on=("A",)), Step("switch", on=("N",)))
    assert_reads(faulty((steps, "S1", ())), S1_off=(OPEN, 105, OPEN))


def test_one_pole_of_two_past_the_switch():
    assert_reads(faulty(((Step("unswitch", on=("A",)),), "S2", ())), S2_off=(OPEN, 145, OPEN))


def test_switch_stuck_on():
    for outlet in ("S1", "S2"):
        stuck = faulty(((Step("unswitch", on=("switched",)),), outlet, ()))
        assert_reads(stuck, **{f"{outlet}_off": SOUND_READS[outlet, "on"]})


def test_switch_stuck_off():
    steps = (Step("break", on=("switched",)),)
    assert_reads(faulty((steps, "S1", ())), S1_on=(OPEN, OPEN, 1006))
    assert_reads(faulty((steps, "S2", ())), S2_on=(OPEN, OPEN, OPEN))


# -- another way to earth, a second link -----------------------------------------------------------


def test_another_way_to_earth_at_the_last_outlet():
    """12 ohm beside 36 at S2 are 9; S1 has 4 beside 32 + 12, 11/3."""
    path = faulty(((Step("earth-path"),), "S2", (), 12.0))
    s1 = 11 / 3
    assert_reads(
        path,
        S1_on=(1103, 101 + s1, 1002 + s1),
        S1_off=(OPEN, OPEN, 1002 + s1),
        S2_on=(1127, 109 + 9, 1018 + 9),
    )


def test_another_way_to_earth_hides_an_open_earth():
    """Without the run's 36 ohm, S2 has the 12 of the path alone, and S1 its own 4."""
    both = faulty((BREAK, "S1..S2", ("E",)), ((Step("earth-path"),), "S2", (), 12.0))
    assert_reads(both, S2_on=(1127, 109 + 12, 1018 + 12))


def test_a_second_link_is_a_bridge_without_ohms():
    """At S1: N-E nothing, 1002 beside 4 to both; S2 has 16 + 32 ohm of its run between them."""
    joined = beside(1002, 4)
    reads = {
        "S1_on": (101 + joined, 101 + joined, 0),
        "S1_off": (OPEN, OPEN, 0),
        "S2_on": (109 + 16 + joined, 109 + 32 + joined, 48),
    }
    assert_reads(faulty(((Step("link"),), "S1", ())), **reads)
    assert_reads(bridged("S1", ("N", "E"), 0.0, "supply"), **reads)
