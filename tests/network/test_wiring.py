"""From a circuit to its network: which branches, between what, through which switch."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import circuits

from faultfinder.network.branch import Branch, Node, Probe
from faultfinder.network.solve import resistance
from faultfinder.network.wiring import (
    in_use_gate,
    network_of,
    run_branch,
    switch_gate,
    tail_branch,
    terminal,
)
from faultfinder.wiring.circuit import CONDUCTORS, PAIRS
from network.two_outlets import CIRCUIT


def test_every_branch_of_two_outlets():
    joined = {
        ("run", "DB..S1"): ("DB", "S1", (1.0, 2.0, 4.0)),
        ("run", "S1..S2"): ("S1", "S2", (8.0, 16.0, 32.0)),
    }
    expected = {
        (*name, conductor): Branch(Node(start, conductor), Node(end, conductor), r_ohm)
        for name, (start, end, ohms) in joined.items()
        for conductor, r_ohm in zip(CONDUCTORS, ohms, strict=True)
    }
    for outlet, poles in (("S1", "A"), ("S2", "AN")):
        for conductor in CONDUCTORS:
            ends = Node(outlet, conductor), Node(outlet, conductor, "contact")
            gate = f"switch of {outlet}" if conductor in poles else ""
            expected["tail", outlet, conductor] = Branch(*ends, 0.0, gate)
    assert network_of(CIRCUIT) == expected


@given(circuits())
def test_a_branch_a_conductor_of_every_run_and_outlet(circuit):
    runs = {run_branch(run.name, c) for run in circuit.runs for c in CONDUCTORS}
    tails = {tail_branch(point.name, c) for point in circuit.outlets() for c in CONDUCTORS}
    network = network_of(circuit)
    assert set(network) == runs | tails
    gates = {branch.gate for branch in network.values()} - {""}
    assert gates == {switch_gate(point.name) for point in circuit.outlets() if point.switched}
    assert all(branch.normally_made for branch in network.values())


@given(circuits(), st.data())
def test_a_conductor_reads_the_sum_of_its_runs(circuit, data):
    point = data.draw(st.sampled_from(circuit.points))
    for conductor in CONDUCTORS:
        ends = ((terminal(circuit, place, conductor),) for place in (circuit.board, point.name))
        expected = sum(circuit.conductor_ohm(run, conductor) for run in circuit.path(point.name))
        read = resistance(network_of(circuit), Probe(*ends))
        assert read == pytest.approx(expected, rel=1e-12)


@given(circuits())
def test_conductors_do_not_meet_in_a_sound_circuit(circuit):
    network = network_of(circuit)
    for a, b in PAIRS:
        ends = ((terminal(circuit, circuit.board, conductor),) for conductor in (a, b))
        assert resistance(network, Probe(*ends)) == float("inf")


def test_leakage_of_a_run_is_that_of_a_metre_over_its_length():
    leaks = {k: b for k, b in network_of(CIRCUIT, 8e11).items() if k[0] == "leak"}
    assert {(k[1:], b.r_ohm) for k, b in leaks.items()} == {
        ((run, a, b), r_ohm)
        for run, r_ohm in (("DB..S1", 8e11), ("S1..S2", 1e11))
        for a, b in PAIRS
    }
    assert all(k[2:] == (b.start.conductor, b.end.conductor) for k, b in leaks.items())


@given(circuits())
def test_leakage_of_the_whole_circuit(circuit):
    """All leaks of a pair lie beside each other, and the third conductor makes 2/3 of it.

    Each pair has R; through the third conductor there are two more in series: R beside 2 R. The
    conductors' own ohms, some tens at most, are parts in 1e9 of it.
    """
    network = network_of(circuit, 1e12)
    whole = 1e12 / sum(run.length_m for run in circuit.runs)
    for a, b in PAIRS:
        ends = ((terminal(circuit, circuit.board, conductor),) for conductor in (a, b))
        assert resistance(network, Probe(*ends)) == pytest.approx(whole * 2 / 3, rel=1e-8)


@given(circuits())
def test_a_probe_touches_contacts_at_outlets_and_cables_elsewhere(circuit):
    assert terminal(circuit, circuit.board, "A") == Node(circuit.board, "A", "through")
    for point in circuit.points:
        part = "contact" if point.kind == "outlet" else "through"
        assert terminal(circuit, point.name, "N") == Node(point.name, "N", part)


@given(circuits())
def test_gates_of_a_circuit_have_different_names(circuit):
    names = [gate(p.name) for p in circuit.points for gate in (switch_gate, in_use_gate)]
    assert len(set(names)) == 2 * len(circuit.points)
