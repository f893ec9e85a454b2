"""Small invented circuits, and cases on them with readings as the model gives them, without error.

LINE is three outlets in a row, one of each kind of switch; BRANCHED divides at a joint box, and
ends in an outlet on either branch. Lengths and sizes are invented.
"""

from faultfinder.diagnosis.foretell import foretell
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Instrument, Reading, Terminators
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.source.quantity import Amount
from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run

RULEBOOK = shipped_rulebook()
MODES = tuple(RULEBOOK.modes.values())
TERMINATORS = Terminators(10.0, 5.0)
UNKNOWN = Instrument()
_REGION = region("au-nz")
_CABLE = Cable(2.5, 2.5, 2.5, _REGION.conductor_table())


def _circuit(points, *runs):
    drawn = tuple(Run(*run, _CABLE) for run in runs)
    return Circuit("DB", Device("C", 20.0), points, drawn, _REGION)


LINE = _circuit(
    (Point("S1", "outlet", ("A",)), Point("S2", "outlet", ("A", "N")), Point("S3")),
    ("DB", "S1", 14.0),
    ("S1", "S2", 6.0),
    ("S2", "S3", 9.0),
)
BRANCHED = _circuit(
    (
        Point("S1", "outlet", ("A",)),
        Point("J1", "joint-box"),
        Point("S2", "outlet", ("A",)),
        Point("S3", "outlet", ("A",)),
        Point("S4"),
        Point("S5", "outlet", ("A",)),
    ),
    ("DB", "S1", 14.0),
    ("S1", "J1", 8.0),
    ("J1", "S2", 5.0),
    ("S2", "S3", 7.0),
    ("J1", "S4", 11.0),
    ("S4", "S5", 6.0),
)


def expected(circuit, faults=(), tests=("terminated",), instrument=UNKNOWN):
    """Return what every reading of the tests should be with the faults in the circuit."""
    return foretell(circuit, RULEBOOK, tests, TERMINATORS, instrument, tuple(faults))


def readings(circuit, faults=(), tests=("terminated",), instrument=UNKNOWN):
    """Return every reading of the tests as the model gives it, as if written to 0.01."""
    return tuple(
        Reading(e.spot, Amount(e.value, "open" if e.is_open else "="), 0.01)
        for e in expected(circuit, faults, tests, instrument)
    )


def case(circuit, faults=(), tests=("terminated",), *, taken=None, instrument=UNKNOWN):
    """Return a case with these readings, or with those the faults would give."""
    if taken is None:
        taken = readings(circuit, faults, tests, instrument)
    return Case("modelled.yaml", "", circuit, TERMINATORS, instrument, tuple(taken))
