"""Which published limit a reading is held to; the limits themselves are tested in standards/."""

from dataclasses import replace

import pytest
from modelled import LINE, RULEBOOK, TERMINATORS

from faultfinder.evidence.limits import is_usual, limit_for
from faultfinder.readings.reading import Spot
from faultfinder.standards.insulation import insulation_minimum_at, insulation_minimum_mohm
from faultfinder.standards.limits import earth_limit_ohm, internal_loop_limit_ohm
from faultfinder.standards.live_limits import (
    measured_loop_limit_ohm,
    residual_loop_limit_ohm,
    voltage_drop_limit_v,
)
from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import Device, Point
from faultfinder.wiring.installation import Board, Feeder, Impedance, Installation, Supply

COPPER = LINE.runs[0].cable.table
MADE_AT_20 = {"table": COPPER, "test_temperature_c": 20.0}


WITH_RCD = replace(LINE, device=Device("C", 20.0, 30.0))
THREE_PHASE = replace(
    LINE,
    actives=("L1", "L2", "L3"),
    points=(*LINE.points[:2], Point("S3", takes=("L2",))),
)


def limit(test, at, between, circuit=LINE, terminators=TERMINATORS, installation=None):
    spot = Spot(test, at, "", between)
    return limit_for(RULEBOOK.procedures[test], circuit, terminators, spot, installation)


DB = Board("DB", link=True)


def site(circuit=LINE, system="TN-C-S", voltage_v=230.0, boards=(DB,)):
    """Return a circuit's installation; invented, 0.4 ohm of supply in and out together."""
    one_way = Impedance(0.2)
    supply = Supply(system, voltage_v, circuit.actives, 50.0, one_way, one_way, one_way, 60.0)
    return Installation("Site", supply, boards, (circuit,))


@pytest.mark.parametrize(
    ("test", "between"),
    [("terminated", "A-N"), ("terminated", "N-E"), ("linked-out", "A-N"), ("long-lead", "A")],
)
def test_what_no_standard_limits_has_none(test, between):
    assert limit(test, "S3", between) is None


def test_a_linked_out_loop_is_held_to_the_internal_loop_limit():
    assert limit("linked-out", "S2", "A-E") == internal_loop_limit_ohm(
        LINE.region, "C", 20.0, **MADE_AT_20
    )


def test_a_terminator_is_added_to_the_limit_and_the_sentence_says_so():
    loop, terminated = limit("linked-out", "S2", "A-E"), limit("terminated", "S2", "A-E")
    assert terminated.value == loop.value + 10.0
    assert terminated.says == f"{loop.says} The terminator adds 10 ohm to the reading."
    assert (terminated.bound, terminated.source) == (loop.bound, loop.source)


@pytest.mark.parametrize("odd", [0, 1, 2])
@pytest.mark.parametrize(
    ("sizes", "stricter_there"), [((1.5, 2.5), True), ((4.0, 1.5), False)], ids=["strict", "mild"]
)
def test_an_earth_is_held_to_the_strictest_limit_on_its_way(odd, sizes, stricter_there):
    """One run of other sizes: it makes the limit stricter from there on, but never milder."""
    other = replace(LINE.runs[odd].cable, active_mm2=sizes[0], earth_mm2=sizes[1])
    runs = tuple(
        replace(run, cable=other) if index == odd else run for index, run in enumerate(LINE.runs)
    )
    usual, there = (
        earth_limit_ohm(LINE.region, "C", 20.0, *two, **MADE_AT_20) for two in ((2.5, 2.5), sizes)
    )
    assert (there.value < usual.value) is stricter_there
    for index, at in enumerate(("S1", "S2", "S3")):
        only_it = odd == index == 0
        held_to = there if only_it or (stricter_there and index >= odd) else usual
        assert limit("long-lead", at, "E", replace(LINE, runs=runs)) == held_to, at


@pytest.mark.parametrize("between", ["A-N", "A-E", "N-E", "A+N-E"])
@pytest.mark.parametrize("at", ["DB", "S3"])
def test_insulation_is_held_to_the_least_of_the_regions_voltage(at, between):
    found = limit("insulation", at, between)
    assert found == insulation_minimum_mohm(LINE.region, LINE.region.nominal_voltage_v)
    assert (found.bound, found.unit) == ("at least", "Mohm")


