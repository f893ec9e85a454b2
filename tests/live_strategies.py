"""Hypothesis strategies of live networks: reactance, sources that hold potentials, meters.

Sizes are what low-voltage wiring has: resistances 1e-4 ohm (a joint) to 1e10 ohm (insulation),
capacitances 1 pF to 1 uF (a core to its neighbour: 69 pF/m in ``outside/check_values.yaml``; the
filters of appliances reach 1 uF), inductive reactances 1e-4 to 1 ohm (0.08 mohm/m of cable, and the
supply's).
"""

import itertools
import math
from dataclasses import dataclass, replace

from hypothesis import strategies as st
from strategies import BRANCH_NAMES, NODES, circuits, faults, log_uniform

from faultfinder.diagnosis.catalogue import hypothesis
from faultfinder.network.branch import Branch, Edit, Network, Node, Probe
from faultfinder.network.wiring import in_use_gate, network_of, run_branch, switch_gate, terminal
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.strategies import FREQUENCIES_HZ
from faultfinder.wiring.circuit import CONDUCTORS, PAIRS

POTENTIALS_V = (0j, 230 + 0j, -115 + 0j, 0.5j, -200 + 346j, -200 - 346j)
METERS_OHM = (3e3, 4e5, 1e7)
PLACES = NODES[:5]
SOURCES = tuple(Node("supply", f"terminal {number}") for number in range(3))


def capacitive_ohm(farad, hz):
    """Return the reactance of a capacitance, negative."""
    return -1 / (2 * math.pi * hz * farad)


# -- networks of no particular shape -------------------------------------------------------------

_OHMS = log_uniform(1e-4, 1e10)
_OHMS_OR_NONE = st.just(0.0) | _OHMS
_INDUCTIVE = log_uniform(1e-4, 1.0)
_CAPACITIVE = log_uniform(-capacitive_ohm(1e-6, 60), -capacitive_ohm(1e-12, 50)).map(lambda x: -x)
_IMPEDANCES = (
    st.tuples(_OHMS, st.just(0.0))
    | st.tuples(_OHMS_OR_NONE, _INDUCTIVE)
    | st.tuples(_OHMS_OR_NONE, _CAPACITIVE)
    | st.sampled_from(((0.0, 0.0), (math.inf, 0.0), (math.inf, 1.0)))
)
_ENDS = st.sampled_from(list(itertools.combinations(PLACES, 2)))


def _branches(gates, impedances=_IMPEDANCES):
    return st.builds(
        lambda ends, gate, made, z: Branch(*ends, z[0], gate, made, z[1]),
        _ENDS,
        st.sampled_from(gates),
        st.booleans(),
        impedances,
    )


LIVE_BRANCHES = _branches(("", "", "", "", "switch"))
LIVE_NETWORKS = st.dictionaries(
    st.sampled_from(BRANCH_NAMES), LIVE_BRANCHES, min_size=5, max_size=12
)
LIVE_EDITS = st.dictionaries(st.sampled_from(BRANCH_NAMES), st.none() | LIVE_BRANCHES, max_size=4)

_ONE = st.sampled_from(PLACES).map(lambda node: (node,))
_LEADS = _ONE | _ONE | st.sampled_from(((PLACES[0], PLACES[1]), PLACES[1:4], ()))
_FITTED = st.lists(_branches(("",)), max_size=2).map(tuple)
_OPERATED = st.sampled_from((frozenset(), frozenset({"switch"})))
LIVE_PROBES = st.builds(Probe, _LEADS, _LEADS, _FITTED, _OPERATED)
SOURCE_PROBES = st.builds(Probe, _LEADS, st.just(SOURCES[:1]), _FITTED, _OPERATED)


@st.composite
def supplied(draw):
    """Draw a network with one to three sources, each behind an impedance; parts may float.

    Returns
    -------
    network, potentials
    """
    network = dict(draw(LIVE_NETWORKS))
    potentials = {}
    for source in SOURCES[: draw(st.integers(1, 3))]:
        behind = draw(LIVE_BRANCHES)
        network["supply", source.conductor] = Branch(
            source, behind.start, max(behind.r_ohm, 1e-4), x_ohm=behind.x_ohm
        )
        potentials[source] = draw(st.sampled_from(POTENTIALS_V))
    return network, potentials


# -- circuits ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class LiveCircuit:
    """A circuit on a 230 V supply, with loads, faults as edits, and voltmeter readings."""

    network: Network
    potentials: dict[Node, complex]
    edits: list[Edit]
    probes: list[Probe]


@st.composite
def live_circuits(draw, leakage_ohm_m=(None, 1e12), links=True):
    """Draw a circuit, alive, and edits of it: one fault each, a few outlets' voltages read."""
    hz = draw(st.sampled_from(FREQUENCIES_HZ))
    circuit = draw(circuits(max_points=4))
    network = dict(network_of(circuit, draw(st.sampled_from(leakage_ohm_m))))
    for run in circuit.runs:
        # 0.08 mohm/m: NF C 15-100 clause 525; 69 pF/m: outside/check_values.yaml.
        for conductor in CONDUCTORS:
            name = run_branch(run.name, conductor)
            network[name] = replace(network[name], x_ohm=0.08e-3 * run.length_m)
        for a, b in PAIRS:
            x_ohm = capacitive_ohm(69e-12 * run.length_m, hz)
            ends = Node(run.downstream, a), Node(run.downstream, b)
            network["cores", run.name, a, b] = Branch(*ends, 0.0, x_ohm=x_ohm)
    line, star = Node("supply", "A"), Node("supply", "N")
    for source in (line, star):
        board = Node(circuit.board, source.conductor)
        r_ohm, x_ohm = draw(log_uniform(0.01, 1.0)), draw(log_uniform(0.001, 0.1))
        network["supply", source.conductor] = Branch(source, board, r_ohm, x_ohm=x_ohm)
    earth = Node(circuit.board, "E")
    network["electrode",] = Branch(earth, star, draw(log_uniform(0.2, 200.0)))
    if links and draw(st.booleans()):
        network["link",] = Branch(earth, Node(circuit.board, "N"), 0.0)
    for point in circuit.outlets():
        if draw(st.booleans()):
            ends = (terminal(circuit, point.name, conductor) for conductor in ("A", "N"))
            network["load", point.name] = Branch(*ends, draw(log_uniform(10.0, 3000.0)))
    drawn = draw(st.lists(faults(circuit), min_size=1, max_size=3))
    edits = [{}, *(draw(edits_of(circuit, network, fault)) for fault in drawn)]
    probes = draw(st.lists(voltmeters(circuit), min_size=1, max_size=4))
    return LiveCircuit(network, {line: 230 + 0j, star: 0j}, edits, probes)


@st.composite
def edits_of(draw, circuit, network, fault):
    """Draw one of the ways a fault can be built."""
    mode = shipped_rulebook().modes[fault.mode]
    way = draw(st.sampled_from(hypothesis(mode, circuit, fault).ways))
    return way.edit(fault.r_ohm or 0.0)(network)


@st.composite
def voltmeters(draw, circuit):
    """Draw a voltmeter across two conductors at a place, the switch there on or off."""
    place = draw(st.sampled_from((circuit.board, *(point.name for point in circuit.points))))
    ends = [terminal(circuit, place, c) for c in draw(st.sampled_from(PAIRS))]
    operated = {in_use_gate(place), *([switch_gate(place)] if draw(st.booleans()) else [])}
    meter = Branch(*ends, draw(st.sampled_from(METERS_OHM)))
    return Probe((ends[0],), (ends[1],), (meter,), frozenset(operated))
