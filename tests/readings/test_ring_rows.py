"""Readings of ring tests: on a ring, and on a circuit that is none."""

from readings.written import CIRCUIT, changed, complaints, read

LAST_RUN = "    - {from: S1, to: J1, length: 2}\n"
RING = changed(
    ("  board: DB\n", "  board: DB\n  kind: ring\n"),
    (LAST_RUN, LAST_RUN + "    - {from: S2, to: DB, length: 9}\n"),
    text=CIRCUIT,
)
ENDS = "  - {test: ring-ends, at: DB, A: 0.21, N: 0.21, E: 0.21}\n"
CROSS = "  - {test: ring-cross, at: S2, A-N: 0.11, A-E: 0.11}\n"
AT_BOX = "  - {test: ring-cross, at: J1, A-N: 0.14}\n"


def test_on_a_ring():
    case = read(RING + "readings:\n" + ENDS + CROSS + AT_BOX)
    assert [str(reading.spot) for reading in case.readings] == [
        "A at DB",
        "N at DB",
        "E at DB",
        "A-N at S2",
        "A-E at S2",
        "A-N at J1",
    ]


def test_on_a_radial_circuit_each_test_is_told_once():
    told = (
        "case.yaml:{}:12 impossible-value | test {} is for rings, and the circuit is drawn radial "
        "| kind: ring in the circuit, or another test | "
    )
    assert complaints(CIRCUIT + "readings:\n" + ENDS + CROSS + ENDS + AT_BOX) == [
        told.format(14, "ring-ends"),
        told.format(15, "ring-cross"),
    ]


def test_ends_are_read_at_the_board_alone():
    (said,) = complaints(RING + "readings:\n" + ENDS.replace("DB", "S1"))
    assert said == (
        "case.yaml:16:27 impossible-value | test ring-ends is not read at S1, an outlet | a place "
        "of kind board | "
    )
