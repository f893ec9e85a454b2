"""A circuit with what is fitted and read with, whether or not anything was read yet."""

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from faultfinder.readings.file import load_case, load_circuit
from faultfinder.readings.reading import Instrument, ReadingForms, Terminators
from faultfinder.source.document import load_yaml
from faultfinder.wiring.circuit import Circuit

USUAL_TERMINATORS = Terminators(10.0, 5.0)
"""Resistors taken where a file names none. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What predictions need to know."""

    circuit: Circuit
    terminators: Terminators
    instrument: Instrument


def load_setting(
    path: Path,
    tests: ReadingForms,
    modes: Collection[str] | None = None,
    set_ups: Collection[str] = (),
) -> Setting:
    """Read the setting of a case file, or of a circuit file with the usual terminators.

    A case needs no readings yet; those it has are checked, and so is what was found.

    Raises
    ------
    BadInput
        With every problem of the file.
    """
    tree = load_yaml(path).tree
    if isinstance(tree, dict) and {"circuit", "readings"} & set(tree):
        case = load_case(path, tests, modes, set_ups, may_be_unread=True)
        return Setting(case.circuit, case.terminators or USUAL_TERMINATORS, case.instrument)
    return Setting(load_circuit(path), USUAL_TERMINATORS, Instrument())
