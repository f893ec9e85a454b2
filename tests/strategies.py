"""Hypothesis strategies of networks; those of circuits are the package's own."""

import math

from hypothesis import strategies as st

from faultfinder.network.branch import Branch, Node, Probe
from faultfinder.network.wiring import in_use_gate, switch_gate, terminal
from faultfinder.strategies import AU_NZ, COPPER, cables, circuits, faults, log_uniform, rings
from faultfinder.wiring.circuit import PAIRS

__all__ = ["AU_NZ", "COPPER", "cables", "circuits", "faults", "log_uniform", "rings"]


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
