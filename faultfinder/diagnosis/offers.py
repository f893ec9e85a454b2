"""What can be done on a circuit to learn more: rows to read, points to open, set-ups to look at."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from faultfinder.evidence.limits import is_usual
from faultfinder.readings.case import Case
from faultfinder.readings.doing import LOOK, PART
from faultfinder.readings.reading import Spot
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.procedures import Procedure
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.circuit import Run

Arrangement = tuple[str, str]
"""How the board is arranged: for which test, and for which pair where that matters."""


@dataclass(frozen=True, slots=True)
class Row:
    """What is read at one go: one test at one place, one switch position.

    Attributes
    ----------
    procedure : Procedure
        The test.
    spots : tuple of Spot
        What is read there, and was not yet.
    minutes : float
        What it takes there.
    arrangement : (str, str)
        How the board has to be arranged.
    via : str or None
        Where the circuit is parted first.
    """

    procedure: Procedure
    spots: tuple[Spot, ...]
    minutes: float
    arrangement: Arrangement
    via: str | None = None

    @property
    def at(self) -> str:
        """Where it is read."""
        return self.spots[0].at


def tests_to_take(case: Case, rulebook: Rulebook, *, live: bool) -> list[Procedure]:
    """Return the dead, or the live, tests that may be taken on a case unasked."""
    used = {reading.spot.test for reading in case.readings}
    return [
        procedure
        for procedure in rulebook.procedures.values()
        if procedure.is_live == live
        and (not live or case.installation is not None)
        and (procedure.id in used or is_usual(procedure, case.circuit, case.installation))
    ]


def rows_to_read(case: Case, rulebook: Rulebook, *, live: bool = False) -> list[Row]:
    """Return every row of readings not taken yet, in walking order.

    A leak reads the same wherever it is read, conductors being nothing beside it: insulation is
    read at the board.
    """
    taken = {reading.spot for reading in case.readings}
    found = []
    for procedure in tests_to_take(case, rulebook, live=live):
        spots = spots_of(procedure, case.circuit)
        if procedure.leakage and procedure.is_read_at(None):
            spots = tuple(spot for spot in spots if spot.at == case.circuit.board)
        left = [spot for spot in spots if spot not in taken]
        found += [
            Row(procedure, row, procedure.minutes.each, arrangement)
            for arrangement, row in _by_row(procedure, left)
            if (procedure.id, row[0].at) not in case.cannot
        ]
    order = {place: i for i, place in enumerate((case.circuit.board, *_points(case)))}
    return sorted(found, key=lambda row: order[row.at])


def rows_with_parted(case: Case, rulebook: Rulebook, runs: Sequence[Run]) -> list[Row]:
    """Return rows that are read with one of some runs parted, at the board and at its far end."""
    taken = {reading.spot for reading in case.readings}
    allowed = {procedure.id for procedure in tests_to_take(case, rulebook, live=False)}
    rule, board = rulebook.separation, case.circuit.board
    found = []
    for run in runs:
        via = run.upstream
        if via == board or (PART, via) in case.cannot:
            continue
        for test in rule.tests:
            procedure = rulebook.procedures[test]
            at_ends = [
                Spot(test, spot.at, spot.switch, spot.between, run.name)
                for spot in spots_of(procedure, case.circuit)
                if spot.at in {board, run.downstream} and spot.switch != "off"
            ]
            left = [spot for spot in at_ends if spot not in taken]
            minutes = procedure.minutes.each + rule.minutes
            found += [
                Row(procedure, row, minutes, arrangement, via)
                for arrangement, row in _by_row(procedure, left)
                if test in allowed and (test, row[0].at) not in case.cannot
            ]
    return found


def _by_row(
    procedure: Procedure, spots: Sequence[Spot]
) -> Iterator[tuple[Arrangement, tuple[Spot, ...]]]:
    """Yield spots that are read at one go, with the arrangement they need."""
    rows: dict[tuple[str, str, str], list[Spot]] = {}
    for spot in spots:
        key = spot.at, spot.switch, procedure.arrangement(spot.between)
        rows.setdefault(key, []).append(spot)
    for (_, _, pair), row in rows.items():
        yield (procedure.id, pair), tuple(row)


def points_to_open(case: Case, places: Sequence[str]) -> list[str]:
    """Return which of some places can be opened, in walking order."""
    every = (*_points(case), case.circuit.board)
    return [at for at in every if at in places and (LOOK, at) not in case.cannot]


def _points(case: Case) -> tuple[str, ...]:
    return tuple(point.name for point in case.circuit.points)