@pytest.mark.parametrize("at", ["S1", "S3", "DB"])
def test_a_loop_is_held_to_the_regions_share_for_a_measured_one(at):
    held = measured_loop_limit_ohm(LINE.region, "C", 20.0)
    assert limit("loop", at, "A-E", installation=site()) == held
    assert limit("loop", at, "A-N", installation=site()) is None


@pytest.mark.parametrize("system", ["TN-C-S", "TN-S"])
def test_a_residual_current_device_makes_no_difference_in_tn(system):
    found = limit("loop", "S2", "A-E", WITH_RCD, installation=site(WITH_RCD, system))
    assert found == measured_loop_limit_ohm(LINE.region, "C", 20.0)


def test_a_loop_in_tt_is_held_to_the_rated_residual_current():
    found = limit("loop", "S2", "A-E", WITH_RCD, installation=site(WITH_RCD, "TT"))
    assert found == residual_loop_limit_ohm(30.0)


def test_a_loop_in_tt_without_a_residual_current_device_is_held_to_its_circuit_breaker():
    found = limit("loop", "S2", "A-E", installation=site(LINE, "TT"))
    assert found == measured_loop_limit_ohm(LINE.region, "C", 20.0)


@pytest.mark.parametrize(
    ("own_ma", "board_ma", "feeder_ma", "main_ma", "held_ma"),
    [
        (30.0, 100.0, 300.0, 500.0, 30.0),
        (None, 100.0, 300.0, 500.0, 100.0),
        (None, None, 300.0, 500.0, 300.0),
        (None, None, None, 500.0, 500.0),
    ],
)
def test_the_nearest_residual_current_device_on_the_way_counts(
    own_ma, board_ma, feeder_ma, main_ma, held_ma
):
    feeder = Feeder("MB", 10.0, LINE.runs[0].cable, ("A",), Device("C", 40.0, feeder_ma))
    boards = (
        Board("MB", link=True, residual_ma=main_ma),
        Board("DB", link=False, feeder=feeder, residual_ma=board_ma),
    )
    circuit = replace(LINE, device=Device("C", 20.0, own_ma))
    found = limit("loop", "S2", "A-E", circuit, installation=site(circuit, "TT", boards=boards))
    assert found == residual_loop_limit_ohm(held_ma)


@pytest.mark.parametrize("name", ["au-nz", "uk", "iec"])
@pytest.mark.parametrize(("kind", "use"), [("light", "lighting"), ("outlet", "other")])
def test_a_voltage_drop_is_held_to_the_share_for_what_is_there(name, kind, use):
    """20 A through 0.2 ohm out and 0.2 back are 8 V that the supply itself loses."""
    points = (*LINE.points[:2], Point("S3", kind))
    circuit = replace(LINE, points=points, region=region(name))
    found = limit("voltage-drop", "S3", "A-N", circuit, installation=site(circuit))
    held = voltage_drop_limit_v(circuit.region, use)
    assert found.value == pytest.approx(held.value + 8.0)
    assert found.says == f"{held.says} The supply itself adds 8 V to the reading."


@pytest.mark.parametrize("voltage_v", [220.0, 230.0, 240.0])
def test_a_supply_about_the_nominal_voltage_is_one_of_it(voltage_v):
    found = limit("loop", "S2", "A-E", installation=site(voltage_v=voltage_v))
    assert found == limit("loop", "S2", "A-E", installation=site())


def test_a_supply_of_another_nominal_voltage_has_its_own_limits():
    """120 V: a loop of 120/150 ohm, and 5 % of 120 V lost beside the supply's 8 V."""
    there = site(voltage_v=120.0)
    assert limit("loop", "S2", "A-E", installation=there).value == pytest.approx(0.8)
    assert limit("voltage-drop", "S2", "A-N", installation=there).value == pytest.approx(6 + 8)
    ours, half = (limit("linked-out", "S2", "A-E", installation=one) for one in (None, there))
    assert half.value == pytest.approx(ours.value * 120 / 230)


