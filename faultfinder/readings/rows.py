"""Rows of readings as written, checked against the tests they are of."""

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from faultfinder.readings.reading import Reading, ReadingForm, ReadingForms, Spot, Switch
from faultfinder.source.complaint import no_such_key
from faultfinder.source.document import Document, KeyPath
from faultfinder.source.problem import Position, Problem, listed, shown
from faultfinder.source.quantity import Amount, QuantityError, parse_amount
from faultfinder.source.spelling import nearest
from faultfinder.wiring.circuit import Circuit

MOST_ROWS = 5000
_KEYS = ("test", "at", "switch", "parted", "note")
_SHORTEST_SLIP = 2  # characters: "A" is a conductor and no slip for "at"
_MOST = 1e12  # ohm or Mohm; no instrument shows more, and sums of squares stay finite

# Leads nulled at a warm spot leave a short a little below zero; more is a slip of the pen.
_LEAST = {"ohm": -0.5}


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


class RowReader:
    """Checks rows against a circuit and its tests; gathers problems on the way."""

    def __init__(
        self,
        circuit: Circuit,
        tests: ReadingForms,
        *,
        has_terminators: bool,
        has_supply: bool = False,
    ) -> None:
        self.circuit, self.tests = circuit, tests
        self.has_terminators, self.has_supply = has_terminators, has_supply
        self.problems: list[Problem] = []
        self._seen: dict[Spot, tuple[Amount, Cell]] = {}
        self._told: set[str] = set()  # tests that lack terminators, columns that mean nothing

    def _report(
        self, at: Position, id_: str, found: str, expected: str = "", near: str = ""
    ) -> None:
        self.problems.append(Problem(at, id_, found, expected, near))

    def read(self, rows: Sequence[Row]) -> Iterator[Reading]:
        """Yield the readings of the rows; look at ``problems`` afterwards."""
        for row in rows:
            test, at, switch = self._test(row), self._at(row), self._switch(row)
            parted = self._parted(row, test)
            if test is None:
                continue
            form = self.tests[test]
            if at is not None and switch is not None:
                switch = self._noted(row, test, at, switch)
            for cell in row.cells:
                if cell.key in _KEYS:
                    continue
                pairs = form.pairs_of(self.circuit.actives_at(at)) if at else form.pairs
                between = pair_meant(cell.key, pairs)
                if between is None:
                    self._unknown_key(cell, test, pairs)
                    continue
                amount = self._amount(cell, form)
                if amount is None or at is None or switch is None or parted is None:
                    continue
                spot = Spot(test, at, switch, between, parted)
                if self._is_new(spot, cell, amount, noted=row.cell("switch") is not None):
                    yield Reading(spot, amount, _resolution(cell.text, amount, form.unit))

    def _test(self, row: Row) -> str | None:
        cell = row.cell("test")
        if cell is None:
            self._missing(row, "test", "a reading without a test", "test: ID")
            return None
        form = self.tests.get(cell.text)
        if form is None:
            self._report(
                cell.text_at,
                "unknown-test",
                f"unknown test {shown(cell.text)}",
                listed(sorted(self.tests)),
                nearest(cell.text, self.tests),
            )
            return None
        if form.needs_terminators and not self.has_terminators and cell.text not in self._told:
            self._told.add(cell.text)
            self._report(
                cell.text_at,
                "missing-key",
                f"a reading of test {cell.text}, and no terminators in the case",
                "terminators: {active: 10, neutral: 5}, the resistors fitted at the board",
            )
        if form.is_live and not self.has_supply and cell.text not in self._told:
            self._told.add(cell.text)
            self._report(
                cell.text_at,
                "missing-key",
                f"a reading of live test {cell.text}, and nothing is known of the supply",
                "installation: FILE, which has the supply, and the circuit's name in circuit",
            )
        if form.for_rings_only and not self.circuit.is_ring and cell.text not in self._told:
            self._told.add(cell.text)
            self._report(
                cell.text_at,
                "impossible-value",
                f"test {cell.text} is for rings, and the circuit is drawn radial",
                "kind: ring in the circuit, or another test",
            )
        return cell.text

    def _missing(self, row: Row, key: str, found: str, expected: str) -> None:
        """Report that a row lacks a key, at the key that was probably meant to be it."""
        meant = misspelt(key, [cell.key for cell in row.cells])
        cell = row.cell(meant)
        if cell is None:
            self._report(row.at, "missing-key", found, expected)
        elif f"{cell.key_at} {meant}" not in self._told:
            self._told.add(f"{cell.key_at} {meant}")
            says = no_such_key(meant, cell.text, _KEYS)
            self._report(cell.key_at, says.id, says.found, expected, key)

    def _at(self, row: Row) -> str | None:
        cell = row.cell("at")
        if cell is None:
            self._missing(row, "at", "a reading without a place", "at: POINT")
            return None
        known = (self.circuit.board, *(point.name for point in self.circuit.points))
        if cell.text in known:
            return cell.text
        self._report(
            cell.text_at,
            "missing-point",
            f"no point {shown(cell.text)} in the circuit",
            listed(known),
            nearest(cell.text, known),
        )
        return None

    def _switch(self, row: Row) -> Switch | None:
        cell, place = row.cell("switch"), row.cell("at")
        if cell is None:
            return ""
        word = cell.text.strip().lower()
        point = self.circuit.point(place.text) if place else None
        words = (self.circuit.switch_words(point) if point else ()) or ("on", "off")
        meant = {"true": "on", "yes": "on", "false": "off", "no": "off"}.get(word, word)
        if meant in words:
            return meant
        self._report(
            cell.text_at,
            "unknown-value",
            f"unknown switch {shown(cell.text)}",
            listed(words),
            nearest(word, words),
        )
        return None

    def _parted(self, row: Row, test: str | None) -> str | None:
        """Return the run that was parted meanwhile, or '' for none."""
        cell = row.cell("parted")
        if cell is None:
            return ""
        run = self.circuit.run(cell.text)
        if run is None:
            names = [one.name for one in self.circuit.runs]
            found = f"no run {shown(cell.text)} in the circuit"
            near = nearest(cell.text, names)
            self._report(cell.text_at, "missing-run", found, listed(names), near)
            return None
        if test is not None and self.tests[test].is_live:
            found = f"test {test} is live, and nothing is parted then"
            self._report(cell.text_at, "impossible-value", found, "no parted in this reading")
            return None
        return run.name

    def _noted(self, row: Row, test: str, at: str, switch: Switch) -> Switch | None:
        """Return the switch position that counts, or None if the test is not read so there.

        It is none without a switch, and on (or the first of several positions) if not noted.
        """
        form = self.tests[test]
        place, noted = row.cell("at"), row.cell("switch")
        point = self.circuit.point(at)
        kind = point.kind if point else "board"
        if not form.is_read_at(point):
            article = "an" if kind in {"outlet", "appliance"} else "a"
            self._report(
                place.text_at if place else row.at,
                "impossible-value",
                f"test {test} is not read at {at}, {article} {_plain(kind)}",
                f"a place of kind {listed(sorted(map(_plain, form.at)))}",
            )
            return None
        words = self.circuit.switch_words(point) if point else ()
        if not words:
            if switch == "off":
                drawn = f", or switched: true at {at} in the circuit" if kind == "outlet" else ""
                self._report(
                    noted.text_at if noted else row.at,
                    "impossible-value",
                    f"{at} is drawn without a switch, and cannot be read with it off",
                    f"no switch in this reading{drawn}",
                )
                return None
            return ""
        if switch == "off" and form.switch == "on":
            self._report(
                noted.text_at if noted else row.at,
                "impossible-value",
                f"test {test} is not read with the switch off",
                "switch: on",
            )
            return None
        return switch or words[0]

    def _unknown_key(self, cell: Cell, test: str, pairs: Collection[str]) -> None:
        says = no_such_key(cell.key, cell.text, (*_KEYS, *pairs))
        if says.id == "unknown-key":
            says = replace(says, found=f"test {test} has no reading {shown(cell.key)}")
        # A column of another test is at fault in this row only; one of no test in all of them.
        elsewhere = any(pair_meant(cell.key, other.pairs) for other in self.tests.values())
        at = cell.text_at if elsewhere and cell.key_at.line != cell.text_at.line else cell.key_at
        if not elsewhere:
            if f"{cell.key_at} {cell.key}" in self._told:
                return
            self._told.add(f"{cell.key_at} {cell.key}")
        self._report(at, says.id, says.found, says.expected, says.nearest)

    def _amount(self, cell: Cell, form: ReadingForm) -> Amount | None:
        try:
            amount = parse_amount(cell.text, form.unit, minimum=_LEAST.get(form.unit, 0.0))
        except QuantityError as error:
            self._report(cell.text_at, error.id, error.found, error.expected, error.nearest)
            return None
        if amount.bound != "open" and amount.value > _MOST:
            found = f"{shown(cell.text)} is too large"
            self._report(cell.text_at, "out-of-range", found, f"at most {_MOST:g} {form.unit}")
            return None
        return amount

    def _is_new(self, spot: Spot, cell: Cell, amount: Amount, *, noted: bool) -> bool:
        """Return whether a spot was not read before; report a value that disagrees."""
        if spot not in self._seen:
            self._seen[spot] = amount, cell
            return True
        before, first = self._seen[spot]
        if amount != before:
            taken = f"; without switch: it counts as {spot.switch}" if spot.switch else ""
            self._report(
                cell.text_at,
                "duplicate-reading",
                f"{spot} is {first.text} on line {first.text_at.line} "
                f"and {cell.text} on line {cell.text_at.line}",
                f"one value for each reading{'' if noted else taken}",
            )
        return False


