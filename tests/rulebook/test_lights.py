"""What a light reads in each position of its switches, sound and with faults.

That a pair of two-way switches lights in two of four positions, and in which, is common practice,
no source; ohms are sums over 13.6 ohm/km (1.5 mm², AS/NZS 1125, from memory).
"""

import math

import pytest
from modelled import RULEBOOK
from wiring.test_lights import LIGHTS, THREE_PHASE, read

from faultfinder.diagnosis.catalogue import hypothesis, no_edit
from faultfinder.evidence.bench import Bench
from faultfinder.readings.reading import Terminators
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.wiring.fault import Fault

OPEN = math.inf
CIRCUIT = read(LIGHTS)
THREE = read(THREE_PHASE)
WAYS = ("1-1", "1-2", "2-1", "2-2")


def reads(circuit, fault=None, test="terminated"):
    """Return what each place, switch position and pair reads. [ohm]"""
    spots = spots_of(RULEBOOK.procedures[test], circuit)
    bench = Bench(circuit, RULEBOOK.procedures, Terminators(10.0, 5.0), spots)
    edit = no_edit
    if fault is not None:
        mode = RULEBOOK.modes[fault.mode]
        edit = hypothesis(mode, circuit, fault).ways[0].edit(fault.r_ohm or 0.0)
    row = bench.read([edit])[0].tolist()
    return {(s.at, s.switch, s.between): v for s, v in zip(spots, row, strict=True)}


def lit(fault=None):
    """Return the positions of V1 and V2 in which the light over the floor is on."""
    found = reads(CIRCUIT, fault)
    return tuple(way for way in WAYS if found["G1", way, "A-N"] < OPEN)


def test_two_two_way_switches_light_in_two_of_four_positions():
    assert lit() == ("1-1", "2-2")


def test_a_light_reads_its_terminators_and_its_cable():
    one_way_ohm = (12 + 15 + 7) * 13.6e-3
    found = reads(CIRCUIT)
    assert found["G1", "1-1", "A-N"] == pytest.approx(15 + 2 * one_way_ohm)
    assert found["G1", "2-2", "A-E"] == pytest.approx(10 + 2 * one_way_ohm)
    assert found["G1", "1-2", "N-E"] == pytest.approx(5 + 2 * one_way_ohm)
    # By the way of its switch: down and back 3 m more.
    down_ohm = (12 + 15 + 9 + 3 + 3) * 13.6e-3
    back_ohm = (12 + 15 + 9) * 13.6e-3
    assert found["G3", "on", "A-N"] == pytest.approx(15 + down_ohm + back_ohm)
    assert found["G3", "off", "A-N"] == OPEN


@pytest.mark.parametrize(
    ("fault", "ways"),
    [
        (Fault("open", ("T1",), "V1..V2"), ("2-2",)),
        (Fault("open", ("T2",), "V1"), ("1-1",)),
        (Fault("open", ("S",), "V2..G1"), ()),
        (Fault("open", ("A",), "V1"), ()),
        (Fault("open", ("S",), "V2"), ()),
        (Fault("open", ("N",), "DB..V1"), ()),
        (Fault("bridged", ("T1", "T2"), "V1..V2", 0.1), WAYS),
        # One of the two crossed over: the light is on in the two other positions.
        (Fault("transposed", ("T1", "T2"), "V1..V2"), ("1-2", "2-1")),
        (Fault("switch-stuck-on", (), "V1"), WAYS),
        (Fault("switch-stuck-off", (), "V2"), ()),
    ],
    ids=str,
)
def test_positions_that_light_with_a_fault(fault, ways):
    assert lit(fault) == ways


def test_one_active_at_a_time_is_put_through_its_terminator():
    found = reads(THREE)
    one_way_ohm = 8 * 3.08e-3  # 6 mm², IEC 60228
    for active in ("L1", "L2", "L3"):
        assert found["O1", "", f"{active}-N"] == pytest.approx(15 + 2 * one_way_ohm)
    assert ("O2", "on", "L2-N") in found
    assert ("O2", "on", "L1-N") not in found


def test_two_actives_exchanged_are_open_where_each_is_asked_for():
    found = reads(THREE, Fault("transposed", ("L1", "L3"), "DB..O1"))
    assert found["O1", "", "L1-N"] == found["O1", "", "L3-N"] == OPEN
    assert found["O1", "", "L2-N"] < 16


def test_pairs_of_several_actives():
    insulation, voltage = (RULEBOOK.procedures[t] for t in ("insulation", "voltage"))
    actives = ("L1", "L2", "L3")
    assert insulation.pairs_of(("A",)) == insulation.pairs
    assert insulation.pairs_of(actives)[-1] == "L1+L2+L3+N-E"
    assert voltage.pairs_of(("A",)) == ("A-N", "A-E", "N-E")
    assert voltage.pairs_of(("L1", "L2")) == (
        "L1-N",
        "L2-N",
        "L1-E",
        "L2-E",
        "N-E",
        "L1-L2",
    )
    assert RULEBOOK.procedures["long-lead"].pairs_of(actives) == ("L1", "L2", "L3", "N", "E")


@pytest.mark.parametrize(
    ("conductors", "at", "ways"),
    [
        # A on the terminal of T1, T1 on the common: in 1 as before, in 2 A is on nothing.
        (("A", "T1"), "V1", ("1-1",)),
        (("A", "T2"), "V1", ("2-2",)),
        (("S", "T2"), "V2", ("2-2",)),
        # Strappers exchanged: it still lights from both ends, in the other two positions.
        (("T1", "T2"), "V1", ("1-2", "2-1")),
        (("T1", "T2"), "V2", ("1-2", "2-1")),
        # A on T1's terminal, T1 on T2's, T2 on the common: 1 joins T2 to A, 2 joins T2 to T1.
        (("A", "T1", "T2"), "V1", ("1-2",)),
        (("A", "T2", "T1"), "V1", ("2-1",)),
    ],
)
def test_conductors_exchanged_at_a_two_way_switch(conductors, at, ways):
    """Worked by following the blade; common practice, no source."""
    assert lit(Fault("transposed", conductors, at)) == ways


def test_an_exchange_at_a_one_way_switch_changes_nothing():
    assert reads(CIRCUIT, Fault("transposed", ("A", "S"), "V3")) == reads(CIRCUIT)


def test_a_light_s_switch_breaks_the_neutral_where_its_feed_is_crossed():
    """Active and neutral crossed in the run that feeds a switch: what it breaks is the neutral."""
    found = reads(CIRCUIT, Fault("transposed", ("A", "N"), "DB..V1"))
    assert found["G1", "1-1", "A-E"] == pytest.approx(reads(CIRCUIT)["G1", "1-1", "N-E"])
    assert found["G1", "1-2", "N-E"] == pytest.approx(reads(CIRCUIT)["G1", "1-1", "A-E"])
