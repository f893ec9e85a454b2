"""Rows of readings, from YAML or CSV, checked against the tests they are of."""

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from faultfinder.readings.reading import Reading, ReadingForm, ReadingForms, Spot, Switch
from faultfinder.source.document import Document, KeyPath
from faultfinder.source.problem import BadInput, Position, Problem
from faultfinder.source.quantity import Amount, QuantityError, parse_amount
from faultfinder.source.spelling import nearest
from faultfinder.source.text import read_text
from faultfinder.wiring.circuit import Circuit

_KEYS = ("test", "at", "switch", "note")


@dataclass(frozen=True, slots=True)
class Cell:
    """One key and its value as written, each with its position."""

    key: str
    text: str
    key_at: Position
    text_at: Position


@dataclass(frozen=True, slots=True)
class Row:
    """One row of readings as written."""

    at: Position
    cells: tuple[Cell, ...]

    def cell(self, key: str) -> Cell | None:
        """Return the cell of a key, or None."""
        return next((cell for cell in self.cells if cell.key == key), None)


def yaml_rows(document: Document, path: KeyPath) -> list[Row]:
    """Return the rows of a list of mappings that has been decoded as one already."""
    tree = document.tree
    for step in path:
        tree = tree[step]  # type: ignore[index]
    rows = []
    for index, values in enumerate(tree):
        spot = (*path, index)
        cells = tuple(
            Cell(
                key,
                str(text),
                document.key_position((*spot, key)),
                document.position((*spot, key)),
            )
            for key, text in values.items()  # type: ignore[union-attr]
        )
        rows.append(Row(document.position(spot), cells))
    return rows


def csv_rows(path: Path) -> list[Row]:
    """Return the rows of a CSV file with a heading line; empty cells count as not written.

    Raises
    ------
    BadInput
        If it cannot be read, has no heading, names a column twice, or has a row of another width.
    """
    text = read_text(path)
    name = str(path)
    reader = csv.reader(io.StringIO(text), skipinitialspace=True, strict=True)
    rows: list[Row] = []
    problems: list[Problem] = []
    try:
        heading = [column.strip() for column in next(reader, [])]
        for twice in sorted({column for column in heading if heading.count(column) > 1}):
            problems.append(
                Problem(Position(name, 1, 1), "duplicate-key", f'column "{twice}" stands twice')
            )
        for values in reader:
            line = Position(name, reader.line_num, 1)
            if not any(value.strip() for value in values):
                continue
            if len(values) != len(heading):
                problems.append(
                    Problem(line, "wrong-width", f"{len(values)} cells", f"{len(heading)} cells")
                )
                continue
            cells = [
                Cell(key, value.strip(), Position(name, 1, 1), line)
                for key, value in zip(heading, values, strict=True)
                if value.strip()
            ]
            rows.append(Row(line, tuple(cells)))
    except csv.Error as error:
        where = Position(name, reader.line_num, 1)
        problems.append(Problem(where, "csv-syntax", f"not a CSV table: {error}"))
    if problems:
        raise BadInput(problems, {name: text})
    return rows


