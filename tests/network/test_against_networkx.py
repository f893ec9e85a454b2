"""Readings against ``networkx.resistance_distance``, which takes a pseudo-inverse.

It wants a connected graph without zero-ohm edges, so each connected part is asked for alone and
bolted joints are merged first. The pseudo-inverse loses about the condition number times 1e-16:
with resistances within five decades that is some 1e-10 (worst measured 3e-11, on networks and
circuits alike), so 1e-8 is asked for.
"""

import itertools

import networkx as nx
import pytest
from hypothesis import given
from strategies import MILD_OHMS, circuits, networks, rings

from faultfinder.network.branch import Branch, Node, Probe
from faultfinder.network.solve import resistances
from faultfinder.network.wiring import network_of
from faultfinder.wiring.circuit import CONDUCTORS

TOLERANCE = 1e-8


def assert_as_networkx(network):
    """Compare every pair of nodes of every connected part, and every pair across parts."""
    joined = nx.Graph((b.start, b.end) for b in network.values() if b.r_ohm == 0)
    name_of = {node: node for branch in network.values() for node in (branch.start, branch.end)}
    for bolted in nx.connected_components(joined):
        name_of |= dict.fromkeys(bolted, min(bolted))
    graph = nx.MultiGraph()
    graph.add_nodes_from(name_of.values())
    for branch in network.values():
        start, end = name_of[branch.start], name_of[branch.end]
        if start != end:
            graph.add_edge(start, end, r_ohm=branch.r_ohm)
    pairs = list(itertools.combinations(sorted(name_of), 2))
    read = resistances(network, [Probe((a,), (b,)) for a, b in pairs])[0]
    distance = {}
    for part in nx.connected_components(graph):
        distance |= nx.resistance_distance(graph.subgraph(part), weight="r_ohm")
    for (a, b), r_ohm in zip(pairs, read, strict=True):
        expected = distance[name_of[a]].get(name_of[b], float("inf"))
        if name_of[a] == name_of[b]:
            assert r_ohm == 0.0
        else:
            assert r_ohm == pytest.approx(expected, rel=TOLERANCE)


@given(networks(MILD_OHMS, gates=("",), min_size=3))
def test_networks(network):
    assert_as_networkx(network)


@given(circuits(max_points=5))
def test_circuits_with_terminators(circuit):
    """All switches made, 10 and 5 ohm to a common on the earth bar."""
    common = Node(circuit.board, "common", "bar")
    fitted = {
        ("fitted", conductor): Branch(Node(circuit.board, conductor), common, r_ohm)
        for conductor, r_ohm in (("A", 10.0), ("N", 5.0), ("E", 0.0))
    }
    assert_as_networkx({**network_of(circuit), **fitted})


@given(rings(max_points=5))
def test_rings_with_their_ends_joined(circuit):
    """The loop of each conductor closed with a bolted joint, or with one of 0.02 ohm."""
    for r_ohm in (0.0, 0.02):
        joints = {
            ("joint", c): Branch(Node(circuit.board, c), Node(circuit.far_end, c), r_ohm)
            for c in CONDUCTORS
        }
        assert_as_networkx({**network_of(circuit), **joints})
