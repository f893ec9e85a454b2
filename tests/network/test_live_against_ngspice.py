"""Live circuits with faults against ngspice: another program, another method (modified nodal, LU).

1e-3 of the larger lead's potential, or of the impedance: ngspice works in double precision with a
matrix that subtracts, and loses digits where milliohms meet core capacitances of megohms. Worst
measured: 7e-9 over 3261 voltages (median 2e-15), 9e-6 over 2671 impedances (median 3e-13).
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from live_strategies import live_circuits

from faultfinder.network.branch import Probe, edited
from faultfinder.network.solve import impedances, voltages
from network.spice import NGSPICE, Deck

TOLERANCE = 1e-3

pytestmark = pytest.mark.skipif(
    NGSPICE is None, reason="ngspice is not installed (Debian: apt-get install ngspice)"
)

# Insulation of 1e9 ohm metre is damp, but what LU still sees beside a milliohm.
CIRCUITS = st.lists(live_circuits(leakage_ohm_m=(None, 1e9)), min_size=1, max_size=3)


@given(CIRCUITS)
def test_voltages(several):
    deck, ours = Deck(), []
    for live in several:
        ours.append(voltages(live.network, live.probes, live.potentials, live.edits).ravel())
        for edit in live.edits:
            for probe in live.probes:
                deck.add_voltage(edited(live.network, edit), probe, live.potentials)
    for read_v, leads in zip(np.concatenate(ours), deck.solved(), strict=True):
        if leads is None:
            assert np.isnan(read_v)
        else:
            first, second = leads
            assert abs(read_v - (first - second)) <= TOLERANCE * max(abs(first), abs(second))


@given(CIRCUITS)
def test_impedances(several):
    """Between the leads of the voltmeters, these taken off, as far as the supply's terminals."""
    deck, ours = Deck(), []
    for live in several:
        probes = [Probe(p.first, p.second, (), p.operated) for p in live.probes]
        ours.append(impedances(live.network, probes, live.edits).ravel())
        for edit in live.edits:
            for probe in probes:
                deck.add_impedance(edited(live.network, edit), probe)
    for read_ohm, leads in zip(np.concatenate(ours), deck.solved(), strict=True):
        if leads is None:
            assert read_ohm == math.inf
        else:
            # A picoohm: a dead short is zero here, and rounding of a zero-volt source there.
            assert abs(read_ohm - leads[0]) <= TOLERANCE * abs(leads[0]) + 1e-12
