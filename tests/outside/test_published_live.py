"""Published live readings and worked examples, from the network alone: branches, sources, probes.

Values and tolerances are in `check_values.yaml`, each with its source. Phantom voltages there are
observations of somebody's wiring, of unknown length; here the length is varied.
"""

from math import inf, pi

import pytest
from published import near, published

from faultfinder.network.branch import Branch, Node, Probe, edited
from faultfinder.network.solve import impedances, resistance, voltages

A, N, E = (Node("supply", conductor) for conductor in "ANE")
OUT_A, OUT_N, OUT_E = (Node("outlet", conductor) for conductor in "ANE")


def voltage(network, first, second, potentials, meter_ohm=inf):
    """Return the size of the voltage a meter of so many ohms reads between two nodes. [V]"""
    meter = Branch(first, second, meter_ohm)
    return abs(voltages(network, [Probe((first,), (second,), (meter,))], potentials)[0, 0])


# -- phantom voltage -----------------------------------------------------------------------------

METER_OHM = published("dmm-zin")["value"] * 1e6
LOW_METER_OHM = published("loz-zin")["value"] * 1e3
CORES_F_M = published("cap-nm14-2-si")["value"] * 1e-12
MAINS = {A: 230 + 0j, N: 0j}


def cable(length_m):
    """Return a run of 2.5 mm² (7.41 ohm/km, IEC 60228) with its cores' capacitance, at 50 Hz.

    The supply's neutral is earthed.
    """
    network = {("link",): Branch(N, E, 0.0)}
    for start, end in ((A, OUT_A), (N, OUT_N), (E, OUT_E)):
        network["core", start.conductor] = Branch(start, end, 7.41e-3 * length_m)
    x_ohm = -1 / (2 * pi * 50 * CORES_F_M * length_m)
    for a, b in ((OUT_A, OUT_N), (OUT_A, OUT_E), (OUT_N, OUT_E)):
        network["cores", a.conductor, b.conductor] = Branch(a, b, 0.0, x_ohm=x_ohm)
    return network


NEUTRAL_OPEN = {("core", "N"): None}
LENGTHS_M = [10, 20, 50]


@pytest.mark.parametrize("length_m", LENGTHS_M)
def test_open_neutral_without_a_load(length_m):
    """The neutral hangs half way between line and earth by equal capacitances."""
    network = edited(cable(length_m), NEUTRAL_OPEN)
    phantom_v = voltage(network, OUT_N, OUT_E, MAINS, METER_OHM)
    assert phantom_v == near(published("phantom-open-n"))
    assert phantom_v == near(published("phantom-neca"))
    assert voltage(network, OUT_A, OUT_E, MAINS, METER_OHM) == pytest.approx(230, abs=0.01)


@pytest.mark.parametrize("length_m", LENGTHS_M)
def test_open_neutral_on_a_low_impedance_meter(length_m):
    """Near zero: under 1 V, for the source gives no figure."""
    network = edited(cable(length_m), NEUTRAL_OPEN)
    assert voltage(network, OUT_N, OUT_E, MAINS, LOW_METER_OHM) < 1


@pytest.mark.parametrize("load_ohm", [26.45, 529, 5290])  # 2000, 100 and 10 W at 230 V
def test_open_neutral_with_a_load_on(load_ohm):
    network = edited(cable(20), NEUTRAL_OPEN | {("load",): Branch(OUT_A, OUT_N, load_ohm)})
    assert voltage(network, OUT_N, OUT_E, MAINS, METER_OHM) == near(published("openn-with-load"))


def test_sound_neutral():
    assert voltage(cable(20), OUT_N, OUT_E, MAINS, METER_OHM) < 0.01


# -- shared neutral, 120/240 V -------------------------------------------------------------------


