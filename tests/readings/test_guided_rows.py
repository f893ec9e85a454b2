"""What a guided session leaves in a case: rows with a run parted, looks, what cannot be done."""

from dataclasses import replace

import pytest
from modelled import LINE, RULEBOOK, case

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.evidence.bench import Bench
from faultfinder.network.wiring import network_of, parted
from faultfinder.readings.file import load_case
from faultfinder.readings.reading import Reading, Spot
from faultfinder.readings.writing import dump
from faultfinder.source.problem import BadInput
from faultfinder.source.quantity import Amount
from faultfinder.wiring.circuit import Point

CASE = """\
circuit:
  board: DB
  device: {curve: C, rating: 20}
  cable: {active: 2.5, earth: 2.5}
  points:
    S1: {kind: outlet, switched: true, floor: 1, room: hall, distance: 9}
    S2: {kind: outlet}
  runs:
    - {from: DB, to: S1, length: 14}
    - {from: S1, to: S2, length: 6}
terminators: {active: 10, neutral: 5}
readings:
  - {test: insulation, at: DB, parted: S1..S2, A-E: 0.2}
looked: [S1]
exchanged: [S1..S2]
cannot: [terminated at S2, part at S1]
in-order: [link-out at DB]
"""


def read(text, tmp_path):
    path = tmp_path / "case.yaml"
    path.write_text(text, encoding="utf-8")
    return load_case(path, RULEBOOK.procedures, RULEBOOK.modes, RULEBOOK.set_ups)


def test_all_of_it_is_read(tmp_path):
    found = read(CASE, tmp_path)
    assert found.readings[0].spot == Spot("insulation", "DB", "", "A-E", "S1..S2")
    assert found.looked == ("S1",)
    assert found.exchanged == ("S1..S2",)
    assert found.cannot == (("terminated", "S2"), ("part", "S1"))
    assert found.in_order == (("link-out", "DB"),)
    point = Point("S1", "outlet", ("A",), floor=1, room="hall", distance_m=9.0)
    assert found.circuit.points[0] == point


def test_and_written_again(tmp_path):
    found = read(CASE, tmp_path)
    again = read(dump(found, RULEBOOK.procedures), tmp_path)
    assert replace(again, name="") == replace(found, name="")


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ("parted: S1..S2", "parted: S1..S9", 'no run "S1..S9" in the circuit'),
        ("looked: [S1]", "looked: [S9]", 'no point "S9"'),
        ("exchanged: [S1..S2]", "exchanged: [S1..S3]", 'no point or run "S1..S3"'),
        ("terminated at S2", "terminatd at S2", "is not one of these at a place"),
        ("part at S1", "part", '"part" is not one of these at a place'),
        ("link-out at DB", "link-uot at DB", "is not one of these at a place"),
        ("floor: 1", "floor: up", "floor"),
    ],
)
def test_what_means_nothing_is_told(tmp_path, old, new, complaint):
    with pytest.raises(BadInput) as caught:
        read(CASE.replace(old, new), tmp_path)
    assert complaint in str(caught.value)


def test_nothing_is_parted_live(tmp_path):
    site = tmp_path / "site.yaml"
    lines = CASE.split("terminators:", maxsplit=1)[0].replace("circuit:\n", "").splitlines()
    body = "\n".join(f"  {line}" for line in lines)
    head = "installation: x\nsupply: {system: TN-C-S}\nboards: {DB: {}}\ncircuits:\n  k:\n"
    site.write_text(f"{head}{body}\n", encoding="utf-8")
    rows = "readings:\n  - {test: loop, at: S1, parted: S1..S2, A-E: 0.5}\n"
    with pytest.raises(BadInput, match="nothing is parted then"):
        read(f"installation: site.yaml\ncircuit: k\n{rows}", tmp_path)


def test_a_parted_run_hangs_free_at_its_near_end():
    """R1+R2 by joining at the board is lost beyond the parting, and stands before it."""
    spots = tuple(
        Spot("linked-out", at, "", "A-E", run) for at in ("S1", "S3") for run in ("", "S1..S2")
    )
    read_ohm = Bench(LINE, RULEBOOK.procedures, None, spots).read([lambda _: {}])[0].tolist()
    assert read_ohm[0] == pytest.approx(read_ohm[1])
    assert read_ohm[2] < 1.0
    assert read_ohm[3] == float("inf")


def test_only_a_run_can_be_parted():
    with pytest.raises(ValueError, match="no run S9"):
        parted(network_of(LINE), LINE, "S9")


def test_what_was_read_parted_is_no_fact_of_the_whole():
    spot = Spot("insulation", "DB", "", "A-E", "S1..S2")
    found = diagnose(case(LINE, taken=[Reading(spot, Amount(0.2, "="), 0.01)]), RULEBOOK)
    assert all(not suspect.signs for suspect in found.suspects)
    near = {"S1", "DB..S1"}
    places = {f.at for s in found.leading for f in s.faults if not f.set_up}
    assert places <= near
    assert places
