"""Small invented circuits, and cases on them with readings as the model gives them, without error.

LINE is three outlets in a row, one of each kind of switch; BRANCHED divides at a joint box, and
ends in an outlet on either branch; RING is three outlets on a ring with a thinner earth, and LONG
twelve in a row. Lengths and sizes are invented.
"""

from dataclasses import replace

from faultfinder.diagnosis.foretell import foretell
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Instrument, Reading, Terminators
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.source.quantity import Amount
from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run, far_end

RULEBOOK = shipped_rulebook()
DEAD = tuple(test for test, procedure in RULEBOOK.procedures.items() if not procedure.is_live)
TERMINATORS = Terminators(10.0, 5.0)
UNKNOWN = Instrument()
_REGION = region("au-nz")
_CABLE = Cable(2.5, 2.5, 2.5, _REGION.conductor_table())
_THIN_EARTH = replace(_CABLE, earth_mm2=1.5)


def _circuit(points, *runs, cable=_CABLE):
    drawn = tuple(Run(*run, cable) for run in runs)
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
RING = _circuit(
    (Point("S1", "outlet", ("A",)), Point("S2"), Point("S3")),
    ("DB", "S1", 9.0),
    ("S1", "S2", 6.0),
    ("S2", "S3", 8.0),
    ("S3", far_end("DB"), 13.0),
    cable=_THIN_EARTH,
)
LONG = _circuit(
    tuple(Point(f"S{number}", "outlet", ("A",)) for number in range(1, 13)),
    ("DB", "S1", 14.0),
    *((f"S{number}", f"S{number + 1}", 5.0) for number in range(1, 12)),
)


MODES = tuple(mode for mode in RULEBOOK.modes.values() if mode.faults(LINE))
"""Those that a circuit can have of itself, without an installation."""


def expected(circuit, faults=(), tests=("terminated",), instrument=UNKNOWN):
    """Return what every reading of the tests should be with the faults in the circuit."""
    return foretell(circuit, RULEBOOK, tests, TERMINATORS, instrument, tuple(faults)).readings


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
