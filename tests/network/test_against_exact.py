"""Every reading against exact rational arithmetic.

Relative tolerance 1e-12: the solver only adds, multiplies and divides positive numbers, so its
rounding stays at parts in 1e15, and a bolted joint of 1e-18 ohm adds one part in 1e14 to the
smallest resistance drawn, 1e-4 ohm. Worst measured over 3000 networks: 3.2e-14.
"""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import NODES, circuits, faults, networks, probes, rings, spots_probed

from faultfinder.diagnosis.catalogue import hypothesis
from faultfinder.network.branch import Branch, Node, Probe, edited
from faultfinder.network.solve import resistance, resistances
from faultfinder.network.wiring import network_of
from faultfinder.rulebook.rulebook import shipped_rulebook
from network.exact import exact_ohm

TOLERANCE = 1e-12
A, B, C, D = NODES[:4]


def assert_as_exact(read_ohm, network, probe):
    """Opens must be infinite and dead shorts zero to the letter."""
    expected = exact_ohm(network, probe)
    if expected in (0, math.inf):
        assert read_ohm == expected
    else:
        assert read_ohm == pytest.approx(float(expected), rel=TOLERANCE, abs=0)


@given(networks(min_size=4), st.lists(probes(), min_size=1, max_size=4))
def test_networks_from_milliohms_to_teraohms(network, several):
    for probe, read_ohm in zip(several, resistances(network, several)[0], strict=True):
        assert_as_exact(read_ohm, network, probe)


@given(networks(min_size=8))
def test_every_pair_of_nodes(network):
    pairs = [Probe((a,), (b,)) for a, b in itertools.combinations(NODES, 2)]
    for probe, read_ohm in zip(pairs, resistances(network, pairs)[0], strict=True):
        assert_as_exact(read_ohm, network, probe)


@given(st.data())
def test_circuits_with_a_fault_and_leakage(data):
    """Conductors of milliohms beside insulation of gigohms, switches and bridges as they come."""
    circuit = data.draw(circuits() | rings())
    fault = data.draw(faults(circuit))
    leakage_ohm_m = data.draw(st.sampled_from((None, 1e12)))
    network = network_of(circuit, leakage_ohm_m)
    several = data.draw(st.lists(spots_probed(circuit), min_size=1, max_size=3))
    ways = hypothesis(shipped_rulebook().modes[fault.mode], circuit, fault).ways
    made = [way.edit(fault.r_ohm or 0.0)(network) for way in ways]
    for edit, row in zip(made, resistances(network, several, made), strict=True):
        for probe, read_ohm in zip(several, row, strict=True):
            assert_as_exact(read_ohm, edited(network, edit), probe)


def test_a_bolted_joint_beside_a_milliohm_and_a_gigohm():
    """Series and parallel by hand: 0.1 mohm and 1 Tohm in series and beside each other."""
    network = {
        ("1",): Branch(A, B, 1e-4),
        ("2",): Branch(B, C, 0.0),
        ("3",): Branch(C, D, 1e12),
        ("4",): Branch(A, C, 1e12),
    }
    assert resistance(network, Probe((A,), (C,))) == pytest.approx(1e-4, rel=TOLERANCE)
    assert resistance(network, Probe((A,), (D,))) == pytest.approx(1e12, rel=TOLERANCE)
    assert resistance(network, Probe((B,), (C,))) == 0.0


def test_open_and_short_are_exact():
    network = {("1",): Branch(A, B, 0.0), ("2",): Branch(B, C, math.inf)}
    assert resistance(network, Probe((A,), (B,))) == 0.0
    assert resistance(network, Probe((A,), (A,))) == 0.0
    assert resistance(network, Probe((A,), (C,))) == math.inf
    assert resistance(network, Probe((A,), (D,))) == math.inf  # D is in no branch
    assert resistance({}, Probe((A,), (B,))) == math.inf


def test_the_longest_chain_of_bolted_joints_is_a_dead_short():
    """500 points are the most a circuit file may have."""
    chain = [Node(f"S{number}", "A") for number in range(500)]
    network = {(f"{i}",): Branch(a, b, 0.0) for i, (a, b) in enumerate(itertools.pairwise(chain))}
    assert resistance(network, Probe((chain[0],), (chain[-1],))) == 0.0


@pytest.mark.parametrize(
    ("r_ohm", "expected_ohm"),
    [(0.0, 0.0), (1e-300, 0.0), (0.25, 0.25), (math.inf, math.inf)],
)
def test_one_branch_reads_its_ohms(r_ohm, expected_ohm):
    """Less than 1e-15 ohm is a bolted joint, and reads zero."""
    assert resistance({("1",): Branch(A, B, r_ohm)}, Probe((A,), (B,))) == expected_ohm
