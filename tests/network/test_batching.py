"""Solving many edits and readings together gives what each gives alone."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from modelled import LONG, RULEBOOK, TERMINATORS
from strategies import NODES, circuits, edits, networks, probes, spots_probed

from faultfinder.network import mesh
from faultfinder.network.branch import Branch, Probe, edited
from faultfinder.network.solve import resistance, resistances
from faultfinder.network.wiring import network_of, run_branch, tail_branch
from faultfinder.rulebook.arrangement import probe_for, spots_of

A, B, C = NODES[:3]
SEVERAL_PROBES = st.lists(probes(), min_size=1, max_size=6)
SEVERAL_EDITS = st.lists(edits(), min_size=1, max_size=6)

# Alone or together only the order of additions differs: parts in 1e15 a step.
TOLERANCE = 1e-12


@given(networks(), SEVERAL_PROBES, SEVERAL_EDITS)
def test_together_is_as_alone(network, several_probes, several_edits):
    together = resistances(network, several_probes, several_edits)
    alone = [[resistance(edited(network, e), p) for p in several_probes] for e in several_edits]
    assert together.shape == (len(several_edits), len(several_probes))
    assert together == pytest.approx(np.array(alone), rel=TOLERANCE, abs=0)


@given(st.data())
def test_circuits_together_are_as_alone(data):
    """Readings at many places, so that the halving of the readings has several levels."""
    circuit = data.draw(circuits())
    network = network_of(circuit, data.draw(st.sampled_from((None, 1e12))))
    several = data.draw(st.lists(spots_probed(circuit), min_size=6, max_size=12))
    place = data.draw(st.sampled_from(circuit.runs))
    broken = {run_branch(place.name, "E"): None}
    unswitched = {tail_branch(point.name, "A"): None for point in circuit.outlets()}
    together = resistances(network, several, [{}, broken, unswitched])
    for row, edit in zip(together, ({}, broken, unswitched), strict=True):
        alone = [resistance(edited(network, edit), probe) for probe in several]
        assert row == pytest.approx(np.array(alone), rel=TOLERANCE, abs=0)


def test_however_far_readings_are_halved_they_are_the_same(monkeypatch):
    circuit = LONG
    procedure = RULEBOOK.procedures["terminated"]
    several = [probe_for(procedure, circuit, TERMINATORS, s) for s in spots_of(procedure, circuit)]
    network, edit = network_of(circuit), {run_branch("S4..S5", "E"): None}
    read = []
    for few in (0, 8, mesh._FEW, 1000):
        monkeypatch.setattr(mesh, "_FEW", few)
        read.append(resistances(network, several, [{}, edit]))
    assert np.isinf(read[0]).any()
    for other in read[1:]:
        assert other == pytest.approx(read[0], rel=TOLERANCE, abs=0)


def test_what_is_fitted_may_be_of_other_ohms_under_each_edit():
    fitted = Branch(A, B, 10.0)
    network = {("run",): Branch(B, C, 2.0)}
    probe, plain = Probe((A,), (C,), (fitted,)), Probe((B,), (C,))
    edits = [{}, {("run",): Branch(B, C, 3.0)}, {}]
    read = resistances(network, [probe, plain], edits, {fitted: np.array([10.0, 10.0, 11.0])})
    assert read == pytest.approx(np.array([[12.0, 2.0], [13.0, 3.0], [13.0, 2.0]]))


@given(networks(), SEVERAL_PROBES, SEVERAL_EDITS, st.randoms(use_true_random=False))
def test_order_does_not_matter(network, several_probes, several_edits, random):
    columns = random.sample(range(len(several_probes)), len(several_probes))
    rows = random.sample(range(len(several_edits)), len(several_edits))
    straight = resistances(network, several_probes, several_edits)
    shuffled = resistances(
        network, [several_probes[c] for c in columns], [several_edits[r] for r in rows]
    )
    assert shuffled == pytest.approx(straight[np.ix_(rows, columns)], rel=TOLERANCE, abs=0)


@given(networks(), SEVERAL_PROBES, SEVERAL_EDITS)
def test_nothing_given_is_changed(network, several_probes, several_edits):
    before = dict(network), [dict(edit) for edit in several_edits]
    resistances(network, several_probes, several_edits)
    assert (network, several_edits) == before


@given(networks(), SEVERAL_EDITS)
def test_no_probes(network, several_edits):
    assert resistances(network, [], several_edits).shape == (len(several_edits), 0)


@given(networks(), SEVERAL_PROBES)
def test_no_edits(network, several_probes):
    assert resistances(network, several_probes, []).shape == (0, len(several_probes))


def test_an_edit_replaces_adds_and_takes_away():
    network = {("1",): Branch(A, B, 10.0), ("2",): Branch(B, C, 10.0)}
    several_edits = [
        {},
        {("1",): Branch(A, B, 3.0)},
        {("1",): None},
        {("3",): Branch(A, C, 5.0)},
        {("1",): Branch(A, C, 7.0), ("4",): Branch(A, C, 7.0)},  # one name moved, twice the path
        {("9",): None},  # nothing of that name
    ]
    read = resistances(network, [Probe((A,), (C,)), Probe((A,), (B,))], several_edits)
    # Across A-C: 20; 13; open; 20 beside 5; two 7 side by side; 20. Across A-B: by the same token.
    assert read[:, 0] == pytest.approx([20, 13, math.inf, 4, 3.5, 20], rel=1e-14)
    assert read[:, 1] == pytest.approx([10, 3, math.inf, 6, 13.5, 10], rel=1e-14)


def test_a_gate_is_operated_by_one_reading_and_not_by_the_next():
    network = {
        ("1",): Branch(A, B, 1.0, "switch"),
        ("2",): Branch(A, B, 4.0, "button", normally_made=False),
    }
    positions = [(), ("switch",), ("button",), ("switch", "button")]
    several = [Probe((A,), (B,), (), frozenset(operated)) for operated in positions]
    read = resistances(network, several)[0]
    # Neither operated: switch only. Switch: nothing made. Button: both, 1 beside 4. Both: button.
    assert list(read) == pytest.approx([1.0, math.inf, 0.8, 4.0], rel=1e-14)


def test_what_one_reading_fits_the_next_does_not_see():
    network = {("1",): Branch(A, B, 6.0)}
    fitted = Branch(A, B, 3.0)
    several = [Probe((A,), (B,), (fitted,) * count) for count in (1, 0, 2)]
    assert list(resistances(network, several)[0]) == pytest.approx([2.0, 6.0, 1.2], rel=1e-14)


def test_nodes_under_one_lead_are_joined():
    network = {("1",): Branch(A, C, 6.0), ("2",): Branch(B, C, 3.0)}
    assert resistance(network, Probe((A, B), (C,))) == pytest.approx(2.0, rel=1e-14)
    assert resistance(network, Probe((A, C), (C, B))) == 0.0
