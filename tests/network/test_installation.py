"""A live network from an installation: what is joined to what, by hand; and against other solvers.

Voltages and currents of random installations with random faults, to 1e-9 of nodal equations solved
with 60 digits or more, and to 1e-3 of ngspice.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from installation_strategies import live_installations, on_board
from live_strategies import capacitive_ohm
from modelled import LINE, RING

from faultfinder.network.branch import Branch, Probe, edited
from faultfinder.network.currents import currents
from faultfinder.network.installation import (
    CableConstants,
    circuits_bar,
    feeder_device,
    live_network,
    load_branch,
    plug_gate,
    pole,
    residual_device,
)
from faultfinder.network.solve import impedances, voltages
from faultfinder.network.supply import STAR, source
from faultfinder.network.wiring import bar, run_branch, terminal
from faultfinder.wiring.circuit import Cable, Device, Load
from faultfinder.wiring.installation import (
    Board,
    EarthPath,
    Feeder,
    Impedance,
    Installation,
    Supply,
)
from network.exact import determined
from network.nodal import exact_voltage
from network.spice import NGSPICE, Deck
from network.test_currents import assert_exact_currents

PLAIN = CableConstants(0.0, 0.0)
TNCS = Supply("TN-C-S", 230.0, ("A",), 50.0, Impedance(0.15, 0.04), Impedance(0.2, 0.03))
TNS = replace(TNCS, system="TN-S", earth=Impedance(0.65, 0.0))
TT = replace(TNCS, system="TT", earth=Impedance(5.0), electrode_ohm=95.0)
KETTLE = Load("K1.S3", ("A", "N"), 26.45, 0.0, "kettle")
K1 = on_board(LINE, "K1", "DB")
K2 = on_board(LINE, "K2", "DB")


def installed(supply, *circuits, link=None, boards=(), paths=()):
    """Return an installation with a main board DB, linked in TN-C-S."""
    main = Board("DB", supply.system == "TN-C-S" if link is None else link)
    return Installation("by hand", supply, (main, *boards), circuits, paths)


def reading(live, circuit, place, pair="A-N", meter_ohm=math.inf, edit=None, operated=()):
    """Return the complex voltage between two conductors at a place."""
    ends = [terminal(circuit, place, c) for c in pair.split("-")]
    fitted = (Branch(*ends, meter_ohm),)
    probe = Probe((ends[0],), (ends[1],), fitted, frozenset(operated))
    return voltages(live.network, [probe], live.potentials, [edit or {}])[0, 0]


def loop(live, circuit, place, pair="A-E"):
    ends = [(terminal(circuit, place, c),) for c in pair.split("-")]
    return impedances(live.network, [Probe(*ends, live.joined())])[0, 0]


def conductor_ohm(circuit, place, conductor):
    return sum(circuit.conductor_ohm(run, conductor) for run in circuit.path(place))


# -- supplies ------------------------------------------------------------------------------------


def test_single_phase_without_a_load():
    live = live_network(installed(TNCS, K1), PLAIN)
    expected = {"A-N": 230, "A-E": 230, "N-E": 0}
    assert {pair: reading(live, K1, "K1.S3", pair) for pair in expected} == pytest.approx(
        expected, rel=1e-12, abs=1e-9
    )


def test_split_phase_is_half_a_turn_apart():
    supply = replace(TNCS, voltage_v=120.0, actives=("L1", "L2"))
    first, second = replace(K1, phase="L1"), replace(K2, phase="L2")
    live = live_network(installed(supply, first, second), PLAIN)
    assert live.potentials == {source("L1"): 120, source("L2"): -120, STAR: 0}
    across = Probe((terminal(first, "K1.S1", "A"),), (terminal(second, "K2.S1", "A"),))
    assert voltages(live.network, [across], live.potentials)[0, 0] == pytest.approx(240)


def test_three_phases_are_a_third_of_a_turn_apart():
    supply = replace(TNCS, actives=("L1", "L2", "L3"))
    phases = [replace(on_board(LINE, name, "DB"), phase=name) for name in supply.actives]
    live = live_network(installed(supply, *phases), PLAIN)
    ends = [terminal(circuit, circuit.points[0].name, "A") for circuit in phases]
    probes = [Probe((ends[i],), (ends[i - 1],)) for i in range(3)]
    between = voltages(live.network, probes, live.potentials)[0]
    assert abs(between) == pytest.approx([230 * math.sqrt(3)] * 3, rel=1e-12)
    assert abs(sum(live.potentials.values())) < 1e-12
    second = live.potentials[source("L2")] / live.potentials[source("L1")]
    assert math.degrees(np.angle(second)) == pytest.approx(-120)


def test_a_supply_of_four_actives():
    supply = replace(TNCS, actives=("L1", "L2", "L3", "L4"))
    with pytest.raises(ValueError, match="a supply of 4 actives"):
        live_network(installed(supply), PLAIN)


def test_an_active_that_the_board_has_not():
    supply = replace(TNCS, actives=("L1", "L2"))
    with pytest.raises(ValueError, match="K1 takes A of DB, which has L1, L2, N"):
        live_network(installed(supply, K1), PLAIN)


# -- earthing ------------------------------------------------------------------------------------


@pytest.mark.parametrize("supply", [TNCS, TNS])
def test_loop_is_the_supply_s_and_the_circuit_s(supply):
    """Zs = Ze + R1 + R2."""
    live = live_network(installed(supply, K1), PLAIN)
    r1, r2 = (conductor_ohm(K1, "K1.S3", c) for c in "AE")
    assert loop(live, K1, "K1.S3") == pytest.approx(supply.loop_ohm + r1 + r2, rel=1e-12)


@pytest.mark.parametrize("supply", [TNCS, TNS, TT])
def test_loop_by_the_neutral_is_the_same_in_all_systems(supply):
    live = live_network(installed(supply, K1), PLAIN)
    expected = 0.35 + 0.07j + sum(conductor_ohm(K1, "K1.S3", c) for c in "AN")
    assert loop(live, K1, "K1.S3", "A-N") == pytest.approx(expected, rel=1e-12)


def test_loop_through_two_electrodes():
    live = live_network(installed(TT, K1), PLAIN)
    r1, r2 = (conductor_ohm(K1, "K1.S3", c) for c in "AE")
    assert loop(live, K1, "K1.S3") == pytest.approx(0.15 + 0.04j + 100 + r1 + r2, rel=1e-12)


def test_an_electrode_beside_the_earth_of_tn():
    live = live_network(installed(replace(TNS, electrode_ohm=6.5), K1), PLAIN)
    r1, r2 = (conductor_ohm(K1, "K1.S3", c) for c in "AE")
    beside = 0.65 * 6.5 / 7.15
    assert loop(live, K1, "K1.S3") == pytest.approx(0.15 + 0.04j + beside + r1 + r2, rel=1e-12)


def test_a_missing_link_in_tn_c_s_leaves_no_loop():
    """With a link of the neutral there is one again, at the outlet too."""
    missing = live_network(installed(TNCS, K1, link=False), PLAIN)
    assert loop(missing, K1, "K1.S3") == math.inf
    joint = Branch(terminal(K1, "K1.S3", "N"), terminal(K1, "K1.S3", "E"), 0.0)
    wrong = replace(missing, network={**missing.network, ("joint",): joint})
    assert loop(wrong, K1, "K1.S3") == pytest.approx(loop(wrong, K1, "K1.S3", "A-N"))


# -- circuits, boards, loads, metal --------------------------------------------------------------


def test_a_load_drops_voltage_and_can_be_unplugged():
    live = live_network(installed(TNCS, replace(K1, loads=(KETTLE,))), PLAIN)
    way_ohm = 0.35 + 0.07j + sum(conductor_ohm(K1, "K1.S3", c) for c in "AN")
    expected = 230 * 26.45 / (26.45 + way_ohm)
    assert reading(live, K1, "K1.S3") == pytest.approx(expected, rel=1e-12)
    unplugged = {plug_gate("K1.S3")}
    assert reading(live, K1, "K1.S3", operated=unplugged) == pytest.approx(230, rel=1e-12)
    (through,) = currents(live.network, [load_branch(KETTLE)], live.potentials)[0]
    assert through == pytest.approx(expected / 26.45, rel=1e-12)


def test_what_is_wired_in_stays():
    fixed = replace(KETTLE, is_fixed=True)
    live = live_network(installed(TNCS, replace(K1, loads=(fixed,))), PLAIN)
    assert reading(live, K1, "K1.S3", operated={plug_gate("K1.S3")}) == reading(live, K1, "K1.S3")


def test_a_load_is_behind_the_switch_of_its_point():
    load = Load("K1.S1", ("A", "N"), 26.45)
    live = live_network(installed(TNCS, replace(K1, loads=(load,))), PLAIN)
    on, off = (
        currents(live.network, [load_branch(load)], live.potentials, operated=frozenset(gates))
        for gates in ((), ("switch of K1.S1",))
    )
    assert abs(on[0, 0]) > 8
    assert off[0, 0] == 0


def test_a_ring_is_closed_in_service():
    """Read at the end of its last run, half of the way round is beside the other."""
    ring = on_board(RING, "K1", "DB")
    live = live_network(installed(TNCS, ring), PLAIN)
    total = sum(ring.conductor_ohm(run, c) for run in ring.ring for c in "AE")
    first = sum(conductor_ohm(ring, "K1.S2", c) for c in "AE")
    # Active and earth keep their ratio along this ring, so that the pair divides as one.
    expected = TNCS.loop_ohm + first * (total - first) / total
    assert loop(live, ring, "K1.S2") == pytest.approx(expected, rel=1e-12)


def sub_board(**changes):
    cable = Cable(10.0, 10.0, 6.0, K1.runs[0].cable.table)
    feeder = Feeder("DB", 25.0, cable, ("A",), Device("C", 40.0))
    return replace(Board("SDB", link=False, feeder=feeder), **changes)


def test_a_feeder_adds_its_cable():
    circuit = replace(on_board(LINE, "K1", "SDB"), loads=())
    board = sub_board()
    live = live_network(installed(TNCS, circuit, boards=(board,)), CableConstants(0.08e-3, 0.0))
    table = circuit.runs[0].cable.table
    feeder_ohm = 25.0 * (table.ohm_per_m(10.0, 20) + table.ohm_per_m(6.0, 20) + 2 * 0.08e-3j)
    own_ohm = sum(conductor_ohm(circuit, "K1.S3", c) for c in "AE") + 2 * 0.08e-3j * 29.0
    expected = TNCS.loop_ohm + feeder_ohm + own_ohm
    assert loop(live, circuit, "K1.S3") == pytest.approx(expected, rel=1e-12)
    assert {pole(feeder_device("SDB"), c) for c in "AN"} <= set(live.network)


def test_a_board_s_device_stands_between_bars_and_circuits():
    main = replace(installed(TNCS, K1).boards[0], residual_ma=30.0)
    live = live_network(replace(installed(TNCS, K1), boards=(main,)), PLAIN)
    name = pole(residual_device("DB"), "N")
    assert live.network[name] == Branch(bar("DB", "N"), circuits_bar(main, "N"), 0.0)
    assert live.network["link", "DB"].start == bar("DB", "N")
    opened = {name: None, pole(residual_device("DB"), "A"): None}
    assert np.isnan(reading(live, K1, "K1.S3", edit=opened))


def test_metal_beside_the_protective_conductor():
    """A conduit of as many ohms as the earth halves it; another circuit's earth may do the same."""
    r2 = conductor_ohm(K1, "K1.S3", "E")
    path = EarthPath("conduit", "DB", "K1.S3", r2)
    live = live_network(installed(TNCS, K1, paths=(path,)), PLAIN)
    r1 = conductor_ohm(K1, "K1.S3", "A")
    assert loop(live, K1, "K1.S3") == pytest.approx(TNCS.loop_ohm + r1 + r2 / 2, rel=1e-12)
    opened = {run_branch("K1.S2..K1.S3", "E"): None}
    assert abs(reading(live, K1, "K1.S3", "A-E", 3e3, opened)) > 229