class RowReader:
    """Checks rows against a circuit and its tests; gathers problems on the way."""

    def __init__(self, circuit: Circuit, tests: ReadingForms, *, has_terminators: bool) -> None:
        self.circuit, self.tests, self.has_terminators = circuit, tests, has_terminators
        self.problems: list[Problem] = []
        self._seen: dict[Spot, tuple[Amount, Position]] = {}

    def _report(
        self, at: Position, id_: str, found: str, expected: str = "", near: str = ""
    ) -> None:
        self.problems.append(Problem(at, id_, found, expected, near))

    def read(self, rows: Sequence[Row]) -> Iterator[Reading]:
        """Yield the readings of the rows; look at ``problems`` afterwards."""
        for row in rows:
            test = self._test(row)
            if test is None:
                continue
            test_id, form = test
            at, switch = self._at(row, form), self._switch(row)
            for cell in row.cells:
                if cell.key in _KEYS:
                    continue
                between = _between(cell.key, form)
                if between is None:
                    self._report(
                        cell.key_at,
                        "unknown-key",
                        f'test {test_id} has no reading "{cell.key}"',
                        f"one of {', '.join((*_KEYS, *form.pairs))}",
                        nearest(cell.key, (*_KEYS, *form.pairs)),
                    )
                elif at is not None and switch is not None:
                    spot = Spot(test_id, at, self._noted(row, at, switch), between)
                    reading = self._reading(spot, cell, form)
                    if reading is not None:
                        yield reading

    def _test(self, row: Row) -> tuple[str, ReadingForm] | None:
        cell = row.cell("test")
        if cell is None:
            self._report(row.at, "missing-key", "a reading without a test", "test: ID")
            return None
        form = self.tests.get(cell.text)
        if form is None:
            self._report(
                cell.text_at,
                "unknown-test",
                f'unknown test "{cell.text}"',
                f"one of {', '.join(sorted(self.tests))}",
                nearest(cell.text, self.tests),
            )
            return None
        if form.needs_terminators and not self.has_terminators:
            self._report(
                cell.text_at,
                "missing-key",
                f"test {cell.text} without terminators",
                "terminators: {active: 10, neutral: 5} in the case",
            )
        return cell.text, form

    def _at(self, row: Row, form: ReadingForm) -> str | None:
        cell = row.cell("at")
        if cell is None:
            self._report(row.at, "missing-key", "a reading without a place", "at: POINT")
            return None
        point = self.circuit.point(cell.text)
        kind = "board" if cell.text == self.circuit.board else point.kind if point else None
        if kind is None:
            known = [self.circuit.board, *(point.name for point in self.circuit.points)]
            self._report(
                cell.text_at,
                "missing-point",
                f'no point "{cell.text}" in the circuit',
                f"one of {', '.join(known)}",
                nearest(cell.text, known),
            )
            return None
        if kind not in form.at:
            self._report(
                cell.text_at,
                "impossible-value",
                f"this test is not read at {cell.text}, a {kind.replace('-', ' ')}",
                f"at: {', '.join(sorted(form.at))}",
            )
            return None
        return cell.text

    def _switch(self, row: Row) -> Switch | None:
        cell = row.cell("switch")
        if cell is None:
            return ""
        word = cell.text.strip().lower()
        word = {"true": "on", "yes": "on", "false": "off", "no": "off"}.get(word, word)
        if word == "on":
            return "on"
        if word == "off":
            return "off"
        self._report(
            cell.text_at,
            "unknown-value",
            f'switch "{cell.text}"',
            "on or off",
            nearest(word, ("on", "off")),
        )
        return None

    def _noted(self, row: Row, at: str, switch: Switch) -> Switch:
        """Return the switch position that counts: none without a switch, on if not noted."""
        point = self.circuit.point(at)
        if point is not None and point.switched:
            return switch or "on"
        if switch == "off":
            cell = row.cell("switch")
            self._report(
                cell.text_at if cell else row.at,
                "impossible-value",
                f"{at} is drawn without a switch, and cannot be read with it off",
                f"switched: true at {at} in the circuit, or no switch in this reading",
            )
        return ""

    def _reading(self, spot: Spot, cell: Cell, form: ReadingForm) -> Reading | None:
        try:
            amount = parse_amount(cell.text, form.unit)
        except QuantityError as error:
            self._report(cell.text_at, error.id, error.found, error.expected, error.nearest)
            return None
        if spot in self._seen:
            before, where = self._seen[spot]
            if amount != before:
                self._report(
                    cell.text_at,
                    "duplicate-reading",
                    f"{spot} was read before with another value (line {where.line})",
                    "one value for each reading",
                )
            return None
        self._seen[spot] = amount, cell.text_at
        return Reading(spot, amount, _resolution(cell.text, amount))


def _between(key: str, form: ReadingForm) -> str | None:
    """Return the pair a key means, whichever way round it is written."""
    sides = key.upper().replace(" ", "").split("-")
    for pair in form.pairs:
        wanted = pair.split("-")
        if sides in (wanted, wanted[::-1]):
            return pair
    return None


def _resolution(text: str, amount: Amount) -> float:
    """Return the step of the last digit written, in the unit of the amount."""
    match = re.search(r"(\d+)(?:\.(\d*))?(?:[eE]([+-]?\d+))?", text)
    if match is None or amount.bound == "open":
        return 0.0
    written = float(match[0])
    step = 10.0 ** (int(match[3] or 0) - len(match[2] or ""))
    return step * (amount.value / written) if written else step
