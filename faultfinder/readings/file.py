"""Case files: from what people write to a checked ``Case``."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from faultfinder.readings.case import Case, Found
from faultfinder.readings.doing import NO_TESTS
from faultfinder.readings.reading import Accuracy, Instrument, ReadingForms, Terminators
from faultfinder.readings.rows import MOST_ROWS, Row, RowReader, yaml_rows
from faultfinder.readings.table import csv_rows
from faultfinder.source.decode import Schema, decode
from faultfinder.source.document import Document, load_yaml
from faultfinder.source.problem import BadInput, Problem, listed, shown
from faultfinder.source.quantity import (
    Megohm,
    MegohmOrZero,
    Milliampere,
    Ohm,
    OhmOrZero,
    Percent,
    QuantityError,
    Volt,
    parse_amount,
)
from faultfinder.source.reference import named_in
from faultfinder.source.shelf import Shelf
from faultfinder.source.spelling import nearest
from faultfinder.source.text import read_text
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault, FaultSyntaxError, parse_fault
from faultfinder.wiring.file import circuit_from
from faultfinder.wiring.installation import Installation
from faultfinder.wiring.installation_file import installation_from, is_installation
from faultfinder.wiring.report import not_meant
from faultfinder.wiring.schema import CircuitFile

FileName = Annotated[str, Field(min_length=1)]
# A slip of the pen, not a terminator; common practice, no source.
TerminatorOhm = Annotated[Ohm, Field(ge=0.01, le=10_000)]
_UNREAD = "no readings yet", 'readings; "faultfinder expect" on this file shows what to read'


class TerminatorsFile(Schema):
    """``terminators: {active: 10, neutral: 5}``."""

    active: TerminatorOhm
    neutral: TerminatorOhm

    def terminators(self) -> Terminators:
        """Return them as values."""
        return Terminators(self.active, self.neutral)


class AccuracyFile(Schema):
    """``{percent: 1, plus: 0.01, range: 2000}``; a bare number is in the test's unit."""

    percent: Annotated[Percent, Field(le=50)]
    plus: Annotated[OhmOrZero, Field(le=1000)] = 0.0
    range: Ohm | None = None

    def accuracy(self) -> Accuracy:
        """Return it with a share for the percentage; an exact instrument is held to 0.1 %."""
        return Accuracy(max(self.percent / 100, 1e-3), self.plus, self.range, stated=True)


class InsulationAccuracyFile(AccuracyFile):
    """The same for insulation, in Mohm."""

    plus: Annotated[MegohmOrZero, Field(le=1000)] = 0.0
    range: Megohm | None = None


class VoltageAccuracyFile(AccuracyFile):
    """The same for voltage, in V."""

    plus: Annotated[float, Field(ge=0, le=1000)] = 0.0
    range: Volt | None = None


class ResidualAccuracyFile(AccuracyFile):
    """The same for residual current, in mA."""

    plus: Annotated[float, Field(ge=0, le=1000)] = 0.0
    range: Milliampere | None = None


class InstrumentFile(Schema):
    """What the instrument's leaflet says, by quantity."""

    resistance: AccuracyFile | None = None
    insulation: InsulationAccuracyFile | None = None
    voltage: VoltageAccuracyFile | None = None
    loop: AccuracyFile | None = None
    residual: ResidualAccuracyFile | None = None

    def instrument(self) -> Instrument:
        """Return it with the usual accuracy for what is not stated."""
        said = {
            quantity: accuracy.accuracy()
            for quantity in ("resistance", "insulation", "voltage", "loop", "residual")
            if (accuracy := getattr(self, quantity)) is not None
        }
        return Instrument(**said)


_Rows = Annotated[
    tuple[dict[str, str], ...],
    Field(max_length=MOST_ROWS),
    WithJsonSchema({"type": "array", "items": {"type": "object"}}),
]


def _blank_is_none(value: object) -> object:
    """Take ``readings:`` with nothing after it for a list that is yet to be filled."""
    return () if value == "" else value


class CaseFile(Schema):
    """A case, but for its rows of readings, which depend on the tests."""

    format: Literal["1"] = "1"
    title: str = ""
    installation: FileName | None = None
    circuit: CircuitFile | FileName
    terminators: TerminatorsFile | None = None
    instrument: InstrumentFile = InstrumentFile()
    readings: Annotated[_Rows | FileName, BeforeValidator(_blank_is_none)] = ()
    found: tuple[str, ...] | None = None
    looked: tuple[str, ...] = ()
    exchanged: tuple[str, ...] = ()
    cannot: tuple[str, ...] = ()
    in_order: Annotated[tuple[str, ...], Field(alias="in-order")] = ()
    notes: str = ""


