"""Hypothesis strategies shared by the property tests: circuits, faults, networks, edits, probes.

What is drawn is invented; sizes are those of the region's conductor table.
"""

import math
from dataclasses import replace
from itertools import pairwise

from hypothesis import strategies as st

from faultfinder.network.branch import Branch, Node, Probe
from faultfinder.network.wiring import in_use_gate, switch_gate, terminal
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import (
    CONDUCTORS,
    PAIRS,
    Cable,
    Circuit,
    Device,
    Point,
    Run,
    far_end,
)
from faultfinder.wiring.fault import Fault

AU_NZ = region("au-nz")
COPPER = AU_NZ.conductor_table()
SIZES_MM2 = (1.0, 1.5, 2.5, 4.0, 6.0)
POLES = ((), ("A",), ("A", "N"))  # unswitched, switched, both poles switched


def log_uniform(low, high):
    """Draw a number with every decade as likely as any other."""
    exponents = st.floats(math.log10(low), math.log10(high))
    return exponents.map(lambda exponent: min(high, max(low, 10.0**exponent)))


# -- circuits and faults -------------------------------------------------------------------------


@st.composite
def cables(draw):
    active, neutral, earth = (draw(st.sampled_from(SIZES_MM2)) for _ in CONDUCTORS)
    return Cable(active, neutral, earth, COPPER)


@st.composite
def points(draw, name):
    kind = draw(st.sampled_from(("outlet", "outlet", "outlet", "joint-box")))
    switched = draw(st.sampled_from(POLES)) if kind == "outlet" else ()
    return Point(name, kind, switched)


@st.composite
def circuits(draw, max_points=6):
    """Draw a radial circuit: each point fed from the board or a point before it, one an outlet.

    Points are drawn in any order; runs lead away from the board, as the file reader turns them.
    """
    names = [f"S{number}" for number in range(1, draw(st.integers(1, max_points)) + 1)]
    drawn = [draw(points(name)) for name in names]
    if not any(point.kind == "outlet" for point in drawn):
        drawn[0] = Point(names[0], "outlet", draw(st.sampled_from(POLES)))
    runs = tuple(
        Run(
            draw(st.sampled_from(("DB", *names[:index]))),
            name,
            draw(st.floats(0.3, 60.0)),
            draw(cables()),
        )
        for index, name in enumerate(names)
    )
    temperature_c = draw(st.floats(0.0, 45.0))
    order = tuple(draw(st.permutations(drawn)))
    return Circuit("DB", Device("C", 20.0), order, runs, AU_NZ, temperature_c)


@st.composite
def rings(draw, max_points=6):
    """Draw a ring with spurs: some points round it, the others on spurs from points before them."""
    circuit = draw(circuits(max_points))
    names = sorted(point.name for point in circuit.points)
    on_ring = draw(st.integers(1, len(names)))
    places = ["DB", *names[:on_ring], far_end("DB")]
    ends = [
        *pairwise(places),
        *((draw(st.sampled_from(names[:i])), names[i]) for i in range(on_ring, len(names))),
    ]
    runs = tuple(Run(*pair, draw(st.floats(0.3, 60.0)), draw(cables())) for pair in ends)
    return replace(circuit, runs=runs)


@st.composite
def faults(draw, circuit):
    """Draw a fault that a shipped mode can have in a circuit, with ohms where it has any."""
    modes = shipped_rulebook().modes
    mode = draw(st.sampled_from([mode for mode in modes.values() if mode.faults(circuit)]))
    fault = draw(st.sampled_from(mode.faults(circuit)))
    if mode.ohms is None:
        return fault
    r_ohm = draw(log_uniform(mode.ohms.from_ohm, mode.ohms.to_ohm))
    return Fault(fault.mode, fault.conductors, fault.at, r_ohm)


@st.composite
def spots_probed(draw, circuit):
    """Draw a probe between two conductors at one place of a circuit, its switch on or off."""
    place = draw(st.sampled_from((circuit.board, *(point.name for point in circuit.points))))
    first, second = draw(st.sampled_from(PAIRS))
    fitted = draw(
        st.lists(
            st.builds(
                lambda pair, r_ohm: Branch(Node("DB", pair[0]), Node("DB", pair[1]), r_ohm),
                st.sampled_from(PAIRS),
                st.sampled_from((0.0, 5.0, 10.0)),
            ),
            max_size=2,
        )
    )
    operated = {in_use_gate(place), *([switch_gate(place)] if draw(st.booleans()) else [])}
    ends = ((terminal(circuit, place, conductor),) for conductor in (first, second))
    return Probe(*ends, tuple(fitted), frozenset(operated))


# -- networks of no particular shape -------------------------------------------------------------

NODES = tuple(Node(f"P{number}", "A") for number in range(7))
GATES = ("", "", "", "switch", "button")
BRANCH_NAMES = tuple(("branch", str(number)) for number in range(14))

OHMS = log_uniform(1e-4, 1e12) | log_uniform(1e-4, 1e12) | st.sampled_from((0.0, math.inf))
MILD_OHMS = log_uniform(1e-2, 1e3)


@st.composite
def branches(draw, ohms=OHMS, gates=GATES):
    """Draw a branch between two nodes, once in a while from a node to itself."""
    start, end = draw(st.sampled_from(NODES)), draw(st.sampled_from(NODES))
    return Branch(start, end, draw(ohms), draw(st.sampled_from(gates)), draw(st.booleans()))


def networks(ohms=OHMS, gates=GATES, min_size=0):
    """Draw a network: parts may float, joints may be bolted, branches open or behind gates."""
    drawn = branches(ohms, gates)
    return st.dictionaries(st.sampled_from(BRANCH_NAMES), drawn, min_size=min_size, max_size=12)


def edits(ohms=OHMS):
    """Draw an edit: branches replaced, added, taken away, or taken away that are not there."""
    change = st.none() | branches(ohms)
    return st.dictionaries(st.sampled_from(BRANCH_NAMES), change, max_size=5)


ONE_NODE = st.sampled_from(NODES).map(lambda node: (node,))
LEADS = ONE_NODE | ONE_NODE | st.lists(st.sampled_from(NODES), max_size=3).map(tuple)


def probes(ohms=OHMS):
    """Draw a probe: one or two nodes under a lead, links and resistors fitted, gates operated."""
    fitted = st.lists(branches(ohms, gates=("",)), max_size=2).map(tuple)
    operated = st.frozensets(st.sampled_from(GATES[3:]))
    return st.builds(Probe, LEADS, LEADS, fitted, operated)
