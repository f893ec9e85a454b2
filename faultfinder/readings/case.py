"""A case: a circuit, the readings taken on it, and what was found if that is known."""

from dataclasses import dataclass

from faultfinder.readings.reading import Instrument, Reading, Terminators
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault
from faultfinder.wiring.installation import Installation


@dataclass(frozen=True, slots=True)
class Found:
    """What turned out to be wrong; an empty tuple of faults means the circuit was sound."""

    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Case:
    """All that is known of one circuit before it is diagnosed.

    ``installation_file`` is the path that the installation was read from, if it was.
    """

    name: str
    title: str
    circuit: Circuit
    terminators: Terminators | None
    instrument: Instrument
    readings: tuple[Reading, ...]
    found: Found | None = None
    installation: Installation | None = None
    installation_file: str = ""
    notes: str = ""
