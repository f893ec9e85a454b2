"""Small changes of ohms, to first order, against exact fractions: central differences.

The step is 1e-5. What is left out of first order is of the step's order of the change, and less
than 1e-3 of it is asked for; a change that is nil may come out as rounding of the reading, 1e-14.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from modelled import RULEBOOK, TERMINATORS
from strategies import NODES, circuits, faults, rings

from faultfinder.diagnosis.catalogue import hypothesis, no_edit
from faultfinder.network.branch import Branch, Probe, edited
from faultfinder.network.desk import Desk
from faultfinder.network.lowrank import nudged
from faultfinder.network.nudges import Nudge
from faultfinder.network.wiring import network_of
from faultfinder.rulebook.arrangement import probe_for, spots_of
from network.exact import exact_ohm

# Drawn at random: other tests run the same lines.
pytestmark = pytest.mark.untraced

STEP, SHARE, ROUNDING = 1e-5, 1e-3, 1e-14
TESTS = [p for p in RULEBOOK.procedures.values() if not p.is_live and not p.leakage]
A, B, C = NODES[:3]


def test_two_in_parallel():
    """a b / (a + b) changes by (b / (a + b))^2 for a change of a: 4 and 6 ohm, 0.36 and 0.16."""
    network = {("a",): Branch(A, B, 4.0), ("b",): Branch(A, B, 6.0)}
    nudges = [Nudge({("a",): Branch(A, B, 4.001)}, {}), Nudge({("b",): Branch(A, B, 6.001)}, {})]
    found = nudged(Desk(network, [Probe((A,), (B,))]), [no_edit], nudges)
    assert found.read[0, 0] == pytest.approx(2.4, rel=1e-12)
    assert found.moved[0, :, 0] == pytest.approx([0.36e-3, 0.16e-3], rel=1e-9)


def test_what_is_fitted_and_what_an_edit_adds():
    """4 ohm and a fitted 6 ohm in parallel, 1 ohm in series by an edit: the fitted has 0.16."""
    fitted = Branch(A, B, 6.0)
    network = {("a",): Branch(A, B, 4.0), ("c",): Branch(B, C, 0.5)}
    probe = Probe((A,), (C,), (fitted,))

    def twice(now):
        return {("c",): replace(now["c",], r_ohm=2 * now["c",].r_ohm)}

    nudges = [Nudge({}, {fitted: 6.001}), Nudge({("c",): Branch(B, C, 0.5 + 1e-6)}, {})]
    found = nudged(Desk(network, [probe]), [no_edit, twice], nudges)
    assert found.read[:, 0] == pytest.approx([2.9, 3.4], rel=1e-12)
    assert found.moved[0, :, 0] == pytest.approx([0.16e-3, 1e-6], rel=1e-5)
    assert found.moved[1, :, 0] == pytest.approx([0.16e-3, 2e-6], rel=1e-5)


def test_open_readings_do_not_change():
    network = {("a",): Branch(A, B, 4.0), ("c",): Branch(C, NODES[3], 1.0)}
    desk = Desk(network, [Probe((A,), (C,))])
    found = nudged(desk, [no_edit], [Nudge({("a",): Branch(A, B, 4.1)}, {})])
    assert np.isinf(found.read[0, 0])
    assert found.moved[0, 0, 0] == 0.0


def by(branch, factor):
    return replace(branch, r_ohm=branch.r_ohm * factor)


@given(st.data())
def test_any_circuit_and_fault_against_fractions(data):
    circuit = data.draw(circuits(max_points=3) | rings(max_points=3))
    procedure = data.draw(st.sampled_from([p for p in TESTS if spots_of(p, circuit)]))
    network = network_of(circuit)
    several = [probe_for(procedure, circuit, TERMINATORS, s) for s in spots_of(procedure, circuit)]
    several = data.draw(st.lists(st.sampled_from(several), min_size=1, max_size=3))
    fault = data.draw(faults(circuit))
    way = data.draw(st.sampled_from(hypothesis(RULEBOOK.modes[fault.mode], circuit, fault).ways))
    make = way.edit(fault.r_ohm or 0.0)
    run = data.draw(st.sampled_from(circuit.runs)).name
    of_run = {name: branch for name, branch in network.items() if name[:2] == ("run", run)}
    fitted = dict.fromkeys(branch for probe in several for branch in probe.fitted)

    def exact(probe, factor, factor_fitted):
        now = {**network, **{name: by(branch, factor) for name, branch in of_run.items()}}
        own = tuple(by(branch, factor_fitted) for branch in probe.fitted)
        return exact_ohm(edited(now, make(now)), replace(probe, fitted=own))

    nudges = [
        Nudge({name: by(branch, 1 + STEP) for name, branch in of_run.items()}, {}),
        Nudge({}, {branch: branch.r_ohm * (1 + STEP) for branch in fitted}),
    ]
    found = nudged(Desk(network, several), [make], nudges)
    for column, probe in enumerate(several):
        read = float(exact(probe, 1, 1))
        if not found.good[0, column] or np.isinf(read):
            continue
        for row, ends in enumerate(((1 + STEP, 1, 1 - STEP, 1), (1, 1 + STEP, 1, 1 - STEP))):
            change = float((exact(probe, *ends[:2]) - exact(probe, *ends[2:])) / 2)
            within = SHARE * abs(change) + ROUNDING * (1 + read)
            assert found.moved[0, row, column] == pytest.approx(change, abs=within)
