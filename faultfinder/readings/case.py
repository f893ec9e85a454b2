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

    ``looked`` names the points that were opened, one as often as it was, with nothing to see;
    ``exchanged`` the points and runs that were mended, or exchanged for known-good ones, to no
    avail; ``cannot`` what cannot be done, as test and place, such as ``("terminated", "S3")``;
    ``in_order`` set-up mistakes that were looked for and not found, as id and place.
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
    looked: tuple[str, ...] = ()
    exchanged: tuple[str, ...] = ()
    cannot: tuple[tuple[str, str], ...] = ()
    in_order: tuple[tuple[str, str], ...] = ()
    installation_file: str = ""
    notes: str = ""
