"""Rows of readings from a CSV file with a heading line."""

import re
from collections.abc import Iterator

from faultfinder.readings.rows import MOST_ROWS, Cell, Row, misspelt
from faultfinder.source.problem import BadInput, Position, Problem, shown

_CELL = re.compile(r' *+("(?:[^"]|"")*+" *+|[^",]*+)(,|$)')
_ALWAYS = ("test", "at")


def csv_rows(text: str, name: str) -> list[Row]:
    """Return the rows of a CSV table; ``name`` stands for its file in positions.

    Cells are separated by commas, and one that holds a comma or a quote stands in double quotes
    (RFC 4180, from memory), but ends on its line. Empty cells count as not written, empty lines
    are left out.

    Raises
    ------
    BadInput
        If a column is named twice, ``test`` or ``at`` is no column, or a row is of another width.
    """
    table = _Table(name)
    rows = list(table.rows(text.split("\n")))
    if table.problems:
        raise BadInput(table.problems, {name: text})
    return rows


class _Table:
    def __init__(self, name: str) -> None:
        self.name = name
        self.problems: list[Problem] = []

    def report(self, at: Position, id_: str, found: str, expected: str, near: str = "") -> None:
        self.problems.append(Problem(at, id_, found, expected, near))

    def rows(self, lines: list[str]) -> Iterator[Row]:
        heading: list[tuple[str, Position]] = []
        count = 0
        for number, line in enumerate(lines, start=1):
            if not line.strip(" \t,"):
                continue
            cells = self.cells(number, line)
            if not heading:
                if not self.is_heading(number, cells):
                    return
                heading = cells
                continue
            count += 1
            start = Position(self.name, number, 1)
            if count > MOST_ROWS:
                self.report(start, "out-of-range", "too many rows", f"at most {MOST_ROWS}")
                return
            if not cells:
                continue
            if len(cells) != len(heading):
                found, wanted = f"{len(cells)} cells in this row", f"{len(heading)} cells"
                self.report(start, "wrong-width", found, f"{wanted}, as the heading has")
                continue
            pairs = zip(heading, cells, strict=True)
            written = (
                Cell(key, value, key_at, at) for (key, key_at), (value, at) in pairs if value
            )
            yield Row(start, tuple(written))
        if not heading:
            whole = Position(self.name, 0, 0)
            self.report(whole, "empty-file", "the table holds nothing", "test,at,switch,A-N,…")

    def cells(self, number: int, line: str) -> list[tuple[str, Position]]:
        """Return the cells of a line with their places; none if it is not a row."""
        cells = []
        start, more = 0, True
        while more:
            match = _CELL.match(line, start)
            if match is None:
                at = Position(self.name, number, start + 1)
                found = "a quote is not closed, or stands inside a cell"
                self.report(at, "csv-syntax", found, 'a cell with a quote as "4"" pipe"')
                return []
            value = match[1].strip()
            if value.startswith('"'):
                value = value[1:-1].replace('""', '"').strip()
            cells.append((value, Position(self.name, number, match.start(1) + 1)))
            start, more = match.end(), match[2] == ","
        return cells

    def is_heading(self, number: int, cells: list[tuple[str, Position]]) -> bool:
        """Check the names of the columns; rows are not worth reading under bad ones."""
        before = len(self.problems)
        names = [column for column, _ in cells]
        start = Position(self.name, number, 1)
        for place, (column, at) in enumerate(cells):
            if column and column in names[:place]:
                found = f"the column {shown(column)} stands twice"
                self.report(at, "duplicate-key", found, "each column once")
        if len(cells) == 1 and (other := re.search("[;\t]", names[0])):
            sign = {";": "semicolons", "\t": "tabs"}[other[0]]
            self.report(start, "csv-syntax", f"the columns are separated by {sign}", "commas")
        elif cells:
            for column in _ALWAYS:
                if column not in names:
                    meant = misspelt(column, names)
                    at = cells[names.index(meant)][1] if meant else start
                    found = f"the column {shown(column)} is missing"
                    near = column if meant else ""
                    self.report(at, "missing-key", found, "test,at,switch,A-N,…", near)
        return len(self.problems) == before and bool(cells)
