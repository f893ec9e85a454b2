"""Diagnosis on rings, from readings as a meter takes them, each with its seed.

The ring is five outlets round 47 m of 2.5 mm² with a 1.5 mm² earth, and a spur. Sizes must differ
for cross-joined readings to place a break: between conductors of one size every outlet reads the
same whichever run is broken.
"""

import pytest
from examples import slow
from hypothesis import given
from modelled import RULEBOOK, case
from strategies import rings

from diagnosis.simulated import seeded, taken
from faultfinder.diagnosis.catalogue import hypothesis, no_edit
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run, far_end
from faultfinder.wiring.fault import Fault

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

RING_TESTS = ("ring-ends", "ring-cross")
_REGION = region("uk")


def ring(earth_mm2):
    cable = Cable(2.5, 2.5, earth_mm2, _REGION.conductor_table())
    lengths_m = {("DB", "S1"): 9.0, ("S1", "S2"): 6.0, ("S2", "S3"): 7.0, ("S3", "S4"): 8.0}
    lengths_m |= {("S4", "S5"): 5.0, ("S5", far_end("DB")): 12.0, ("S3", "S6"): 4.0}
    runs = tuple(Run(*ends, length_m, cable) for ends, length_m in lengths_m.items())
    points = tuple(Point(f"S{number}") for number in range(1, 7))
    return Circuit("DB", Device("B", 32.0), points, runs, _REGION)


RING = ring(1.5)
ONE_SIZE = ring(2.5)


def edit_of(circuit, fault):
    if fault is None:
        return no_edit
    bare = Fault(fault.mode, fault.conductors, fault.at)
    way = hypothesis(RULEBOOK.modes[fault.mode], circuit, bare).ways[0]
    return way.edit(fault.r_ohm or 0.0)


def diagnosed(fault, *, circuit=RING, tests=RING_TESTS, seed=1):
    shown = taken(circuit, edit_of(circuit, fault), seeded(seed), tests)
    return diagnose(case(circuit, taken=shown), RULEBOOK)


def said(suspect):
    return {(fault.mode, fault.conductors, fault.at) for fault in suspect.faults}


def leading(diagnosis):
    return [one for suspect in diagnosis.leading for one in said(suspect)]


def probability(diagnosis, *faults):
    """Return the chance of any of these faults, whatever their ohms."""
    wanted = {(fault.mode, fault.conductors, fault.at) for fault in faults}
    return sum(s.probability for s in diagnosis.suspects if said(s) & wanted)


# -- a break ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("conductor", ["A", "N", "E"])
@pytest.mark.parametrize("at", ["DB..S1", "S5..DB"])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_break_at_the_board_is_placed(conductor, at, seed):
    diagnosis = diagnosed(Fault("open", (conductor,), at), seed=seed)
    assert diagnosis.verdict == "fault"
    assert leading(diagnosis) == [("open", (conductor,), at)]


@pytest.mark.parametrize("conductor", ["A", "N", "E"])
def test_a_break_in_every_run_is_placed_without_error(conductor):
    """Readings as the model gives them: the run comes first, before the runs beside it."""
    for run in RING.ring:
        fault = Fault("open", (conductor,), run.name)
        diagnosis = diagnose(case(RING, [fault], RING_TESTS), RULEBOOK)
        assert leading(diagnosis) == [("open", (conductor,), run.name)], run.name


def test_the_middle_is_where_a_meter_sees_least():
    """At the middle both ways round are alike; over seeds the break is in its run or the next."""
    near_by = [Fault("open", ("E",), at) for at in ("S2..S3", "S3..S4")]
    for seed in range(1, 7):
        assert probability(diagnosed(near_by[0], seed=seed), *near_by) > 0.9


def test_conductors_of_one_size_do_not_place_it_and_it_is_said():
    """Every outlet reads r whichever run is broken: all six runs are one group."""
    diagnosis = diagnosed(Fault("open", ("A",), "S1..S2"), circuit=ONE_SIZE)
    assert diagnosis.verdict == "fault"
    assert set(leading(diagnosis)) == {("open", ("A",), run.name) for run in ONE_SIZE.ring}
    assert {check.test for check in diagnosis.next_checks} & {"long-lead", "linked-out"}


def test_a_long_lead_places_it_then():
    tests = (*RING_TESTS, "long-lead")
    diagnosis = diagnosed(Fault("open", ("A",), "S1..S2"), circuit=ONE_SIZE, tests=tests)
    assert leading(diagnosis) == [("open", ("A",), "S1..S2")]


