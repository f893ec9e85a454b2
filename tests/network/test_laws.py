"""Laws that hold for every network of resistors, whatever its values."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import NODES, branches, networks, probes

from faultfinder.network.branch import Branch, Probe
from faultfinder.network.solve import resistance, resistances

ROUNDING = 1e-12  # as in test_against_exact
NEW = ("new",)


def relabelled(thing, name_of):
    """Return a branch or a probe with other nodes."""
    if isinstance(thing, Branch):
        ends = name_of[thing.start], name_of[thing.end]
        return Branch(*ends, thing.r_ohm, thing.gate, thing.normally_made)
    first, second = (tuple(name_of[n] for n in lead) for lead in (thing.first, thing.second))
    return Probe(first, second, tuple(relabelled(b, name_of) for b in thing.fitted), thing.operated)


@given(networks(min_size=3), branches(), probes())
def test_a_path_more_never_raises_a_resistance(network, branch, probe):
    """Rayleigh's monotonicity law."""
    before, after = resistances(network, [probe], [{}, {NEW: branch}])[:, 0]
    assert after <= before * (1 + ROUNDING)


@given(networks(min_size=3), probes(), st.data())
def test_a_path_less_never_lowers_a_resistance(network, probe, data):
    name = data.draw(st.sampled_from(sorted(network)))
    before, after = resistances(network, [probe], [{}, {name: None}])[:, 0]
    assert after >= before * (1 - ROUNDING)


@given(networks(min_size=3), probes(), st.data(), st.floats(0.0, 1.0))
def test_fewer_ohms_in_a_branch_never_raise_a_resistance(network, probe, data, share):
    name = data.draw(st.sampled_from(sorted(network)))
    branch = network[name]
    assume(branch.r_ohm < math.inf)
    less = Branch(branch.start, branch.end, branch.r_ohm * share, branch.gate, branch.normally_made)
    before, after = resistances(network, [probe], [{}, {name: less}])[:, 0]
    assert after <= before * (1 + ROUNDING)


@given(networks(), probes())
def test_leads_may_be_exchanged(network, probe):
    turned = Probe(probe.second, probe.first, probe.fitted, probe.operated)
    there, back = resistances(network, [probe, turned])[0]
    assert there == pytest.approx(back, rel=ROUNDING, abs=0)


@given(networks(), probes())
def test_a_branch_has_no_direction(network, probe):
    turned = {
        name: Branch(b.end, b.start, b.r_ohm, b.gate, b.normally_made)
        for name, b in network.items()
    }
    expected = resistance(network, probe)
    assert resistance(turned, probe) == pytest.approx(expected, rel=ROUNDING, abs=0)


@given(networks(), probes(), st.permutations(NODES))
def test_names_of_nodes_do_not_matter(network, probe, names):
    name_of = dict(zip(NODES, names, strict=True))
    renamed = {name: relabelled(branch, name_of) for name, branch in network.items()}
    expected = resistance(network, probe)
    read = resistance(renamed, relabelled(probe, name_of))
    assert read == pytest.approx(expected, rel=ROUNDING, abs=0)


@given(networks(min_size=3), st.floats(1e-3, 1e3))
def test_ohms_scale(network, factor):
    """All ohms times k, all readings times k."""
    pairs = [Probe((a,), (b,)) for a, b in itertools.combinations(NODES, 2)]
    scaled = {
        name: Branch(b.start, b.end, b.r_ohm * factor, b.gate, b.normally_made)
        for name, b in network.items()
    }
    expected = resistances(network, pairs)[0] * factor
    # The bolted joints do not scale with the rest: 1e-18 ohm against 1e-7 ohm is 1e-11.
    assert resistances(scaled, pairs)[0] == pytest.approx(expected, rel=1e-9, abs=0)


@given(networks(min_size=3))
def test_resistance_is_a_distance(network):
    """From a to c it is never more than from a to b and b to c together."""
    pairs = [Probe((a,), (b,)) for a in NODES for b in NODES]
    size = len(NODES)
    distance = resistances(network, pairs)[0].reshape(size, size)
    around = np.min(distance[:, :, None] + distance[None, :, :], axis=1)
    assert np.all(distance <= around * (1 + ROUNDING))
    assert np.all(np.diag(distance) == 0)


@given(networks(min_size=2), probes())
def test_two_ways_of_taking_a_branch_away(network, probe):
    """An edit to None, and an edit to infinite ohms."""
    name, branch = min(network.items())
    opened = Branch(branch.start, branch.end, math.inf, branch.gate, branch.normally_made)
    gone, open_ = resistances(network, [probe], [{name: None}, {name: opened}])[:, 0]
    assert gone == pytest.approx(open_, rel=ROUNDING, abs=0)
