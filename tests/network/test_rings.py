"""Every test on rings: against exact rational arithmetic, and against series and parallel by hand.

1e-12 of a reading is asked for, as in ``test_against_exact``.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import AU_NZ, COPPER, faults, rings

from faultfinder.diagnosis.catalogue import hypothesis
from faultfinder.network.branch import edited
from faultfinder.network.solve import resistances
from faultfinder.network.wiring import network_of
from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.arrangement import probe_for, spots_of
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run, far_end
from network.exact import exact_ohm

RULEBOOK = shipped_rulebook()
PROCEDURES = RULEBOOK.procedures
FITTED = Terminators(active_ohm=10.0, neutral_ohm=5.0)
LEAKAGE_OHM_M = PROCEDURES["insulation"].leakage.ohm_m
TOLERANCE = 1e-12

# AS/NZS 1125 (from memory): 7.41 ohm/km for 2.5 mm², 13.6 for 1.5. Ten metres a run, 5 to the spur.
A_OHM, E_OHM = 0.0741, 0.136
CABLE = Cable(2.5, 2.5, 1.5, COPPER)
RING = Circuit(
    "DB",
    Device("B", 32.0),
    (Point("S1", "outlet", ("A",)), Point("S2"), Point("S3"), Point("J1", "joint-box"), Point("P")),
    (
        *(Run(a, b, 10.0, CABLE) for a, b in (("DB", "S1"), ("S1", "S2"), ("S2", "S3"))),
        Run("S3", "J1", 10.0, CABLE),
        Run("J1", far_end("DB"), 10.0, CABLE),
        Run("S2", "P", 5.0, CABLE),
    ),
    AU_NZ,
)


def read(test, between, at, switch="", circuit=RING):
    leakage = PROCEDURES[test].leakage
    network = network_of(circuit, leakage.ohm_m if leakage else None)
    probe = probe_for(PROCEDURES[test], circuit, FITTED, Spot(test, at, switch, between))
    return float(resistances(network, [probe])[0][0])


def about(value):
    return pytest.approx(value, rel=TOLERANCE, abs=0)


# -- random rings --------------------------------------------------------------------------------


@given(st.data())
def test_every_test_on_a_ring_with_and_without_a_fault(data):
    circuit = data.draw(rings())
    procedure = data.draw(st.sampled_from(sorted(PROCEDURES.values(), key=lambda p: p.id)))
    spots = data.draw(
        st.lists(st.sampled_from(spots_of(procedure, circuit)), min_size=1, max_size=4)
    )
    network = network_of(circuit, LEAKAGE_OHM_M if procedure.leakage else None)
    probes = [probe_for(procedure, circuit, FITTED, spot) for spot in spots]
    fault = data.draw(faults(circuit))
    way = hypothesis(RULEBOOK.modes[fault.mode], circuit, fault).ways[0]
    for edit in ({}, way.edit(fault.r_ohm or 0.0)(network)):
        for probe, r_ohm in zip(probes, resistances(network, probes, [edit])[0], strict=True):
            expected = exact_ohm(edited(network, edit), probe)
            if expected in (0, math.inf):
                assert r_ohm == expected
            else:
                assert r_ohm == about(float(expected))


@given(rings())
def test_ends_are_parted_for_ring_tests_alone(circuit):
    """Parted, each conductor reads its whole length; joined, its two ends are one place."""
    for conductor in "ANE":
        whole = sum(circuit.conductor_ohm(run, conductor) for run in circuit.ring)
        assert read("ring-ends", conductor, "DB", circuit=circuit) == about(whole)
        first = circuit.ring[0].downstream
        one = circuit.conductor_ohm(circuit.ring[0], conductor)
        beside = one * (whole - one) / whole
        assert read("long-lead", conductor, first, "on", circuit) == pytest.approx(beside, rel=1e-9)


# -- by hand: the ends joined at the board ---------------------------------------------------------


def beside(one, other):
    return one * other / (one + other)


@pytest.mark.parametrize(("at", "runs"), [("S1", 1), ("S2", 2), ("S3", 3), ("J1", 4)])
def test_long_lead_goes_both_ways_round(at, runs):
    assert read("long-lead", "A", at) == about(A_OHM * beside(runs, 5 - runs))
    assert read("long-lead", "E", at) == about(E_OHM * beside(runs, 5 - runs))


def test_long_lead_to_a_spur():
    assert read("long-lead", "E", "P") == about(E_OHM * (beside(2, 3) + 0.5))


@pytest.mark.parametrize(("at", "share"), [("S1", 0.8), ("S2", 1.2), ("P", 1.7)])
def test_linked_out(at, share):
    assert read("linked-out", "A-E", at) == about((A_OHM + E_OHM) * share)


def test_terminated():
    assert read("terminated", "A-E", "S3") == about(10 + (A_OHM + E_OHM) * 1.2)
    assert read("terminated", "N-E", "P") == about(5 + (A_OHM + E_OHM) * 1.7)
    assert read("terminated", "A-N", "S1", "on") == about(15 + 2 * A_OHM * 0.8)
    assert read("terminated", "A-N", "S1", "off") == math.inf


def test_insulation_is_that_of_all_its_cable():
    """55 m of 1e12 ohm metre a pair, so A-E also has A-N and N-E in series beside it.

    Ohms of cable are parts in 1e11 of it.
    """
    of_a_pair = LEAKAGE_OHM_M / 55
    for at in ("DB", "S1", "P"):
        assert read("insulation", "A-E", at) == pytest.approx(of_a_pair / 1.5, rel=1e-9)
        assert read("insulation", "A+N-E", at) == pytest.approx(of_a_pair / 2, rel=1e-9)


# -- by hand: the ends parted ----------------------------------------------------------------------


def test_ring_cross_by_series_and_parallel():
    """At S1 one way is a run of active and four of earth, the other the reverse; P hangs on S2."""
    s1 = beside(A_OHM + 4 * E_OHM, 4 * A_OHM + E_OHM)
    s2 = beside(2 * A_OHM + 3 * E_OHM, 3 * A_OHM + 2 * E_OHM)
    assert read("ring-cross", "A-E", "S1", "on") == about(s1)
    assert read("ring-cross", "A-E", "S1", "off") == math.inf
    assert read("ring-cross", "A-E", "P") == about(s2 + 0.5 * (A_OHM + E_OHM))
    assert read("ring-cross", "A-E", "DB") == about(5 * beside(A_OHM, E_OHM))


def test_spots_of_ring_tests():
    assert [str(spot) for spot in spots_of(PROCEDURES["ring-ends"], RING)] == [
        f"{conductor} at DB" for conductor in "ANE"
    ]
    cross = [(spot.at, spot.switch) for spot in spots_of(PROCEDURES["ring-cross"], RING)[::3]]
    assert cross == [
        ("DB", ""),
        ("S1", "on"),
        ("S1", "off"),
        ("S2", ""),
        ("S3", ""),
        ("J1", ""),
        ("P", ""),
    ]
    radial = Circuit("DB", RING.device, (Point("S1"),), RING.runs[:1], AU_NZ)
    assert spots_of(PROCEDURES["ring-ends"], radial) == spots_of(PROCEDURES["ring-cross"], radial)
    assert spots_of(PROCEDURES["ring-ends"], radial) == ()
