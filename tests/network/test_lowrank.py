"""The screen against the exact pass and against exact fractions: right wherever it says so.

1e-6 of a reading is what the screen promises of a ``good`` one, or 1e-9 ohm; what it is not sure of
it says, and of networks of ohms alone it is sure of nearly all.
"""

import math

import numpy as np
import pytest
from examples import slow
from hypothesis import given
from hypothesis import strategies as st
from modelled import BRANCHED, DEAD, LINE, MODES, RING, RULEBOOK, TERMINATORS
from strategies import MILD_OHMS, NODES, circuits, edits, faults, networks, probes, rings

from faultfinder.diagnosis.catalogue import catalogue, hypothesis
from faultfinder.evidence.bench import Bench
from faultfinder.network.branch import Branch, Probe, edited
from faultfinder.network.desk import Desk
from faultfinder.network.lowrank import nudged, screened
from faultfinder.network.pairs import PairScreen
from faultfinder.network.solve import resistances
from faultfinder.network.wiring import network_of
from faultfinder.rulebook.arrangement import probe_for, spots_of
from network.exact import exact_ohm

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

FIGURES, FLOOR_OHM = 1e-6, 1e-9
OHMS = (0.0, 0.37, 5.0, 2e6, math.inf)
TESTS = sorted(DEAD)
CIRCUITS = {"line": LINE, "branched": BRANCHED, "ring": RING}
A, B, C, D = NODES[:4]


def assert_right_where_good(found, exact, floor_ohm=FLOOR_OHM):
    assert (np.isfinite(found.read) == np.isfinite(exact))[found.good].all()
    number = found.good & np.isfinite(exact)
    assert found.read[number] == pytest.approx(exact[number], rel=FIGURES, abs=floor_ohm)


def arrangement(circuit, test):
    """Return the network, the probes and the unit of a test."""
    procedure = RULEBOOK.procedures[test]
    network = network_of(circuit, procedure.leakage.ohm_m if procedure.leakage else None)
    spots = spots_of(procedure, circuit)
    return network, [probe_for(procedure, circuit, TERMINATORS, s) for s in spots], procedure


def built(circuit, ohms):
    """Return every way of every fault of the catalogue, with its ohms."""
    return [
        way.edit(r_ohm)
        for guess in catalogue(circuit, MODES)
        for way in guess.ways
        for r_ohm in (ohms if guess.ohms else (0.0,))
    ]


@pytest.mark.parametrize("test", TESTS)
@pytest.mark.parametrize("drawn", CIRCUITS)
def test_every_fault_of_the_catalogue(drawn, test):
    network, several, procedure = arrangement(CIRCUITS[drawn], test)
    made = [{}, *(make(network) for make in built(CIRCUITS[drawn], OHMS))]
    floor_ohm = FLOOR_OHM * procedure.unit_size
    found = screened(network, several, made, floor_ohm)
    assert_right_where_good(found, resistances(network, several, made), floor_ohm)
    if not procedure.leakage:
        assert found.good.all()


@pytest.mark.parametrize("test", TESTS)
@pytest.mark.parametrize("drawn", CIRCUITS)
def test_pairs_of_faults(drawn, test):
    circuit = CIRCUITS[drawn]
    network, several, procedure = arrangement(circuit, test)
    makes = built(circuit, (1.3,))
    made = [make(network) for make in makes]

    def composed(i, j):
        return {**made[i], **makes[j](edited(network, made[i]))}

    numbers = np.random.default_rng(5).integers(0, len(made), (250, 2))
    floor_ohm = FLOOR_OHM * procedure.unit_size
    screen = PairScreen(network, several, made, composed, floor_ohm)
    found = screen.read(numbers)
    exact = resistances(network, several, [composed(i, j) for i, j in numbers.tolist()])
    assert_right_where_good(found, exact, floor_ohm)
    assert screen.touching.diagonal().sum() == sum(bool(edit) for edit in made)
    if not procedure.leakage:
        assert found.good.all()
    alone = resistances(network, several, [{}, *made])
    sound, one, other = alone[0], alone[1:][numbers[:, 0]], alone[1:][numbers[:, 1]]
    acting = screen.touching | screen.interacting(np.arange(len(made)))
    apart = ~acting[numbers[:, 0], numbers[:, 1]][:, None] & np.isfinite(sound)
    added = one + other - np.where(np.isfinite(sound), sound, 0.0)
    within = procedure.unit_size * 1e-6
    np.testing.assert_allclose(exact[apart], added[apart], rtol=1e-9, atol=within)


