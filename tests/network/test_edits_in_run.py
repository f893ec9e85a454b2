"""Faults in a run, each worked by hand on the circuit of ``two_outlets``."""

import math
from dataclasses import replace

import pytest

from faultfinder.network.branch import Probe
from faultfinder.network.edits import Step, fault_edit
from faultfinder.network.solve import impedances
from faultfinder.network.wiring import run_branch
from faultfinder.wiring.fault import Fault
from network.two_outlets import CIRCUIT, OPEN, SOUND, assert_reads, beside, faulty, read

BREAK = (Step("break"),)
ADD_OHMS = (Step("add-ohms"),)
EXCHANGE = (Step("exchange"),)
FIRST, LAST = "DB..S1", "S1..S2"


def test_no_fault():
    assert_reads(SOUND)


# -- open ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("conductor", "at_s1", "at_s2"),
    [
        ("A", (OPEN, OPEN, 1006), (OPEN, OPEN, 1054)),
        ("N", (OPEN, 105, OPEN), (OPEN, 145, OPEN)),
        ("E", (1103, OPEN, OPEN), (1127, OPEN, OPEN)),
    ],
)
def test_open(conductor, at_s1, at_s2):
    """Seen at the far end of the run and at all that is fed through it; nowhere before."""
    off = (OPEN, OPEN, at_s1[2])
    assert_reads(faulty((BREAK, FIRST, (conductor,))), S1_on=at_s1, S1_off=off, S2_on=at_s2)
    assert_reads(faulty((BREAK, LAST, (conductor,))), S2_on=at_s2)


# -- ohms added ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("conductor", "at_s1", "at_s2"),
    [
        ("A", (1153, 155, 1006), (1177, 195, 1054)),
        ("N", (1153, 105, 1056), (1177, 145, 1104)),
        ("E", (1103, 155, 1056), (1127, 195, 1104)),
    ],
)
def test_poor_joint_of_50_ohm(conductor, at_s1, at_s2):
    off = (OPEN, OPEN, at_s1[2])
    in_first = faulty((ADD_OHMS, FIRST, (conductor,), 50.0))
    assert_reads(in_first, S1_on=at_s1, S1_off=off, S2_on=at_s2)
    assert_reads(faulty((ADD_OHMS, LAST, (conductor,), 50.0)), S2_on=at_s2)


def test_no_ohms_added_and_infinite_ohms_added():
    assert_reads(faulty((ADD_OHMS, LAST, ("E",), 0.0)))
    assert_reads(faulty((ADD_OHMS, LAST, ("E",), math.inf)), S2_on=(1127, OPEN, OPEN))


# -- conductors exchanged ------------------------------------------------------------------------
# A core keeps its own ohms and its own terminator, and lands on another's terminal; further runs
# go on from the terminal. Exchanged in the first run, what feeds the terminals of S1 is therefore
# another of 101, 1002 and 4 ohm, to which the second run adds 8, 16 and 32 as ever.


