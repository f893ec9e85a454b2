"""A circuit of two outlets with ohms that add up to readable numbers, for work by hand.

The board feeds S1, and S1 feeds S2. S1's switch breaks the active, S2's both poles. The conductor
table is invented: one metre of active, neutral and earth has 1, 2 and 4 ohm. The first run is 1 m
(1, 2, 4 ohm) and the second 8 m (8, 16, 32 ohm); at the board 100 ohm is fitted from the active
and 1000 ohm from the neutral to the earth. So the paths from that common point are

=======  =====  =======  =====
at       A      N        E
=======  =====  =======  =====
S1       101    1002     4
S2       109    1018     36
=======  =====  =======  =====

and a sound outlet reads the sums of two.
"""

import math

import pytest

from faultfinder.network.branch import Branch, Node, Probe, edited
from faultfinder.network.edits import fault_edit
from faultfinder.network.solve import resistances
from faultfinder.network.wiring import in_use_gate, network_of, switch_gate, terminal
from faultfinder.standards.conductors import ConductorTable, SizeRow
from faultfinder.standards.files import Citation
from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import PAIRS, Cable, Circuit, Device, Point, Run
from faultfinder.wiring.fault import Fault

_INVENTED = Citation("invented for work by hand", "memory")
_ROWS = tuple(SizeRow(mm2, 1000.0 * ohm, _INVENTED) for mm2, ohm in ((1, 4), (2, 2), (4, 1)))
_TABLE = ConductorTable("invented", "Invented", "copper", _ROWS, 0.0, _INVENTED, _INVENTED)
_CABLE = Cable(4, 2, 1, _TABLE)

CIRCUIT = Circuit(
    "DB",
    Device("C", 20.0),
    (Point("S1", "outlet", ("A",)), Point("S2", "outlet", ("A", "N"))),
    (Run("DB", "S1", 1.0, _CABLE), Run("S1", "S2", 8.0, _CABLE)),
    region("au-nz"),
)
SOUND = network_of(CIRCUIT)
FITTED = (
    Branch(Node("DB", "A"), Node("DB", "E"), 100.0),
    Branch(Node("DB", "N"), Node("DB", "E"), 1000.0),
)
OPEN = math.inf
SOUND_READS = {
    ("S1", "on"): (1103, 105, 1006),
    ("S1", "off"): (OPEN, OPEN, 1006),
    ("S2", "on"): (1127, 145, 1054),
    ("S2", "off"): (OPEN, OPEN, OPEN),
}


def beside(*ohms):
    """Return the resistance of resistors side by side."""
    return 1 / sum(1 / r_ohm for r_ohm in ohms)


def read(network, place, switch):
    """Return A-N, A-E and N-E at an outlet, all other switches on."""
    operated = {in_use_gate(place), *([switch_gate(place)] if switch == "off" else [])}
    several = [
        Probe(*((terminal(CIRCUIT, place, c),) for c in pair), FITTED, frozenset(operated))
        for pair in PAIRS
    ]
    return tuple(resistances(network, several)[0])


def faulty(*faults):
    """Return the network with faults put in one after the other: (steps, at, conductors, ohms)."""
    network = SOUND
    for steps, at, conductors, *ohms in faults:
        network = edited(
            network, fault_edit(network, CIRCUIT, steps, Fault("", conductors, at), *ohms)
        )
    return network


def assert_reads(network, **expected):
    """Compare all twelve readings: those given, such as ``S1_on=(…)``, and sound ones elsewhere."""
    all_expected = SOUND_READS | {tuple(k.split("_")): v for k, v in expected.items()}
    for (place, switch), values in all_expected.items():
        found = read(network, place, switch)
        assert found == pytest.approx(values, rel=1e-12, abs=0), f"{place} switched {switch}"
