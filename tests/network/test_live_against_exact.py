"""Impedances and voltages against nodal equations solved with 60 digits.

Relative tolerance 1e-9. An impedance's error is measured by its size; a voltage's by the larger of
the two leads' potentials, and a potential by the sum of the sizes of what each source alone makes
of it (one live source: the potential itself). Worst measured over 3000 networks each: 2.0e-14 of
impedances (a bolted joint's 1e-18 ohm beside 1e-4 ohm), 1.0e-14 of voltages; over 300 circuits with
faults and 1619 readings, 7e-16.

The corner: with reactance of both signs, admittances can cancel, and digits go in proportion. At
the resonance of an inductance and a capacitance of quality Q the error was 5.5e-14 at Q = 1e3,
6.8e-11 at 1e6 and 1e-9 at 1e9, so 1e-9 holds to Q = 1e6; at an RC notch, where two paths cancel,
4e-11 of the potential at one millionth of the source's. Without any loss and exactly at
resonance there is no answer. Wiring is far from that at mains frequency: its conductors, 1 ohm of
reactance and less, would meet core capacitances of 1 uF, 2653 ohm and more at 60 Hz, above 2.5 kHz,
and they have resistance. The strategies draw what wiring has, and a test below keeps the corner.
"""

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from live_strategies import (
    LIVE_BRANCHES,
    LIVE_EDITS,
    LIVE_NETWORKS,
    LIVE_PROBES,
    SOURCE_PROBES,
    capacitive_ohm,
    live_circuits,
    supplied,
)
from strategies import NODES

from faultfinder.network.branch import Branch, Probe, edited
from faultfinder.network.solve import impedances, resistance, resistances, voltages
from network.nodal import exact_impedance, exact_voltage

TOLERANCE = 1e-9
A, B, C, D = NODES[:4]
SEVERAL_PROBES = st.lists(LIVE_PROBES | SOURCE_PROBES, min_size=1, max_size=4)
SEVERAL_EDITS = st.lists(LIVE_EDITS, min_size=1, max_size=4)


def assert_exact_impedance(read_ohm, network, probe):
    """Opens must be infinite and dead shorts zero to the letter."""
    expected = exact_impedance(network, probe)
    if expected in (0, math.inf):
        assert read_ohm == expected
    else:
        assert abs(read_ohm - expected) <= TOLERANCE * abs(expected)


def assert_exact_voltage(read_v, network, probe, potentials):
    expected, size = exact_voltage(network, probe, potentials)
    if cmath.isnan(expected):
        assert np.isnan(read_v)
    else:
        assert abs(read_v - expected) <= TOLERANCE * size


# -- against the other solver --------------------------------------------------------------------


@given(LIVE_NETWORKS, st.lists(LIVE_PROBES, min_size=1, max_size=4))
def test_impedances(network, several):
    for probe, read_ohm in zip(several, impedances(network, several)[0], strict=True):
        assert_exact_impedance(read_ohm, network, probe)


@given(supplied(), SEVERAL_PROBES)
def test_voltages(supply, several):
    network, potentials = supply
    for probe, read_v in zip(several, voltages(network, several, potentials)[0], strict=True):
        assert_exact_voltage(read_v, network, probe, potentials)


@given(live_circuits())
def test_circuits_with_faults(live):
    """Milliohms of conductors, gigohms of insulation and core capacitance, with a voltmeter."""
    read = voltages(live.network, live.probes, live.potentials, live.edits)
    for edit, row in zip(live.edits, read, strict=True):
        faulty = edited(live.network, edit)
        for probe, read_v in zip(live.probes, row, strict=True):
            assert_exact_voltage(read_v, faulty, probe, live.potentials)


@pytest.mark.parametrize("quality", [1e1, 1e3, 1e6])
def test_digits_lost_at_resonance_are_those_of_the_quality(quality):
    """1000 ohm of either sign: in series the resistance is left, side by side Q times 1000 ohm."""
    r_ohm = 1000.0 / quality
    coil = Branch(A, B, r_ohm, x_ohm=1000.0)
    series = {("coil",): coil, ("capacitor",): Branch(B, C, 0.0, x_ohm=-1000.0)}
    beside = {("coil",): coil, ("capacitor",): Branch(A, B, 0.0, x_ohm=-1000.0)}
    in_series, side_by_side = (
        impedances(network, [Probe((A,), (end,))])[0, 0]
        for network, end in ((series, C), (beside, B))
    )
    lost = 1e-15 * quality
    assert abs(in_series - r_ohm) <= lost * r_ohm
    parallel_ohm = complex(1000.0 * quality, -1000.0)  # z_L z_C / (z_L + z_C)
    assert abs(side_by_side - parallel_ohm) <= lost * abs(parallel_ohm)