@given(st.data())
def test_any_circuit_and_fault_against_fractions(data):
    circuit = data.draw(circuits(max_points=4) | rings(max_points=4))
    test = data.draw(
        st.sampled_from([t for t in TESTS if spots_of(RULEBOOK.procedures[t], circuit)])
    )
    network, several, procedure = arrangement(circuit, test)
    several = data.draw(st.lists(st.sampled_from(several), min_size=1, max_size=3))
    fault = data.draw(faults(circuit))
    ways = hypothesis(RULEBOOK.modes[fault.mode], circuit, fault).ways
    made = [way.edit(fault.r_ohm or 0.0)(network) for way in ways]
    floor_ohm = FLOOR_OHM * procedure.unit_size
    found = screened(network, several, made, floor_ohm)
    exact = [[float(exact_ohm(edited(network, e), p)) for p in several] for e in made]
    assert_right_where_good(found, np.array(exact), floor_ohm)


@given(
    networks(MILD_OHMS | st.sampled_from((0.0, math.inf)), min_size=2),
    st.lists(probes(MILD_OHMS), min_size=1, max_size=3),
    st.lists(edits(MILD_OHMS | st.sampled_from((0.0, math.inf))), min_size=1, max_size=4),
)
def test_networks_of_no_particular_shape(network, several, made):
    """Parts that float, switches, loops of bolted joints, nodes that only an edit has."""
    found = screened(network, several, made)
    assert_right_where_good(found, resistances(network, several, made))


@given(networks(min_size=4), st.lists(probes(), min_size=1, max_size=3), st.lists(edits()))
def test_milliohms_beside_teraohms_are_right_or_not_called_good(network, several, made):
    found = screened(network, several, made)
    assert_right_where_good(found, resistances(network, several, made))


@given(
    networks(MILD_OHMS | st.sampled_from((0.0, math.inf)), min_size=2),
    st.lists(probes(MILD_OHMS), min_size=1, max_size=2),
    st.lists(edits(MILD_OHMS | st.sampled_from((0.0, math.inf))), min_size=2, max_size=4),
)
def test_pairs_in_networks_of_no_particular_shape(network, several, made):
    def composed(i, j):
        return {**made[i], **made[j]}

    numbers = np.array([(i, j) for i in range(len(made)) for j in range(len(made))])
    found = PairScreen(network, several, made, composed).read(numbers)
    exact = resistances(network, several, [composed(i, j) for i, j in numbers.tolist()])
    assert_right_where_good(found, exact)


def test_an_edit_that_cuts_the_only_path_reads_open():
    network = {("1",): Branch(A, B, 0.1), ("2",): Branch(B, C, 0.0)}
    cut, cut_bolted, moved = {("1",): None}, {("2",): None}, {("2",): Branch(A, C, 2.0)}
    found = screened(network, [Probe((A,), (C,)), Probe((A,), (B,))], [{}, cut, cut_bolted, moved])
    expected = [[0.1, 0.1], [math.inf] * 2, [math.inf, 0.1], [2.0, 0.1]]
    assert found.read == pytest.approx(np.array(expected))
    assert found.good.all()


def test_a_cut_that_another_path_goes_round_is_no_open():
    network = {("1",): Branch(A, B, 0.5), ("2",): Branch(A, B, 1.5), ("3",): Branch(B, C, 0.0)}
    made = [{("1",): None}, {("1",): None, ("2",): None}]
    found = screened(network, [Probe((A,), (C,))], made)
    assert found.read[:, 0].tolist() == [pytest.approx(1.5), math.inf]


def test_a_short_beside_gigohms_is_not_called_good():
    """Ten figures of the difference are lost, and none is left to tell a milliohm by."""
    network = {("1",): Branch(A, B, 1e10), ("2",): Branch(B, C, 1e10)}
    found = screened(network, [Probe((A,), (C,))], [{}, {("short",): Branch(A, C, 1e-3)}])
    assert found.good.tolist() == [[True], [False]]
    assert found.read[0, 0] == pytest.approx(2e10)