def misspelt(key: str, written: Sequence[str]) -> str:
    """Return which of the keys written in a row was probably meant to be `key`, or ''."""
    slips = (w for w in written if w not in _KEYS and len(w) >= _SHORTEST_SLIP)
    return next((word for word in slips if nearest(word, _KEYS) == key), "")


def _plain(kind: str) -> str:
    return kind.replace("-", " ")


def pair_meant(word: str, pairs: Collection[str]) -> str | None:
    """Return the pair a word means, whichever way round it is written; None for none."""
    wanted = _leads(word)
    return next((pair for pair in pairs if _leads(pair) == wanted), None)


def _leads(key: str) -> list[list[str]]:
    """Return the conductors under each lead, in an order of their own."""
    return sorted(sorted(lead.split("+")) for lead in key.upper().replace(" ", "").split("-"))


def _resolution(text: str, amount: Amount, unit: str) -> float:
    """Return the step of the last digit written, in the unit of the test."""
    match = re.search(r"[0-9]+\.?([0-9]*)|\.([0-9]+)", text)
    if match is None or amount.bound == "open":
        return 0.0
    decimals = match[1] or match[2] or ""
    try:
        one = parse_amount(f"{text[: match.start()]}1{text[match.end() :]}", unit)
    except QuantityError:  # a zero times a power of ten that no number can have
        return 0.0
    return one.value * 10.0 ** -len(decimals)