# -- floating leads ------------------------------------------------------------------------------


def test_a_lead_without_a_path_to_a_source_has_no_voltage():
    network = {
        ("supply",): Branch(A, B, 0.1),
        ("opened",): Branch(B, C, math.inf, x_ohm=0.1),
        ("beyond",): Branch(C, D, 10.0),
    }
    several = [Probe((B,), (A,)), Probe((C,), (A,)), Probe((A,), (D,)), Probe((C,), (D,))]
    read = voltages(network, several, {A: 230})[0]
    assert read[0] == pytest.approx(0, abs=1e-12)
    assert np.isnan(read[1:]).all()


def test_one_picofarad_is_a_path():
    """Unloaded, it carries the whole 230 V."""
    network = {("core",): Branch(A, B, 0.0, x_ohm=capacitive_ohm(1e-12, 50))}
    assert voltages(network, [Probe((B,), (C,))], {A: 230, C: 0})[0, 0] == pytest.approx(230)


def test_leads_on_the_sources_read_what_these_hold():
    potentials = {A: 230 + 0j, B: -115 + 199j}
    several = [Probe((A,), (B,)), Probe((B,), (A,)), Probe((A,), (A,))]
    for network in ({}, {("load",): Branch(A, B, 10.0)}):
        read = voltages(network, several, potentials)[0]
        assert list(read) == pytest.approx([345 - 199j, -345 + 199j, 0], rel=1e-15)


# -- together and alone --------------------------------------------------------------------------


@given(supplied(), SEVERAL_PROBES, SEVERAL_EDITS)
def test_voltages_together_are_as_alone(supply, several, several_edits):
    network, potentials = supply
    together = voltages(network, several, potentials, several_edits)
    assert together.shape == (len(several_edits), len(several))
    for edit, row in zip(several_edits, together, strict=True):
        for probe, read_v in zip(several, row, strict=True):
            (alone_v,) = voltages(edited(network, edit), [probe], potentials)[0]
            size = exact_voltage(edited(network, edit), probe, potentials)[1]
            assert np.isnan([read_v, alone_v]).all() or abs(read_v - alone_v) <= TOLERANCE * size


@given(LIVE_NETWORKS, st.lists(LIVE_PROBES, min_size=1, max_size=4), SEVERAL_EDITS)
def test_impedances_together_are_as_alone(network, several, several_edits):
    together = impedances(network, several, several_edits)
    alone = [
        [impedances(edited(network, edit), [probe])[0, 0] for probe in several]
        for edit in several_edits
    ]
    assert together == pytest.approx(np.array(alone), rel=TOLERANCE, abs=0)


# -- d.c. ----------------------------------------------------------------------------------------


def at_dc(branch):
    """Return what is left of a branch at d.c.: inductance a joint, capacitance an open."""
    r_ohm = math.inf if branch.x_ohm < 0 else branch.r_ohm
    return Branch(branch.start, branch.end, r_ohm, branch.gate, branch.normally_made)


@given(LIVE_NETWORKS, st.lists(LIVE_PROBES, min_size=1, max_size=4))
def test_resistance_ignores_reactance_and_opens_capacitances(network, several):
    stripped = {name: at_dc(branch) for name, branch in network.items()}
    without = [
        Probe(p.first, p.second, tuple(at_dc(b) for b in p.fitted), p.operated) for p in several
    ]
    assert resistances(network, several) == pytest.approx(
        resistances(stripped, without), rel=1e-12, abs=0
    )


@given(st.dictionaries(st.integers(0, 9).map(lambda n: (str(n),)), LIVE_BRANCHES, min_size=3))
def test_impedance_without_reactance_is_resistance(network):
    stripped = {name: at_dc(branch) for name, branch in network.items()}
    several = [Probe((A,), (B,)), Probe((C,), (D,))]
    assert impedances(stripped, several) == pytest.approx(
        resistances(stripped, several).astype(complex), rel=1e-12, abs=0
    )


def test_a_coil_and_a_capacitor_at_dc():
    coil, capacitor = Branch(A, B, 2.0, x_ohm=5.0), Branch(A, B, 0.0, x_ohm=-5.0)
    across = Probe((A,), (B,))
    assert resistance({("1",): coil, ("2",): capacitor}, across) == 2.0
    assert resistance({("2",): capacitor}, across) == math.inf