def test_open_shared_neutral():
    """Two loads on the two halves of a supply: in series on 240 V once their neutral is open."""
    line_1, line_2 = Node("supply", "L1"), Node("supply", "L2")
    small, large = published("ex-34-openn-r100"), published("ex-35-openn-r200")
    small_ohm, large_ohm = (row["u_v"] ** 2 / row["p_w"] for row in (small, large))
    assert (small_ohm, large_ohm) == (near(small), near(large))
    sound = {
        ("small",): Branch(line_1, OUT_N, small_ohm),
        ("large",): Branch(OUT_N, line_2, large_ohm),
        ("neutral",): Branch(OUT_N, N, 0.0),
    }
    halves = {line_1: 120 + 0j, line_2: -120 + 0j, N: 0j}
    several = [Probe((line_1,), (OUT_N,)), Probe((OUT_N,), (line_2,))]
    whole, broken = voltages(sound, several, halves, [{}, {("neutral",): None}]).real
    assert list(whole) == pytest.approx([120, 120])
    assert broken[0] == near(published("ex-36-openn-v1"))
    assert broken[1] == near(published("ex-37-openn-v2"))


# -- three voltages at an outlet -----------------------------------------------------------------


def test_line_to_earth_is_line_to_neutral_and_neutral_to_earth():
    """10 A through equal conductors that drop 1.5 V each, from 121.5 V; the earth carries none."""
    row = published("ex-38-hng")
    r_ohm = row["neutral_earth_v"] / 10
    network = {
        ("line",): Branch(A, OUT_A, r_ohm),
        ("neutral",): Branch(N, OUT_N, r_ohm),
        ("earth",): Branch(N, OUT_E, r_ohm),
        ("load",): Branch(OUT_A, OUT_N, row["line_neutral_v"] / 10),
    }
    supply = {A: 121.5 + 0j, N: 0j}
    line_neutral_v = voltage(network, OUT_A, OUT_N, supply)
    neutral_earth_v = voltage(network, OUT_N, OUT_E, supply)
    assert line_neutral_v == pytest.approx(row["line_neutral_v"])
    assert neutral_earth_v == pytest.approx(row["neutral_earth_v"])
    assert voltage(network, OUT_A, OUT_E, supply) == near(row)
    assert line_neutral_v + neutral_earth_v == near(row)


# -- loop impedance ------------------------------------------------------------------------------


def test_loop_impedance_by_vector_sum_along_a_line():
    """R and X are of the whole loop to A, B and C: half in the line, half in its return."""
    rows = [published(id_) for id_ in ("ex-41-zsA", "ex-42-zsB", "ex-43-zsC")]
    # An ideal source is a joint between its terminals.
    network = {("source",): Branch(A, E, 0.0)}
    line, back, r_ohm, x_ohm = A, E, 0.0, 0.0
    for row in rows:
        ends = Node(row["id"], "A"), Node(row["id"], "E")
        more = (row["r_ohm"] - r_ohm) / 2, (row["x_ohm"] - x_ohm) / 2
        for start, end in zip((line, back), ends, strict=True):
            network["run", *end] = Branch(start, end, more[0], x_ohm=more[1])
        (line, back), r_ohm, x_ohm = ends, row["r_ohm"], row["x_ohm"]
    several = [Probe((Node(row["id"], "A"),), (Node(row["id"], "E"),)) for row in rows]
    for row, z_ohm in zip(rows, impedances(network, several)[0], strict=True):
        assert abs(z_ohm) == near(row)


def loop_ohm(ze_ohm, circuit):
    """Return Zs at an outlet: the supply's loop, its source a joint, and the circuit's own."""
    network = {("source",): Branch(Node("source", "A"), E, 0.0)}
    network["ze",] = Branch(Node("source", "A"), A, ze_ohm)
    return abs(impedances(network | circuit, [Probe((OUT_A,), (OUT_E,))])[0, 0])