def load_case(
    path: Path,
    tests: ReadingForms,
    modes: Collection[str] | None = None,
    set_ups: Collection[str] = (),
    *,
    may_be_unread: bool = False,
    shelf: Shelf | None = None,
) -> Case:
    """Read a case file and what it refers to.

    Parameters
    ----------
    path : Path
        The case file.
    tests : mapping
        The tests that readings may be of, by id.
    modes : collection of str, optional
        Ids of the fault modes that may have been found; without it any is taken.
    set_ups : collection of str
        Ids of the set-up mistakes that may have been found instead.
    may_be_unread : bool
        Whether a case on whose circuit nothing has been read yet is a case too.
    shelf : Shelf, optional
        The rules whose regions and conductor tables count, the program's own unless given.

    Raises
    ------
    BadInput
        With every problem of the case file and its circuit, or else, since readings mean nothing
        on a circuit that is wrong, with every problem of its readings and of what was found.
    """
    document = load_yaml(path)
    if is_installation(document):
        found = "this is an installation, and no readings on it"
        expected = "a case, which names it: installation, circuit, readings"
        raise not_meant(document, "not-a-case", found, expected)
    if _is_circuit(document):
        found = "this is a circuit, and no readings on it"
        raise not_meant(document, "not-a-case", found, "a case: circuit, readings")
    file = decode(document, CaseFile)
    sources = {document.path: document.text}
    installation, installation_file = None, ""
    if file.installation is not None:
        with named_in(document, ("installation",), file.installation) as other:
            installation = installation_from(load_yaml(other), shelf)
            installation_file = str(other)
        circuit = _circuit_in(installation, document, file.circuit)
    elif isinstance(file.circuit, str):
        with named_in(document, ("circuit",), file.circuit) as other:
            circuit = _circuit_of(load_yaml(other), shelf)
    else:
        circuit = circuit_from(document, ("circuit",), shelf)
    rows = _rows(document, file.readings, sources)
    reader = RowReader(
        circuit,
        tests,
        has_terminators=file.terminators is not None,
        has_supply=installation is not None,
    )
    readings = tuple(reader.read(rows))
    finds = _Finds(document, circuit, modes, set_ups)
    finds.boards = [board.name for board in installation.boards] if installation else []
    faults = tuple(finds.read(file.found or ()))
    looked = finds.places("looked", file.looked, runs=False)
    exchanged = finds.places("exchanged", file.exchanged, runs=True)
    cannot = tuple(finds.tests_at("cannot", file.cannot, [*tests, *NO_TESTS]))
    in_order = tuple(finds.tests_at("in-order", file.in_order, set_ups))
    problems = [*reader.problems, *finds.problems]
    if not (readings or reader.problems or may_be_unread):
        problems.append(Problem(document.position(("readings",)), "no-readings", *_UNREAD))
    if problems:
        raise BadInput(problems, sources)
    return Case(
        name=str(path),
        title=file.title,
        circuit=circuit,
        terminators=file.terminators.terminators() if file.terminators else None,
        instrument=file.instrument.instrument(),
        readings=readings,
        found=None if file.found is None else Found(faults),
        installation=installation,
        looked=looked,
        exchanged=exchanged,
        cannot=cannot,
        in_order=in_order,
        installation_file=installation_file,
        notes=file.notes,
    )


def _circuit_in(
    installation: Installation, document: Document, named: CircuitFile | str
) -> Circuit:
    """Return the circuit of an installation that a case names."""
    name = named if isinstance(named, str) else ""
    circuit = installation.circuit(name)
    if circuit is None:
        names = [one.name for one in installation.circuits]
        found = f"no circuit {shown(name)} in the installation"
        if not isinstance(named, str):
            found = "an installation and a circuit of the case's own"
        where = document.position(("circuit",))
        problem = Problem(where, "missing-circuit", found, listed(names), nearest(name, names))
        raise BadInput([problem], {document.path: document.text})
    return circuit