def test_cable_constants():
    constants = CableConstants(1e-4, 50e-12, 1e9)
    network = live_network(installed(TNCS, K1), constants).network
    run = K1.runs[0]
    assert network[run_branch(run.name, "A")].x_ohm == pytest.approx(1e-4 * run.length_m)
    cores = network["cores", run.name, "A", "E"]
    assert cores.x_ohm == pytest.approx(capacitive_ohm(50e-12 * run.length_m, 50))
    assert {cores.start.place, cores.end.place} == {"K1.S1"}
    assert network["leak", run.name, "A", "E"].r_ohm == pytest.approx(1e9 / run.length_m)


def test_a_floating_neutral_shows_its_phantom_until_a_meter_kills_it():
    """Half the supply, through the two capacitances of 9 m side by side."""
    live = live_network(installed(TNCS, K1), CableConstants())
    opened = {run_branch("K1.S2..K1.S3", "N"): None}
    behind_ohm = 1j * capacitive_ohm(2 * 69e-12 * 9.0, 50)
    phantom_v = 115 * abs(10e6 / (10e6 + behind_ohm))
    found_v = abs(reading(live, K1, "K1.S3", "N-E", 10e6, opened))
    assert found_v == pytest.approx(phantom_v, rel=1e-4)
    assert abs(reading(live, K1, "K1.S3", "N-E", 3e3, opened)) < 0.2