@pytest.mark.parametrize(
    ("conductors", "terminals_s1"),
    [
        (("A", "N"), (1002, 101, 4)),
        (("A", "E"), (4, 1002, 101)),
        (("N", "E"), (101, 4, 1002)),
        (("A", "N", "E"), (4, 101, 1002)),  # A lands on N, N on E, E on A
        (("A", "E", "N"), (1002, 4, 101)),  # A lands on E, E on N, N on A
    ],
)
def test_exchanged_in_the_first_run(conductors, terminals_s1):
    a, n, e = terminals_s1
    assert_reads(
        faulty((EXCHANGE, FIRST, conductors)),
        S1_on=(a + n, a + e, n + e),
        S1_off=(OPEN, OPEN, n + e),
        S2_on=(a + n + 24, a + e + 40, n + e + 48),
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
def test_exchanged_in_the_last_run(conductors, at_s2):
    """The same three sums as sound, in another order; S1 is before the fault."""
    assert_reads(faulty((EXCHANGE, LAST, conductors)), S2_on=at_s2)


def test_exchanged_twice_is_sound():
    both = (EXCHANGE, FIRST, ("A", "N"))
    assert_reads(faulty(both, both))
    assert_reads(faulty((EXCHANGE, FIRST, ("A", "N", "E")), (EXCHANGE, FIRST, ("A", "E", "N"))))


# -- bridged -------------------------------------------------------------------------------------


def bridged_in_run(at, conductors, r_ohm, along):
    return faulty(((Step("bridge", along=along),), at, conductors, r_ohm))


def test_active_and_earth_bridged_a_quarter_along_the_last_run():
    """50 ohm between A, 2 ohm from S1 and 6 from S2, and E, 8 ohm from S1 and 24 from S2."""
    assert_reads(
        bridged_in_run(LAST, ("A", "E"), 50.0, 0.25),
        S1_on=(
            1002 + beside(101, 2 + 50 + 8 + 4),
            beside(105, 2 + 50 + 8),
            1002 + beside(4, 8 + 50 + 2 + 101),
        ),
        S1_off=(OPEN, OPEN, 1002 + beside(4, 8 + 50 + 2 + 101)),
        S2_on=(
            1018 + 6 + beside(103, 50 + 12),
            6 + 24 + beside(50, 103 + 12),
            1018 + 24 + beside(12, 50 + 103),
        ),
    )


def test_neutral_and_earth_bolted_together_half_along_the_first_run():
    """N is 1001 ohm from the common point there and E 2: beside each other for A; S2 sees it so."""
    both = beside(1001, 2)
    assert_reads(
        bridged_in_run(FIRST, ("N", "E"), 0.0, 0.5),
        S1_on=(101 + 1 + both, 101 + 2 + both, 3),
        S1_off=(OPEN, OPEN, 3),
        S2_on=(109 + 1 + 16 + both, 109 + 2 + 32 + both, 3 + 48),
    )


@pytest.mark.parametrize(("along", "outlet"), [(0.0, "S1"), (1.0, "S2")])
def test_a_bridge_at_an_end_of_a_run_is_one_where_the_cables_meet(along, outlet):
    in_run = bridged_in_run(LAST, ("A", "N"), 20.0, along)
    at_outlet = faulty(((Step("bridge"),), outlet, ("A", "N"), 20.0))
    for place in ("S1", "S2"):
        for switch in ("on", "off"):
            expected = read(at_outlet, place, switch)
            assert read(in_run, place, switch) == pytest.approx(expected, rel=1e-12)


def test_an_infinite_bridge_is_none():
    assert_reads(bridged_in_run(LAST, ("A", "E"), math.inf, 0.3))


# -- places and steps ----------------------------------------------------------------------------


def test_a_run_may_be_written_from_either_end():
    for steps, conductors in ((BREAK, ("E",)), (EXCHANGE, ("A", "N")), ((Step("bridge"),), "AE")):
        turned = faulty((steps, "S2..S1", tuple(conductors), 3.0))
        straight = faulty((steps, LAST, tuple(conductors), 3.0))
        assert read(turned, "S2", "on") == read(straight, "S2", "on")
        assert read(straight, "S2", "on") != read(SOUND, "S2", "on")


def test_a_step_may_name_its_own_conductor():
    assert_reads(faulty(((Step("break", on=("N",)),), LAST, ("E",))), S2_on=(OPEN, 145, OPEN))


def test_steps_follow_each_other():
    """Ohms are added to the active core, which then lands on the neutral terminal."""
    steps = (Step("add-ohms", on=("A",)), Step("exchange"))
    assert_reads(faulty((steps, LAST, ("A", "N"), 50.0)), S2_on=(1177, 1054, 195))


def test_the_network_given_is_not_changed():
    before = dict(SOUND)
    fault_edit(SOUND, CIRCUIT, EXCHANGE, Fault("", ("A", "N", "E"), FIRST))
    assert before == SOUND


# -- two faults in one run -----------------------------------------------------------------------


@pytest.mark.parametrize("turn", [1, -1])
def test_a_broken_core_among_those_exchanged(turn):
    """A's core is broken, A and N are crossed: N's core feeds S2's active, nothing its neutral."""
    both = [(BREAK, LAST, ("A",)), (EXCHANGE, LAST, ("A", "N"))]
    assert_reads(faulty(*both[::turn]), S2_on=(OPEN, 1054, OPEN))


@pytest.mark.parametrize(
    ("fault", "at_s2"),
    [
        # The terminations of a run are at its far end, beyond the bridge of 50 ohm half along:
        # there A is 101 + 4 and E 4 + 16 ohm from the common point.
        ((BREAK, LAST, ("A",)), (OPEN, OPEN, 1018 + 16 + beside(20, 50 + 105))),
        (
            (ADD_OHMS, LAST, ("A",), 7.0),
            (
                1018 + 4 + 7 + beside(105, 50 + 20),
                4 + 7 + 16 + beside(50, 105 + 20),
                1018 + 16 + beside(20, 50 + 105),
            ),
        ),
        (
            (EXCHANGE, LAST, ("A", "N")),
            (
                1018 + 4 + beside(105, 50 + 20),
                1018 + 16 + beside(20, 50 + 105),
                4 + 16 + beside(50, 105 + 20),
            ),
        ),
    ],
)
def test_a_bridge_and_another_fault_beyond_it(fault, at_s2):
    bridge = ((Step("bridge"),), LAST, ("A", "E"), 50.0)
    s1_off = (OPEN, OPEN, 1002 + beside(4, 16 + 50 + 4 + 101))
    assert_reads(
        faulty(bridge, fault),
        S1_on=(1002 + beside(101, 4 + 50 + 16 + 4), beside(105, 4 + 50 + 16), s1_off[2]),
        S1_off=s1_off,
        S2_on=at_s2,
    )


# -- reactance -----------------------------------------------------------------------------------


@pytest.mark.parametrize("along", [0.1, 0.5, 0.9])
def test_a_bridge_that_conducts_nothing_leaves_the_impedance_of_a_run(along):
    """The run is cut in two where the bridge is: its reactance is shared like its resistance."""
    name = run_branch(FIRST, "A")
    network = {**SOUND, name: replace(SOUND[name], x_ohm=0.5)}
    fault = Fault("", ("A", "E"), FIRST)
    edit = fault_edit(network, CIRCUIT, (Step("bridge", along=along),), fault, OPEN)
    across = Probe((network[name].start,), (network[name].end,))
    assert impedances(network, [across], [edit])[0, 0] == pytest.approx(1 + 0.5j)


# -- all conductors of a run with more ohms -------------------------------------------------------


@pytest.mark.parametrize(
    ("by", "at_s2"),
    # 8, 16 and 32 ohm more of the last run's, once and a half times: A 109 + 12, N 1018 + 24 …
    [(2, (1127 + 24, 145 + 40, 1054 + 48)), (2.5, (1127 + 36, 145 + 60, 1054 + 72))],
)
def test_a_smaller_cable_in_the_last_run(by, at_s2):
    scaled = faulty(((Step("scale", ("all",), by=by),), "S1..S2", ()))
    assert_reads(scaled, S2_on=at_s2)


def test_a_smaller_cable_in_the_first_run_is_seen_at_both():
    """1, 2 and 4 ohm more."""
    scaled = faulty(((Step("scale", ("all",), by=2),), "DB..S1", ()))
    assert_reads(
        scaled,
        S1_on=(1103 + 3, 105 + 5, 1006 + 6),
        S1_off=(OPEN, OPEN, 1006 + 6),
        S2_on=(1127 + 3, 145 + 5, 1054 + 6),
    )
