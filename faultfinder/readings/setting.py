"""A circuit with what is fitted and read with, whether or not anything was read yet."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from faultfinder.readings.file import load_case, load_circuit
from faultfinder.readings.reading import Instrument, ReadingForms, Terminators
from faultfinder.source.document import load_yaml
from faultfinder.source.shelf import Shelf
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.installation import Installation
from faultfinder.wiring.installation_file import installation_from, is_installation

USUAL_TERMINATORS = Terminators(10.0, 5.0)
"""Resistors taken where a file names none. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What predictions need to know."""

    circuit: Circuit
    terminators: Terminators
    instrument: Instrument
    installation: Installation | None = None


class UnknownCircuit(ValueError):  # noqa: N818 - says what it is, as BadInput does
    """No such circuit in an installation, or none was named; ``.names`` are those there are."""

    def __init__(self, name: str, names: Sequence[str]) -> None:
        super().__init__(name)
        self.name, self.names = name, names


def load_setting(
    path: Path,
    tests: ReadingForms,
    modes: Collection[str] | None = None,
    set_ups: Collection[str] = (),
    name: str = "",
    shelf: Shelf | None = None,
) -> Setting:
    """Read the setting of a case file, or of a circuit file with the usual terminators.

    A case needs no readings yet; those it has are checked, and so is what was found. Of an
    installation file ``name`` is the circuit meant; one that has a single circuit needs none.
    ``shelf`` has the rules it is read by, the program's own unless given.

    Raises
    ------
    BadInput
        With every problem of the file.
    UnknownCircuit
        If no circuit of the file has that name.
    """
    document = load_yaml(path)
    tree = document.tree
    if is_installation(document):
        whole = installation_from(document, shelf)
        names = [circuit.name for circuit in whole.circuits]
        circuit = whole.circuit(name or (names[0] if len(names) == 1 else ""))
        if circuit is None:
            raise UnknownCircuit(name, names)
        return Setting(circuit, USUAL_TERMINATORS, Instrument(), whole)
    if name:
        raise UnknownCircuit(name, [])
    if isinstance(tree, dict) and {"circuit", "readings"} & set(tree):
        case = load_case(path, tests, modes, set_ups, may_be_unread=True, shelf=shelf)
        fitted = case.terminators or USUAL_TERMINATORS
        return Setting(case.circuit, fitted, case.instrument, case.installation)
    return Setting(load_circuit(path, shelf), USUAL_TERMINATORS, Instrument())