# -- against other solvers -----------------------------------------------------------------------


def worth_reading(network, names):
    """Return the branches of a network that stand for all kinds: poles, loads, metal, cable."""
    kinds = {"pole", "load", "link", "earth path", "joined", "bridge", "electrode", "supply"}
    chosen = [name for name in names if name[0] in kinds]
    return [*chosen, *(name for name in names if name[0] == "run")][:20]


@given(live_installations())
def test_voltages_and_currents_with_60_digits(drawn):
    live = drawn.live
    read_v = voltages(live.network, drawn.probes, live.potentials, drawn.edits)
    for edit, row in zip(drawn.edits, read_v, strict=True):
        faulty = edited(live.network, edit)
        for probe, found in zip(drawn.probes, row, strict=True):
            expected, size = exact_voltage(faulty, probe, live.potentials)
            assert np.isnan([found, expected]).all() or abs(found - expected) <= 1e-9 * size
        names = worth_reading(faulty, faulty)
        (read_a,) = currents(live.network, names, live.potentials, [edit])
        assert_exact_currents(read_a, faulty, names, live.potentials)


@given(live_installations())
def test_currents_into_a_node_sum_to_nothing(drawn):
    """Kirchhoff's current law at every node but the held ones."""
    live = drawn.live
    for edit in drawn.edits:
        faulty = edited(live.network, edit)
        names = list(faulty)
        (read_a,) = currents(faulty, names, live.potentials)
        sums, largest = {}, {}
        for name, current_a in zip(names, read_a.tolist(), strict=True):
            branch = faulty[name]
            for node, sign in ((branch.start, -1), (branch.end, 1)):
                sums[node] = sums.get(node, 0) + sign * current_a
                largest[node] = max(largest.get(node, 0), abs(current_a))
        for node, total_a in sums.items():
            if node not in live.potentials:
                assert abs(total_a) <= 1e-9 * largest[node] + 1e-12, node


@pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (apt-get install ngspice)")
@given(live_installations(leakage_ohm_m=(None, 1e9)))
def test_voltages_and_currents_with_ngspice(drawn):
    """Currents to 1e-3, or a nanoampere: what ngspice's subtractions leave beside amperes.

    Voltages to 1e-3 of the lead's, or a picovolt: what rounding leaves of nil beside the supply's.
    """
    live, deck, ours = drawn.live, Deck(), []
    for edit in drawn.edits:
        faulty = edited(live.network, edit)
        for probe, read_v in zip(
            drawn.probes, voltages(faulty, drawn.probes, live.potentials)[0], strict=True
        ):
            deck.add_voltage(faulty, probe, live.potentials)
            ours.append(("V", read_v))
        names = determined(faulty, worth_reading(faulty, faulty))
        for name, read_a in zip(names, currents(faulty, names, live.potentials)[0], strict=True):
            if faulty[name].r_ohm < math.inf:
                deck.add_current(faulty, name, live.potentials)
                ours.append((name, read_a))
    for (what, read), leads in zip(ours, deck.solved(), strict=True):
        if what == "V":
            if leads is None:
                assert np.isnan(read)
            else:
                size = max(map(abs, leads))
                assert abs(read - (leads[0] - leads[1])) <= 1e-3 * size + 1e-12
        else:
            expected = leads[0] if leads else 0
            assert abs(read - expected) <= 1e-3 * abs(expected) + 1e-9, what
