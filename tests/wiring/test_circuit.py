"""Circuits as values: their tree, and the ohms of their conductors."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import COPPER, circuits, rings

from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import CONDUCTORS, Cable, Circuit, Device, Point, Run, far_end

CABLE = Cable(2.5, 4.0, 1.5, COPPER)

#   DB --- S1 --- J1 --- S2
#                  `---- S3        drawn out of order
BRANCHED = Circuit(
    "DB",
    Device("C", 20.0),
    (Point("S3"), Point("J1", "joint-box"), Point("S1", "outlet", ("A",)), Point("S2")),
    (
        Run("DB", "S1", 14.0, CABLE),
        Run("S1", "J1", 6.0, CABLE),
        Run("J1", "S2", 5.0, CABLE),
        Run("J1", "S3", 4.0, CABLE),
    ),
    region("au-nz"),
)


def names(runs):
    return [run.name for run in runs]


def test_paths_from_the_board():
    assert names(BRANCHED.path("S2")) == ["DB..S1", "S1..J1", "J1..S2"]
    assert names(BRANCHED.path("S3")) == ["DB..S1", "S1..J1", "J1..S3"]
    assert BRANCHED.path("DB") == ()


def test_what_is_beyond():
    assert BRANCHED.beyond("DB") == {"S1", "J1", "S2", "S3"}
    assert BRANCHED.beyond("S1") == {"J1", "S2", "S3"}
    assert BRANCHED.beyond("S3") == set()


def test_outlets_in_drawing_order():
    assert [point.name for point in BRANCHED.outlets()] == ["S3", "S1", "S2"]


def test_points_and_runs_by_name():
    assert BRANCHED.point("S1") == Point("S1", "outlet", ("A",))
    assert BRANCHED.point("DB") is None
    assert BRANCHED.point("S9") is None
    assert BRANCHED.run("S1..J1") is BRANCHED.run("J1..S1") is BRANCHED.runs[1]
    for not_a_run in ("S1", "DB..S2", "S1..", "..S1", "", ".."):
        assert BRANCHED.run(not_a_run) is None


def test_ohms_of_a_run():
    """Ohm per km at 20 °C, IEC 60228 class 2 (as AS/NZS 1125 has it from 2.5 mm² up): 7.41, 4.61.

    1.5 mm² is 13.6 in AS/NZS 1125 (from memory).
    """
    run = BRANCHED.runs[0]
    expected = {"A": 0.10374, "N": 0.06454, "E": 0.1904}
    for conductor, r_ohm in expected.items():
        assert BRANCHED.conductor_ohm(run, conductor) == pytest.approx(r_ohm, rel=1e-12)


def test_ohms_rise_with_temperature():
    """0.00393 per K for copper, IEC 60228 and AS/NZS 3008.1 (from memory): 30 K is 11.79 %."""
    warm = replace(BRANCHED, temperature_c=50.0)
    cold, hot = (c.conductor_ohm(BRANCHED.runs[0], "A") for c in (BRANCHED, warm))
    assert hot == pytest.approx(1.1179 * cold, rel=1e-12)


def test_area_of_each_conductor():
    assert [CABLE.area_mm2(conductor) for conductor in CONDUCTORS] == [2.5, 4.0, 1.5]


@given(circuits())
def test_every_point_has_one_path_that_ends_in_its_feeding_run(circuit):
    for point in circuit.points:
        path = circuit.path(point.name)
        assert path[0].upstream == circuit.board
        assert path[-1] == circuit.feeding_run(point.name)
        assert path[-1].downstream == point.name
        for run, following in pairwise(path):
            assert run.downstream == following.upstream


@given(circuits(), st.data())
def test_beyond_and_path_agree(circuit, data):
    """A point is beyond a place if and only if its path goes through the place."""
    place = data.draw(st.sampled_from([circuit.board, *(point.name for point in circuit.points)]))
    through = {
        point.name
        for point in circuit.points
        if any(run.upstream == place for run in circuit.path(point.name))
    }
    assert circuit.beyond(place) == through


@given(circuits())
def test_names_lead_back(circuit):
    for point in circuit.points:
        assert circuit.point(point.name) is point
    for run in circuit.runs:
        assert circuit.run(run.name) is run
        assert circuit.run(f"{run.downstream}..{run.upstream}") is run
        assert circuit.point(run.name) is None
        assert circuit.run(run.downstream) is None


# -- rings -----------------------------------------------------------------------------------------

#   DB --- S1 --- S2 --- DB
#            `---- P
RING = Circuit(
    "DB",
    Device("B", 32.0),
    (Point("S1"), Point("S2"), Point("P")),
    (
        Run("DB", "S1", 14.0, CABLE),
        Run("S1", "S2", 6.0, CABLE),
        Run("S2", far_end("DB"), 5.0, CABLE),
        Run("S1", "P", 4.0, CABLE),
    ),
    region("uk"),
)


def test_a_ring_and_what_is_on_it():
    assert RING.is_ring
    assert names(RING.ring) == ["DB..S1", "S1..S2", "S2..DB"]
    assert [p.name for p in RING.points if RING.is_on_ring(p.name)] == ["S1", "S2"]
    assert not BRANCHED.is_ring
    assert BRANCHED.ring == ()
    assert not any(BRANCHED.is_on_ring(point.name) for point in BRANCHED.points)


def test_the_closing_run_by_name():
    assert RING.run("S2..DB") is RING.run("DB..S2") is RING.runs[2]
    assert RING.run("DB..S1") is RING.run("S1..DB") is RING.runs[0]
    assert RING.point(RING.far_end) is None


def test_where_a_runs_terminations_are_seen():
    """Opening a point comes before opening the board."""
    ends = {run.name: RING.ends_to_open(run) for run in RING.runs}
    assert ends == {
        "DB..S1": ("S1", "DB"),
        "S1..S2": ("S2", "S1"),
        "S2..DB": ("S2", "DB"),
        "S1..P": ("P", "S1"),
    }


def test_a_ring_of_one_outlet_has_two_runs_of_their_own_names():
    out, back = Run("DB", "S1", 5.0, CABLE), Run("S1", far_end("DB"), 7.0, CABLE)
    circuit = replace(RING, points=(Point("S1"),), runs=(out, back))
    assert circuit.run("DB..S1") is out
    assert circuit.run("S1..DB") is back
    assert circuit.ring == (out, back)


@given(rings())
def test_a_ring_leads_round(circuit):
    assert circuit.is_ring
    assert circuit.ring[0].upstream == circuit.board
    assert circuit.ring[-1].downstream == circuit.far_end
    assert all(run.downstream == next_.upstream for run, next_ in pairwise(circuit.ring))
    on_ring = {run.downstream for run in circuit.ring} - {circuit.far_end}
    assert {p.name for p in circuit.points if circuit.is_on_ring(p.name)} == on_ring
    for run in circuit.runs:
        assert circuit.run(run.name) is run
        assert circuit.far_end not in run.name
        assert circuit.far_end not in circuit.ends_to_open(run)