def test_loop_of_a_54_m_ring():
    """2.5/1.5 mm², 7.41 and 12.1 mohm/m, read at its middle."""
    row = published("ex-04-ring54-zs")
    assert row["mohm_per_m"] == pytest.approx(7.41 + 12.1)
    half_m = row["length_m"] / 2
    ring = {}
    for leg in ("one way", "the other way"):
        ring[leg, "line"] = Branch(A, OUT_A, 7.41e-3 * half_m)
        ring[leg, "earth"] = Branch(E, OUT_E, 12.1e-3 * half_m)
    joined = edited(ring, {("joined",): Branch(A, E, 0.0)})
    r1_r2_ohm = resistance(joined, Probe((OUT_A,), (OUT_E,)))
    assert r1_r2_ohm == near(published("ex-03-ring54-r"))
    assert loop_ohm(row["ze_ohm"], ring) == near(row)
    assert loop_ohm(row["ze_ohm"], ring) == pytest.approx(row["ze_ohm"] + r1_r2_ohm)


@pytest.mark.parametrize("id_", ["ex-14-4-1p5-zs", "ex-19-4-2p5-zs"])
def test_loop_of_a_radial(id_):
    """Zs = Ze + R1 + R2; the second with 1.2 times R1 + R2 for the warm conductors."""
    row = published(id_)
    r1_r2_ohm = row["r1r2_ohm"] * row.get("multiplier", 1.0)
    line, earth = Branch(A, OUT_A, 0.4 * r1_r2_ohm), Branch(E, OUT_E, 0.6 * r1_r2_ohm)
    assert loop_ohm(row["ze_ohm"], {("line",): line, ("earth",): earth}) == near(row)


# -- faults --------------------------------------------------------------------------------------


def test_prospective_fault_current():
    """The current of a bolted fault, from what it drops over the supply's part of the loop."""
    row = published("ex-22-fault-current")
    shares = {("ze",): (A, Node("board", "A"), 0.6), ("line",): (Node("board", "A"), OUT_A, 0.2)}
    network = {
        name: Branch(start, end, row["zs_ohm"] * share)
        for name, (start, end, share) in shares.items()
    }
    network["earth",] = Branch(E, OUT_E, row["zs_ohm"] * 0.2)
    network["fault",] = Branch(OUT_A, OUT_E, 0.0)
    over_ze_v = voltage(network, A, Node("board", "A"), {A: row["u0_v"] + 0j, E: 0j})
    assert over_ze_v / network["ze",].r_ohm == near(row)


@pytest.mark.parametrize("r_ohm", [0.05, 0.5, 5.0])
def test_touch_voltage_of_equal_conductors(r_ohm):
    """Half of U0 stands between the earth of the faulty outlet and the earth at the supply."""
    row = published("touch-tn-half")
    network = {
        ("line",): Branch(A, OUT_A, r_ohm),
        ("fault",): Branch(OUT_A, OUT_E, 0.0),
        ("earth",): Branch(OUT_E, E, r_ohm / row["r1_over_r2"]),
    }
    assert voltage(network, OUT_E, E, {A: row["u0_v"] + 0j, E: 0j}) == near(row)


# -- voltage drop --------------------------------------------------------------------------------


@pytest.mark.parametrize(("id_", "ways"), [("ex-23-ring-vd-straight", 1), ("ex-24-ring-vd", 2)])
def test_voltage_drop_of_a_run_and_of_a_ring(id_, ways):
    """mV/A/m are of line and neutral together. A ring's load is at its middle: two ways, half each.

    The drop of some load, by its current, times the current given.
    """
    row = published(id_)
    r_ohm = row["mv_per_am"] / 2e3 * row["length_m"] / ways
    network = {("load",): Branch(OUT_A, OUT_N, 10.0)}
    for way in range(ways):
        network["line", str(way)] = Branch(A, OUT_A, r_ohm)
        network["neutral", str(way)] = Branch(N, OUT_N, r_ohm)
    load_v = voltage(network, OUT_A, OUT_N, {A: 230 + 0j, N: 0j})
    drop_ohm = (230 - load_v) / (load_v / 10.0)
    assert drop_ohm * row["current_a"] == near(row)