def test_end_to_end_readings_alone_name_the_conductor_and_not_the_run():
    diagnosis = diagnosed(Fault("open", ("N",), "S3..S4"), tests=("ring-ends",))
    assert set(leading(diagnosis)) == {("open", ("N",), run.name) for run in RING.ring}


@pytest.mark.parametrize("runs", [("S1..S2", "S3..S4"), ("DB..S1", "S5..DB")])
def test_two_breaks_in_one_conductor_are_found_together(runs):
    """Between them the outlets are cut off, which no single fault can do to two or more."""
    faults = [Fault("open", ("E",), at) for at in runs]
    diagnosis = diagnose(case(RING, faults, RING_TESTS), RULEBOOK)
    assert diagnosis.verdict == "fault"
    assert set(faults) in [set(suspect.faults) for suspect in diagnosis.leading]


# -- other faults ----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize(
    "fault",
    [
        Fault("transposed", ("A", "E"), "S1..S2"),
        Fault("transposed", ("A", "N"), "S4..S5"),
        Fault("transposed", ("A", "N"), "S5..DB"),
        Fault("high-resistance", ("E",), "S5..DB", 1.0),
        Fault("high-resistance", ("A",), "DB..S1", 2.0),
    ],
    ids=str,
)
def test_what_is_placed_in_its_run(fault, seed):
    diagnosis = diagnosed(fault, seed=seed)
    assert leading(diagnosis) == [(fault.mode, fault.conductors, fault.at)]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_poor_joint_has_its_ohms(seed):
    diagnosis = diagnosed(Fault("high-resistance", ("E",), "S5..DB", 1.0), seed=seed)
    ((low, high),) = diagnosis.suspects[0].ohms
    assert low < 1.0 < high
    assert high - low < 0.3


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_bridge_is_at_its_outlet_or_beside_it(seed):
    """A bridge in the first metre of a cable at S2 and one in S2 read alike."""
    diagnosis = diagnosed(Fault("bridged", ("A", "E"), "S2", 0.05), seed=seed)
    assert ("bridged", ("A", "E"), "S2") in leading(diagnosis)
    places = {at for _, _, at in leading(diagnosis)}
    assert places <= {"S2", "S1..S2", "S2..S3"}


def test_a_fault_on_a_spur_is_not_laid_to_the_ring():
    """What the spur's cable and its only outlet have, no reading tells apart."""
    diagnosis = diagnosed(Fault("open", ("A",), "S3..S6"))
    assert ("open", ("A",), "S3..S6") in leading(diagnosis)
    assert {at for _, _, at in leading(diagnosis)} == {"S3..S6", "S6"}
    joint = diagnosed(Fault("high-resistance", ("E",), "S3..S6", 1.5))
    assert ("high-resistance", ("E",), "S3..S6") in leading(joint)
    assert {at for _, _, at in leading(joint)} == {"S3..S6", "S6"}


def test_a_fault_inside_an_outlet_of_the_ring_leaves_the_others():
    diagnosis = diagnosed(Fault("high-resistance", ("N",), "S4", 0.8))
    assert leading(diagnosis) == [("high-resistance", ("N",), "S4")]


# -- soundness -------------------------------------------------------------------------------------


@pytest.mark.parametrize("tests", [RING_TESTS, ("terminated",), ("linked-out", "long-lead")])
def test_a_sound_ring_is_not_blamed_for_a_meters_errors(tests):
    for circuit in (RING, ONE_SIZE):
        for seed in range(1, 4):
            assert diagnosed(None, circuit=circuit, tests=tests, seed=seed).verdict == "sound"


@slow(15)
@given(rings(max_points=4))
def test_any_sound_ring_is_sound(circuit):
    diagnosis = diagnose(case(circuit, tests=RING_TESTS), RULEBOOK)
    assert diagnosis.verdict == "sound"
    assert all(reading.is_fine for reading in diagnosis.readings)
    assert not diagnosis.next_checks


def test_where_to_look_for_a_break_in_the_closing_run():
    """The outlet first, then the board, by its own name and not that of its far end."""
    diagnosis = diagnosed(Fault("open", ("E",), "S5..DB"))
    look = next(check for check in diagnosis.next_checks if check.test == "inspect")
    assert look.spot.at == "S5"
    assert look.why.endswith("(the cable's other end is at DB)")
    assert diagnosis.suspects[0].title == "CPC open in run S5..DB"
