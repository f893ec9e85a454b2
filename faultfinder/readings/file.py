"""Case files: from what people write to a checked ``Case``."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from faultfinder.readings.case import Case, Found
from faultfinder.readings.reading import Accuracy, Instrument, ReadingForms, Terminators
from faultfinder.readings.rows import RowReader, csv_rows, yaml_rows
from faultfinder.source.decode import Schema, decode
from faultfinder.source.document import Document, load_yaml
from faultfinder.source.problem import BadInput, Problem
from faultfinder.source.quantity import Ohm, Percent
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault, FaultSyntaxError, parse_fault
from faultfinder.wiring.file import CircuitFile, circuit_from

_MOST_ROWS = 5000


class TerminatorsFile(Schema):
    """``terminators: {active: 10, neutral: 5}``."""

    active: Ohm
    neutral: Ohm


class AccuracyFile(Schema):
    """``{percent: 1, plus: 0.01, range: 2000}``, the last two in the test's unit."""

    percent: Annotated[Percent, Field(le=50)]
    plus: Annotated[float, Field(ge=0)] = 0.0
    range: Annotated[float, Field(gt=0)] | None = None

    def accuracy(self) -> Accuracy:
        """Return it with a share for the percentage; an exact instrument is held to 0.1 %."""
        return Accuracy(max(self.percent / 100, 1e-3), self.plus, self.range, stated=True)


class InstrumentFile(Schema):
    """What the instrument's leaflet says, by quantity."""

    resistance: AccuracyFile | None = None
    insulation: AccuracyFile | None = None


class CaseFile(Schema):
    """A case, but for its rows of readings, which depend on the tests."""

    format: Literal["1"] = "1"
    title: str = ""
    circuit: CircuitFile | str
    terminators: TerminatorsFile | None = None
    instrument: InstrumentFile = InstrumentFile()
    readings: Annotated[tuple[dict[str, str], ...], Field(max_length=_MOST_ROWS)] | str
    found: tuple[str, ...] | None = None
    notes: str = ""


def load_case(path: Path, tests: ReadingForms) -> Case:
    """Read a case file and what it refers to.

    Parameters
    ----------
    path : Path
        The case file.
    tests : mapping
        The tests that readings may be of, by id.

    Raises
    ------
    BadInput
        With every problem of the case, its circuit file and its readings.
    """
    document = load_yaml(path)
    file = decode(document, CaseFile)
    if isinstance(file.circuit, str):
        circuit = load_circuit(_beside(document, file.circuit))
    else:
        circuit = circuit_from(document, ("circuit",))
    terminators = None
    if file.terminators is not None:
        terminators = Terminators(file.terminators.active, file.terminators.neutral)
    default = Instrument()
    resistance, insulation = file.instrument.resistance, file.instrument.insulation
    instrument = Instrument(
        resistance.accuracy() if resistance else default.resistance,
        insulation.accuracy() if insulation else default.insulation,
    )
    if isinstance(file.readings, str):
        rows = csv_rows(_beside(document, file.readings))
    else:
        rows = yaml_rows(document, ("readings",))
    reader = RowReader(circuit, tests, has_terminators=terminators is not None)
    readings = tuple(reader.read(rows))
    faults, wrong = _found(document, file, circuit)
    if reader.problems or wrong:
        raise BadInput([*reader.problems, *wrong], {document.path: document.text})
    found = None if file.found is None else Found(faults)
    return Case(str(path), file.title, circuit, terminators, instrument, readings, found)


def load_circuit(path: Path) -> Circuit:
    """Read a circuit: a file of its own, or the ``circuit:`` of a case file."""
    document = load_yaml(path)
    tree = document.tree
    if isinstance(tree, dict) and "circuit" in tree and "board" not in tree:
        inner = tree["circuit"]
        if isinstance(inner, str):
            return load_circuit(_beside(document, inner))
        return circuit_from(document, ("circuit",))
    return circuit_from(document)


def _beside(document: Document, name: str) -> Path:
    """Return a path written in a document, which counts from the document's own folder."""
    return Path(document.path).parent / name


def _found(
    document: Document, file: CaseFile, circuit: Circuit
) -> tuple[tuple[Fault, ...], list[Problem]]:
    """Return the faults a case says were found."""
    faults, problems = [], []
    for index, text in enumerate(file.found or ()):
        try:
            fault, _ = parse_fault(text, circuit)
            faults.append(fault)
        except FaultSyntaxError as error:
            where = document.position(("found", index))
            problems.append(
                Problem(where, "not-a-fault", error.found, error.expected, error.nearest)
            )
    return tuple(faults), problems
