"""Circuits as values: their tree, and the ohms of their conductors."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import COPPER, circuits

from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import CONDUCTORS, Cable, Circuit, Device, Point, Run

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


def test_last_points():
    assert [p.name for p in BRANCHED.points if BRANCHED.is_last(p.name)] == ["S3", "S2"]


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
    assert circuit.is_last(place) == (not through)


@given(circuits())
def test_names_lead_back(circuit):
    for point in circuit.points:
        assert circuit.point(point.name) is point
    for run in circuit.runs:
        assert circuit.run(run.name) is run
        assert circuit.run(f"{run.downstream}..{run.upstream}") is run
        assert circuit.point(run.name) is None
        assert circuit.run(run.downstream) is None
