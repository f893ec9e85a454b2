"""Rows of readings held against tests of other forms than those that come with the program."""

from dataclasses import dataclass

from faultfinder.readings.rows import Cell, Row, RowReader
from faultfinder.source.problem import Position
from readings.written import CASE, read


@dataclass(frozen=True)
class Form:
    """A test read with the switch on only, at the board and at outlets."""

    unit: str = "ohm"
    quantity: str = "resistance"
    pairs: tuple[str, ...] = ("A-N",)
    switch: str = "on"
    at: tuple[str, ...] = ("board", "outlet")
    for_rings_only: bool = False
    needs_terminators: bool = False
    is_live: bool = False

    def is_read_at(self, point) -> bool:
        """Return whether it is read at a point, or at the board."""
        return (point.kind if point else "board") in self.at

    def pairs_of(self, actives: tuple[str, ...]) -> tuple[str, ...]:
        """Return its pairs, on a circuit of one active."""
        assert actives == ("A",)
        return self.pairs


def row(**cells: str) -> Row:
    at = Position("f", 1, 1)
    return Row(at, tuple(Cell(key.replace("_", "-"), text, at, at) for key, text in cells.items()))


def reader() -> RowReader:
    return RowReader(read(CASE).circuit, {"live": Form()}, has_terminators=False)


def test_a_test_that_needs_no_switching_is_not_read_with_the_switch_off():
    checked = reader()
    assert list(checked.read([row(test="live", at="S1", switch="off", A_N="1")])) == []
    (problem,) = checked.problems
    assert problem.found == "test live is not read with the switch off"
    assert (problem.id, problem.expected) == ("impossible-value", "switch: on")


def test_a_test_that_is_read_at_several_kinds_of_place():
    checked = reader()
    rows = [row(test="live", at=at, A_N="1") for at in ("DB", "S1", "S2", "J1")]
    assert [str(reading.spot) for reading in checked.read(rows)] == [
        "A-N at DB",
        "A-N at S1, switch on",
        "A-N at S2",
    ]
    (problem,) = checked.problems
    assert problem.found == "test live is not read at J1, a joint box"
    assert problem.expected == "a place of kind board or outlet"


def test_leads_nulled_too_far_leave_a_short_a_little_below_zero():
    """A digit or two under zero is what an instrument shows; more is a slip of the pen."""
    (first, *_) = read(CASE.replace("15.3", "-0.02", 1)).readings
    assert first.amount.value == -0.02