@pytest.mark.parametrize(
    ("test", "at", "between"),
    [
        ("loop", "S1", "L1-E"),
        ("loop", "S1", "L3-E"),
        ("loop", "S3", "L2-E"),
        ("voltage-drop", "S2", "L2-N"),
        ("linked-out", "S1", "L1-E"),
        ("terminated", "S3", "L2-E"),
        ("insulation", "DB", "L1-N"),
        ("insulation", "S1", "L1+L2+L3+N-E"),
        ("insulation", "S3", "L2+N-E"),
    ],
)
def test_a_limit_for_an_active_holds_for_each_of_several(test, at, between):
    """What stands as A-E in the rule holds for L1-E; the figures are those of one active."""
    alone = {"L1+L2+L3+N-E": "A+N-E", "L2+N-E": "A+N-E"}.get(between, "A-" + between[-1])
    found = limit(test, at, between, THREE_PHASE, installation=site(THREE_PHASE))
    assert found is not None
    assert found == limit(test, at, alone, installation=site())


@pytest.mark.parametrize(("at", "between"), [("S1", "L1-L2"), ("S3", "L1-E"), ("S1", "L1-N")])
def test_no_other_pair_of_several_actives_has_a_limit_of_the_loop(at, between):
    assert limit("loop", at, between, THREE_PHASE, installation=site(THREE_PHASE)) is None


@pytest.mark.parametrize("between", ["A-E", "N-E", "A+N-E"])
def test_insulation_at_250_v_is_held_to_what_stays_connected(between):
    found = limit("insulation-250", "S3", between)
    assert found == insulation_minimum_at(LINE.region, 230.0, 250.0)
    assert "with equipment connected" in found.says


def test_insulation_that_no_row_is_for_has_no_limit():
    assert limit("insulation-250", "S3", "A-N") is None  # equipment is read there
    assert limit("insulation-1000", "S3", "A-E") is None  # 230 V is tested at 500 V


def test_insulation_of_a_circuit_above_500_v_is_held_at_1000_v():
    there = region("iec")
    circuit = replace(LINE, region=there)
    above = site(circuit, voltage_v=690.0)
    found = limit("insulation-1000", "S3", "A-E", circuit, installation=above)
    assert found == insulation_minimum_at(there, 690.0, 1000.0)
    assert limit("insulation", "S3", "A-E", circuit, installation=above) is None


@pytest.mark.parametrize(
    ("voltage_v", "usual"),
    [(24.0, "insulation-250"), (230.0, "insulation"), (690.0, "insulation-1000")],
)
def test_one_insulation_test_is_usual_by_the_nominal_voltage(voltage_v, usual):
    circuit = replace(LINE, region=region("iec"))
    there = site(circuit, voltage_v=voltage_v)
    insulation = {"insulation", "insulation-250", "insulation-1000"}
    taken = {t for t, p in RULEBOOK.procedures.items() if is_usual(p, circuit, there)}
    assert taken & insulation == {usual}
    assert taken >= set(RULEBOOK.procedures) - insulation - {
        "residual-test",
        "rcd",
        "rcd-5x",
    }  # it has no such device


@pytest.mark.parametrize("name", ["au-nz", "uk", "iec"])
def test_every_region_has_limits_for_every_usual_test(name):
    there = region(name)
    table = there.conductor_table()
    runs = tuple(replace(run, cable=replace(run.cable, table=table)) for run in LINE.runs)
    circuit = replace(LINE, region=there, runs=runs)
    for test, procedure in RULEBOOK.procedures.items():
        for rule in procedure.limits if is_usual(procedure, circuit) else ():
            assert limit(test, "S3", rule.between, circuit).value > 0


def test_a_rated_residual_current_is_let_flow_only_past_a_device_that_has_one():
    rcd = RULEBOOK.procedures["residual-test"]
    assert not is_usual(rcd, LINE, site())
    assert is_usual(rcd, LINE, site(boards=(Board("DB", link=True, residual_ma=30.0),)))
    own = replace(LINE, device=replace(LINE.device, residual_ma=30.0))
    assert is_usual(rcd, own, site(own))