@slow(20)
@given(st.data())
def test_a_glimpse_of_a_bench_is_its_reading_to_six_figures(data):
    circuit = data.draw(circuits(max_points=4) | rings(max_points=4))
    test = data.draw(
        st.sampled_from([t for t in TESTS if spots_of(RULEBOOK.procedures[t], circuit)])
    )
    spots = spots_of(RULEBOOK.procedures[test], circuit)
    bench = Bench(circuit, RULEBOOK.procedures, TERMINATORS, spots)
    makes = built(circuit, (data.draw(MILD_OHMS),))[:40]
    quick, exact = bench.glimpse(makes), bench.read(makes)
    assert (np.isfinite(quick) == np.isfinite(exact)).all()
    number = np.isfinite(exact)
    assert quick[number] == pytest.approx(exact[number], rel=FIGURES, abs=FLOOR_OHM)


def test_a_desk_reads_later_edits_with_nodes_of_their_own():
    """A joint by way of a node that nothing had when the desk was first used."""
    network = {("a",): Branch(A, B, 4.0), ("b",): Branch(B, C, 2.0)}
    probes = [Probe((A,), (C,))]
    way_round = {("up",): Branch(A, D, 1.0), ("down",): Branch(D, C, 2.0)}
    desk = Desk(network, probes)
    first = nudged(desk, [lambda _: {}], [])
    second = nudged(desk, [lambda _: way_round, lambda _: {}], [])
    assert first.read == pytest.approx(np.array([[6.0]]))
    assert second.read == pytest.approx(np.array([[2.0], [6.0]]))  # 3 beside 6 ohm


def test_an_edit_of_teraohms_in_a_network_of_milliohms_is_not_called_good():
    network = {("a",): Branch(A, B, 0.01)}
    found = screened(network, [Probe((A,), (C,))], [{("b",): Branch(A, C, 1e11)}])
    assert not found.good[0, 0] or found.read[0, 0] == pytest.approx(1e11)


def test_nil_between_many_leads_is_nil_to_what_is_promised():
    """Of what the lead's joins see of one another next to nothing is left: 821 ohm beside 0.02."""
    network = {("far",): Branch(A, B, 821.0), ("near",): Branch(A, C, 0.019)}
    found = screened(network, [Probe((A,), (B, C, A))], [{}])
    assert found.good[0, 0]
    assert found.read[0, 0] == pytest.approx(0.0, abs=FLOOR_OHM)


def test_few_ohms_beside_teraohms_are_not_taken_for_nil_and_called_good():
    network = {("near",): Branch(A, B, 0.1), ("far",): Branch(A, C, 1e12)}
    found = screened(network, [Probe((A,), (B, A))], [{}])
    assert not found.good[0, 0] or found.read[0, 0] == pytest.approx(0.0, abs=FLOOR_OHM)


def test_what_only_teraohms_go_round_is_not_taken_for_cut_and_called_good():
    network = {
        ("bolted",): Branch(A, B, 0.0),
        ("round",): Branch(A, B, 1e12),
        ("other",): Branch(A, C, 0.01),
    }
    found = screened(network, [Probe((A,), (B,))], [{("bolted",): None}])
    assert not found.good[0, 0] or found.read[0, 0] == pytest.approx(1e12)


def test_what_an_edit_makes_teraohms_is_not_taken_for_cut_and_called_good():
    found = screened(
        {("a",): Branch(A, B, 0.01)}, [Probe((A,), (B,))], [{("a",): Branch(A, B, 1e12)}]
    )
    assert not found.good[0, 0] or found.read[0, 0] == pytest.approx(1e12)


def test_megohms_round_a_cut_are_not_taken_for_open_and_called_good():
    network = {
        ("bolted",): Branch(D, B, 0.0),
        ("also",): Branch(D, B, 0.0),
        ("stub",): Branch(C, NODES[4], 0.0013),
        ("near",): Branch(A, C, 0.002),
        ("far",): Branch(NODES[4], A, 6.9e6),
    }
    edit = {
        ("bolted",): None,
        ("also",): None,
        ("near",): None,
        ("first",): Branch(A, B, 5072.0),
        ("second",): Branch(A, B, 0.33),
        ("third",): Branch(C, D, 136.0),
    }
    probe = Probe((NODES[4],), (A,))
    exact = float(exact_ohm(edited(network, edit), probe))
    found = screened(network, [probe], [edit])
    assert not found.good[0, 0] or found.read[0, 0] == pytest.approx(exact)
