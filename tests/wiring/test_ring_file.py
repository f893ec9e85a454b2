"""Ring final circuits as people write them: which run closes the ring, and mistakes in one."""

import pytest

from faultfinder.source.document import parse_yaml
from faultfinder.source.problem import BadInput
from faultfinder.wiring.file import circuit_from
from faultfinder.wiring.schema import CircuitFile

HEAD = """\
board: DB
kind: ring
device: {curve: B, rating: 32}
cable: {active: 2.5, earth: 1.5}
points: {S1: {}, S2: {}, S3: {}}
runs:
"""


def written(*ends, kind="ring"):
    """Return a circuit with runs written so, such as ``DB-S1``; lengths count up from one."""
    lines = [
        "  - {{from: {}, to: {}, length: {}}}\n".format(*run.split("-"), metres)
        for metres, run in enumerate(ends, start=1)
    ]
    return HEAD.replace("kind: ring", f"kind: {kind}") + "".join(lines)


def read(*ends):
    return circuit_from(parse_yaml(written(*ends), "c.yaml"))


def complaints(text):
    with pytest.raises(BadInput) as caught:
        circuit_from(parse_yaml(text, "c.yaml"))
    return [f"{p.position} {p.id} | {p.found} | {p.expected}" for p in caught.value.problems]


def drawn(circuit):
    return {run.name: run.length_m for run in circuit.runs}


def round_it(circuit):
    return [run.name for run in circuit.ring]


# -- rings that are right --------------------------------------------------------------------------


def test_a_circuit_is_radial_unless_it_says_ring():
    assert CircuitFile.model_fields["kind"].default == "radial"
    radial = circuit_from(parse_yaml(written("DB-S1", "S1-S2", "S2-S3", kind="radial"), "c.yaml"))
    assert not radial.is_ring


@pytest.mark.parametrize(
    "ends",
    [
        ("DB-S1", "S1-S2", "S2-S3", "S3-DB"),
        ("S1-DB", "S2-S1", "S3-S2", "DB-S3"),
        ("DB-S1", "S2-S1", "S2-S3", "DB-S3"),
    ],
)
def test_runs_written_from_either_end(ends):
    circuit = read(*ends)
    assert drawn(circuit) == {"DB..S1": 1, "S1..S2": 2, "S2..S3": 3, "S3..DB": 4}
    assert round_it(circuit) == ["DB..S1", "S1..S2", "S2..S3", "S3..DB"]


def test_the_last_run_at_the_board_closes_the_ring():
    """Runs in any order: it goes round from the one written first to the one written last."""
    circuit = read("S3-DB", "S1-S2", "S2-S3", "DB-S1")
    assert round_it(circuit) == ["DB..S3", "S3..S2", "S2..S1", "S1..DB"]
    assert drawn(circuit)["S1..DB"] == 4


@pytest.mark.parametrize(
    "ends",
    [("DB-S1", "S1-S2", "S2-DB", "DB-S3"), ("DB-S3", "DB-S1", "S1-S2", "S2-DB")],
)
def test_a_spur_from_the_board_does_not_close_it(ends):
    circuit = read(*ends)
    assert round_it(circuit) == ["DB..S1", "S1..S2", "S2..DB"]
    assert circuit.path("S3")[0].name == "DB..S3"
    assert not circuit.is_on_ring("S3")


def test_a_ring_of_one_outlet():
    text = written("DB-S1", "S1-DB").replace("{S1: {}, S2: {}, S3: {}}", "{S1: {}}")
    circuit = circuit_from(parse_yaml(text, "c.yaml"))
    assert drawn(circuit) == {"DB..S1": 1, "S1..DB": 2}
    assert round_it(circuit) == ["DB..S1", "S1..DB"]


# -- mistakes --------------------------------------------------------------------------------------

NOT_A_RING = (
    "c.yaml:2:7 not-a-ring | the runs do not come back to the board DB | a run that leaves the "
    "board, and one that returns to it; or kind: radial"
)


@pytest.mark.parametrize(
    "ends",
    [
        ("DB-S1", "S1-S2", "S2-S3"),
        ("DB-S1", "DB-S2", "DB-S3"),
        ("DB-S1", "S1-S2", "DB-S3"),
    ],
)
def test_it_does_not_come_back(ends):
    assert complaints(written(*ends)) == [NOT_A_RING]


def test_it_comes_back_to_a_point():
    (said,) = complaints(written("DB-S1", "S1-S2", "S2-S3", "S3-S1"))
    assert said == (
        "c.yaml:10:5 loop | this run closes a loop: S1 - S2 - S3 - S1 | one ring, from the board "
        "and back to it, and spurs"
    )


def test_a_second_loop():
    (said,) = complaints(written("DB-S1", "S1-S2", "S2-S3", "S3-S1", "S3-DB"))
    assert said.startswith(
        "c.yaml:10:5 loop | this run closes a loop: S1 - S2 - S3 - S1 | one ring"
    )


def test_two_rings_on_one_device():
    (said,) = complaints(written("DB-S1", "S1-DB", "DB-S2", "S2-S3", "S3-DB"))
    assert said == (
        "c.yaml:8:5 duplicate-run | the run S1..DB is drawn on line 7 already | one run between "
        "two points"
    )


def test_a_run_drawn_twice():
    (said,) = complaints(written("DB-S1", "S1-S2", "S2-S1", "S2-S3", "S3-DB"))
    assert said == (
        "c.yaml:9:5 duplicate-run | the run S2..S1 is drawn on line 8 already | one run between "
        "two points"
    )


def test_a_ring_drawn_as_radial():
    (said,) = complaints(written("DB-S1", "S1-S2", "S2-S3", "S3-DB", kind="radial"))
    assert said == (
        "c.yaml:10:5 loop | this run closes a loop: DB - S1 - S2 - S3 - DB | a radial circuit, "
        "each point fed by one run; or kind: ring"
    )


def test_a_misspelt_end_is_the_only_complaint():
    """Whether it comes back hangs on the run that is wrong."""
    (said,) = complaints(written("DB-S1", "S1-S2", "S2-S3", "S3-BD"))
    assert said.startswith('c.yaml:10:20 missing-point | no point "BD"')


def test_a_point_that_hangs_on_nothing():
    (said,) = complaints(written("DB-S1", "S1-S2", "S2-DB"))
    assert said == (
        "c.yaml:5:30 not-fed | no run leads from the board DB to point S3 | runs that reach every "
        "point"
    )


def test_a_kind_there_is_not():
    (said,) = complaints(written("DB-S1", "S1-DB", kind="rign"))
    assert said == 'c.yaml:2:7 unknown-value | unknown kind "rign" | radial or ring'