def _rows(
    document: Document, written: Sequence[Mapping[str, str]] | str, sources: dict[str, str]
) -> list[Row]:
    """Return the rows of a case, none if it has none yet; keep the text of a table of its own."""
    if not isinstance(written, str):
        return yaml_rows(document, ("readings",)) if written else []
    with named_in(document, ("readings",), written) as other:
        try:
            sources[str(other)] = read_text(other)
            return csv_rows(sources[str(other)], str(other))
        except BadInput as bad:
            if any(problem.id != "empty-file" for problem in bad.problems):
                raise
            return []


def load_circuit(path: Path, shelf: Shelf | None = None) -> Circuit:
    """Read a circuit: a file of its own, or the ``circuit:`` of a case file.

    ``shelf`` has the rules it is read by, the program's own unless given.

    Raises
    ------
    BadInput
        With every problem of the circuit.
    """
    document = load_yaml(path)
    named = document.tree.get("circuit") if isinstance(document.tree, dict) else None
    if isinstance(named, str) and named:
        with named_in(document, ("circuit",), named) as other:
            return _circuit_of(load_yaml(other), shelf)
    return _circuit_of(document, shelf)


def _circuit_of(document: Document, shelf: Shelf | None) -> Circuit:
    """Return the circuit that a circuit file is, or that a case file holds."""
    if is_installation(document):
        found = "this is an installation, and holds several circuits"
        expected = "a circuit; or installation: this file, and circuit: the name of one in it"
        raise not_meant(document, "not-a-circuit", found, expected)
    in_case = isinstance(document.tree, dict) and "circuit" in document.tree
    return circuit_from(document, ("circuit",) if in_case else (), shelf)


def _is_circuit(document: Document) -> bool:
    """Tell whether a file holds a circuit with nothing around it."""
    tree = document.tree
    return isinstance(tree, dict) and {"board", "runs"} <= set(tree) and "circuit" not in tree


class _Finds:
    """Reads the faults a case says were found, and gathers what is wrong with them."""

    def __init__(
        self,
        document: Document,
        circuit: Circuit,
        modes: Collection[str] | None,
        set_ups: Collection[str],
    ) -> None:
        self.document, self.circuit, self.modes, self.set_ups = document, circuit, modes, set_ups
        self.boards: list[str] = []
        self.problems: list[Problem] = []

    def read(self, texts: tuple[str, ...]) -> Iterator[Fault]:
        for index, text in enumerate(texts):
            try:
                yield self.fault(text)
            except (FaultSyntaxError, QuantityError) as error:
                where = self.document.position(("found", index))
                self.problems.append(
                    Problem(where, "not-a-fault", error.found, error.expected, error.nearest)
                )

    def places(self, key: str, names: tuple[str, ...], *, runs: bool) -> tuple[str, ...]:
        """Return the points (the board is one too), or also the runs, that a list names."""
        circuit = self.circuit
        known = [circuit.board, *(point.name for point in circuit.points), *self.boards]
        known += [run.name for run in circuit.runs] if runs else []
        for index, name in enumerate(names):
            if name not in known:
                where = self.document.position((key, index))
                found = f"no {'point or run' if runs else 'point'} {shown(name)}"
                near = nearest(name, known)
                self.problems.append(Problem(where, "missing-point", found, listed(known), near))
        return names

    def tests_at(
        self, key: str, texts: tuple[str, ...], known: Collection[str]
    ) -> Iterator[tuple[str, str]]:
        """Yield what and where of entries such as ``terminated at S3``."""
        for index, text in enumerate(texts):
            test, _, at = text.partition(" at ")
            if test not in known or not at:
                where = self.document.position((key, index))
                found = f"{shown(text)} is not one of these at a place"
                expected = f'"{next(iter(known), "")} at PLACE", or another: {listed(known)}'
                near = nearest(test, known)
                near = f"{near} at {at or self.circuit.board}" if near else ""
                self.problems.append(Problem(where, "unknown-test", found, expected, near))
            yield test, at

    def fault(self, text: str) -> Fault:
        fault, ohms = parse_fault(text, self.circuit, self.set_ups)
        if self.modes is not None and not fault.set_up and fault.mode not in self.modes:
            raise FaultSyntaxError(
                f"unknown fault mode {shown(fault.mode)}",
                listed(self.modes),
                nearest(fault.mode, self.modes),
            )
        if not ohms:
            return fault
        amount = parse_amount(ohms, "ohm")
        if amount.bound != "=":
            raise FaultSyntaxError(f"{shown(ohms)} is not one resistance", "a number in ohm")
        return replace(fault, r_ohm=amount.value)
