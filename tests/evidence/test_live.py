"""Live readings of a small installation, held against sums done by hand beside each.

TN-C-S, 0.2 ohm out and 0.2 ohm back; 2.5 mm² at 7.41 ohm/km (IEC 60228) and 0.08 mohm/m of
reactance (NF C 15-100 clause 525). One outlet at 20 m: 0.1482 ohm a conductor.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from modelled import RULEBOOK

from faultfinder.diagnosis.catalogue import hypothesis, no_edit
from faultfinder.diagnosis.foretell import foretell
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import SUPPLY_OHMS, SUPPLY_VOLTS
from faultfinder.readings.reading import Instrument, Spot, Terminators
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run
from faultfinder.wiring.fault import Fault
from faultfinder.wiring.installation import (
    GROUND_PLACE,
    Board,
    EarthPath,
    Impedance,
    Installation,
    Supply,
)

REGION = region("au-nz")
CABLE = Cable(2.5, 2.5, 2.5, REGION.conductor_table())
RUN_OHM, RUN_X_OHM = 0.1482, 0.0016
HALF = Impedance(0.2)


def circuit(name, point, **changes):
    drawn = Circuit(
        board="DB",
        device=Device("C", 20.0, 30.0),
        points=(Point(point, "outlet", ("A",)),),
        runs=(Run("DB", point, 20.0, CABLE),),
        region=REGION,
        name=name,
    )
    return replace(drawn, **changes)


KITCHEN = circuit("kitchen", "K1", neighbours=("hall",))
HALL = circuit("hall", "H1", neighbours=("kitchen",))


def site(*circuits, system="TN-C-S", actives=("A",), electrode_ohm=math.inf, **supply):
    fed = Supply(system, 230.0, actives, 50.0, HALF, HALF, electrode_ohm=electrode_ohm, **supply)
    return Installation("", fed, (Board("DB", link=system == "TN-C-S"),), circuits)


SITE = site(KITCHEN, HALL)


def made(fault, at=KITCHEN):
    if fault is None:
        return no_edit
    return hypothesis(RULEBOOK.modes[fault.mode], at, fault).ways[0].edit(fault.r_ohm or 0.0)


def read(test, between, fault=None, switch="on", whole=SITE, at="K1"):
    on = whole.circuit_of(at) or whole.circuits[0]
    spot = Spot(test, at, switch, between)
    bench = Bench(on, RULEBOOK.procedures, Terminators(10.0, 5.0), (spot,), whole)
    return float(bench.read([made(fault, on)])[0, 0])


def test_loop_is_the_supply_and_both_conductors():
    """Zs = Ze + R1 + R2, reactances likewise (guide to BS 7671:2008)."""
    by_hand = abs(complex(0.4 + 2 * RUN_OHM, 2 * RUN_X_OHM))
    assert read("loop", "A-E") == pytest.approx(by_hand, rel=1e-8)
    assert read("loop", "A-N") == pytest.approx(by_hand, rel=1e-8)
    assert read("fault-current", "A-E") == pytest.approx(230 / by_hand, rel=1e-8)
    assert read("loop", "A-E", switch="", at="DB") == pytest.approx(0.4, rel=1e-8)
    assert read("fault-current", "A-N", switch="", at="DB") == pytest.approx(575.0, rel=1e-8)


def test_a_loop_that_is_open_is_open():
    whole = site(circuit("kitchen", "K1"))
    earthless = Fault("open", ("E",), "DB..K1")
    assert read("loop", "A-E", earthless, whole=whole) > 1e5  # what cores leave is no loop
    assert read("fault-current", "A-E", earthless, whole=whole) < 0.01


def test_a_tt_loop_goes_through_the_ground():
    whole = site(circuit("kitchen", "K1"), system="TT", electrode_ohm=80.0, earth=Impedance(5.0))
    by_hand = abs(complex(0.2 + 2 * RUN_OHM + 80 + 5, 2 * RUN_X_OHM))
    assert read("loop", "A-E", whole=whole) == pytest.approx(by_hand, rel=1e-7)
    assert read("loop", "A-N", whole=whole) == pytest.approx(0.4 + 2 * RUN_OHM, rel=1e-4)


def test_voltage_where_all_is_well():
    assert read("voltage", "A-N") == pytest.approx(230.0, rel=1e-6)
    assert read("voltage", "A-E") == pytest.approx(230.0, rel=1e-6)
    assert read("voltage", "N-E") == pytest.approx(0.0, abs=1e-3)
    assert read("voltage", "A-N", switch="off") == pytest.approx(0.0, abs=1e-9)


def test_a_phantom_and_what_kills_it():
    """A neutral that hangs open shows half the supply on 10 Mohm, and nothing much on 3 kohm.

    Its cores' capacitance, 69 pF/m over 20 m to either neighbour, divides the supply in two; the
    instrument's own ohms stand beside one half.
    """
    fault = Fault("open", ("N",), "DB..K1")
    y_core = 2j * math.pi * 50 * 69e-12 * 20
    for test, meter_ohm in (("voltage", 1e7), ("voltage-low-impedance", 3e3)):
        by_hand = 230 * abs(y_core / (2 * y_core + 1 / meter_ohm))
        assert read(test, "N-E", fault) == pytest.approx(by_hand, rel=1e-4)
    assert 90 < read("voltage", "N-E", fault) < 115
    assert read("voltage-low-impedance", "N-E", fault) < 1


def test_beyond_an_open_neutral_the_supply_comes_back_through_a_load():
    """230 V on the neutral's contact once a load is on (hobby page on mains socket testing)."""
    fault = Fault("open", ("N",), "DB..K1")
    assert read("voltage-loaded", "N-E", fault) == pytest.approx(230.0, rel=1e-3)
    assert read("voltage-loaded", "A-N", fault) == pytest.approx(0.0, abs=0.01)


def test_a_load_drops_the_voltage_by_its_divider():
    z = complex(0.4 + 2 * RUN_OHM, 2 * RUN_X_OHM)
    with_load = 230 * abs(23 / (23 + z))
    assert read("voltage-loaded", "A-N") == pytest.approx(with_load, rel=1e-6)


def test_what_the_residual_current_device_sees():
    assert read("residual", "A-N") < 0.2  # mA, through the cores' capacitance
    assert read("residual-test", "A-E") == pytest.approx(30.0, rel=2e-4)


def test_a_neutral_bridged_to_earth_shares_the_load_with_it():
    """The current divides as the conductances of neutral and earth, both from outlet to link."""
    fault = Fault("bridged", ("N", "E"), "K1", 0.1)
    load_a = 230 / (23 + 0.4 + RUN_OHM)
    by_earth = load_a * RUN_OHM / (2 * RUN_OHM + 0.1)
    assert read("residual", "A-N", fault) == pytest.approx(1e3 * by_earth, rel=0.01)


def trippings(fault, tests=("residual",), whole=SITE, on=KITCHEN):
    fitted = Terminators(10.0, 5.0)
    said = (fault,) if fault else ()
    return foretell(on, RULEBOOK, tests, fitted, Instrument(), said, whole).trippings


def test_which_device_trips_and_why():
    (sound,) = trippings(None)
    assert (sound.device, sound.trips, sound.rated_ma) == ("kitchen", "no", 30.0)
    (bridged,) = trippings(Fault("bridged", ("N", "E"), "K1", 0.1))
    assert bridged.trips == "must"
    assert bridged.ways[0].name == ("bridge", "K1", "N", "E")
    assert bridged.share_ma(bridged.ways[0]) == pytest.approx(bridged.residual_ma, rel=1e-3)
    (tested,) = trippings(None, ("residual-test",))
    assert tested.trips == "must"
    assert tested.ways[0].name == ("test load",)


def test_a_device_takes_its_usual_time_or_for_ever():
    """30 and 20 ms are the rule files' usual times; common practice, no source."""
    assert read("rcd", "A-E") == 30.0
    assert read("rcd-5x", "A-E") == 20.0
    for lost in (("A",), ("E",)):
        assert read("rcd", "A-E", Fault("open", lost, "DB..K1")) == math.inf
    # 30 mA at 230 V are 7.7 kohm: 1 kohm more leaves 26.5 mA, which a device may trip at; as many
    # again 15.3 mA and no more than 15, at which it must not.
    assert read("rcd", "A-E", Fault("high-resistance", ("E",), "DB..K1", 1000.0)) == 30.0
    assert read("rcd", "A-E", Fault("high-resistance", ("E",), "DB..K1", 8000.0)) == math.inf


@pytest.mark.parametrize(("own", "board"), [(None, 30.0), (30.0, None)])
def test_a_selective_device_takes_longer(own, board):
    device = Device("C", 20.0, own, selective=own is not None)
    kitchen = replace(KITCHEN, device=device)
    boards = (Board("DB", link=True, residual_ma=board, selective=board is not None),)
    whole = replace(site(kitchen), boards=boards)
    assert read("rcd", "A-E", whole=whole) == 200.0
    assert read("rcd-5x", "A-E", whole=whole) == 80.0
    (expected,) = foretell(
        kitchen, RULEBOOK, ("rcd-5x",), Terminators(10.0, 5.0), Instrument(), (), whole
    ).readings
    assert expected.limit.value == 150.0
    assert "selective residual current device of 30 mA" in expected.limit.says


def test_without_such_a_device_nothing_trips_and_no_limit_holds():
    bare = replace(KITCHEN, device=Device("C", 20.0))
    whole = site(bare)
    assert read("rcd", "A-E", whole=whole) == math.inf
    told = foretell(bare, RULEBOOK, ("rcd",), Terminators(10, 5), Instrument(), (), whole)
    assert told.readings[0].limit is None


def test_a_borrowed_neutral_trips_both_devices():
    ours, theirs = trippings(Fault("cross-circuit", ("N",), "K1", 0.2, "hall"))
    assert (ours.device, theirs.device) == ("kitchen", "hall")
    assert ours.trips == theirs.trips == "must"
    assert ours.residual_ma == pytest.approx(theirs.residual_ma, rel=1e-6)
    # The load's current divides between its own neutral and, 0.2 ohm on, the hall's at the board.
    load_a = 230 / (23 + 0.4 + RUN_OHM)
    assert ours.residual_ma == pytest.approx(1e3 * load_a * RUN_OHM / (RUN_OHM + 0.2), rel=0.01)


def test_a_circuit_without_such_a_device_says_so():
    bare = circuit("kitchen", "K1", device=Device("C", 20.0))
    (told,) = trippings(None, whole=site(bare), on=bare)
    assert (told.trips, told.rated_ma) == (None, None)


def test_actives_a_third_of_a_turn_apart_read_root_three_times_as_much():
    three = circuit(
        "oven", "K1", actives=("L1", "L2", "L3"), points=(Point("K1", "appliance"),), neighbours=()
    )
    whole = site(three, actives=("L1", "L2", "L3"))
    assert read("voltage", "L1-L3", switch="", whole=whole) == pytest.approx(
        230 * math.sqrt(3), rel=1e-6
    )
    split = replace(three, actives=("L1", "L2"))
    halves = site(split, actives=("L1", "L2"))
    assert read("voltage", "L1-L2", switch="", whole=halves) == pytest.approx(460.0, rel=1e-6)
    crossed = Fault("transposed", ("L1", "N"), "DB..K1")
    assert read("voltage", "L1-N", crossed, "", whole) == pytest.approx(230.0, rel=1e-6)
    assert read("voltage", "L1-L2", crossed, "", whole) == pytest.approx(230.0, rel=1e-6)


def test_every_live_test_reads_at_every_place_it_is_for():
    live = [p for p in RULEBOOK.procedures.values() if p.is_live]
    spots = tuple(spot for procedure in live for spot in spots_of(procedure, KITCHEN))
    bench = Bench(KITCHEN, RULEBOOK.procedures, None, spots, SITE)
    sound, alone = bench.read([no_edit, made(Fault("open", ("A",), "DB..K1"))])
    assert np.isfinite(sound).all()
    assert (sound != alone).any()
    for index, spot in enumerate(spots):
        one = Bench(KITCHEN, RULEBOOK.procedures, None, (spot,), SITE).read([no_edit])
        assert one[0, 0] == pytest.approx(sound[index], rel=1e-12, abs=1e-12), spot


def test_readings_lean_on_the_supply_and_on_the_cores():
    spots = (Spot("loop", "K1", "on", "A-E"), Spot("voltage", "K1", "on", "N-E"))
    bench = Bench(KITCHEN, RULEBOOK.procedures, None, spots, SITE)
    lean = bench.lean([made(Fault("open", ("N",), "DB..K1"))])
    slope = dict(zip(lean.names, lean.slopes[0].T, strict=True))
    assert slope[SUPPLY_OHMS][0] == pytest.approx(0.4, rel=1e-3)
    assert slope["DB..K1"][0] == pytest.approx(2 * RUN_OHM, rel=1e-3)
    assert slope[SUPPLY_VOLTS] == pytest.approx([0.0, lean.read[0, 1]])
    # A neutral that hangs between two equal capacitances: 230 V / 4 for each, against one another.
    assert slope["cores N-E"][1] == pytest.approx(230 / 4, rel=0.1)
    assert slope["cores A-N"][1] == pytest.approx(-230 / 4, rel=0.1)


def test_live_readings_need_a_supply():
    bench = Bench(KITCHEN, RULEBOOK.procedures, None, (Spot("loop", "K1", "on", "A-E"),))
    with pytest.raises(ValueError, match="supply"):
        bench.read([no_edit])


def test_a_path_to_the_ground_is_an_electrode():
    """A rod at the outlet, 5 ohm, beside the installation's 80 ohm (TT)."""
    lone = circuit("kitchen", "K1")
    whole = site(lone, system="TT", electrode_ohm=80.0)
    rod = replace(whole, earth_paths=(EarthPath("rod", "K1", GROUND_PLACE, 5.0),))
    beside = 1 / (1 / 5.0 + 1 / (80.0 + RUN_OHM))
    assert read("loop", "A-E", whole=rod) == pytest.approx(0.2 + RUN_OHM + beside, rel=1e-4)


def test_a_bridge_behind_a_switch_that_rests_off_is_seen_from_its_own_outlet():
    fault = Fault("bridged", ("A", "E"), "K1", 5.0)
    behind = {
        way.steps[0].side: way.edit(5.0)
        for way in hypothesis(RULEBOOK.modes["bridged"], KITCHEN, fault).ways
    }
    spots = (Spot("loop", "K1", "on", "A-E"), Spot("loop", "DB", "", "A-E"))
    bench = Bench(KITCHEN, RULEBOOK.procedures, None, spots, SITE)
    sound, resting, made_ = bench.read([no_edit, behind["load-in-use"], behind["load"]])
    assert resting[0] == pytest.approx(made_[0])
    assert resting[0] < 0.99 * sound[0]
    assert resting[1] == pytest.approx(sound[1])


def test_where_nothing_drives_a_current_there_is_no_reading():
    crossed = Fault("transposed", ("A", "N"), "K1")
    assert read("loop", "A-E", crossed) == math.inf
    assert read("fault-current", "A-E", crossed) == 0.0
    short = Fault("bridged", ("A", "E"), "K1", 0.0)
    assert read("loop", "A-E", short) == math.inf
    assert read("fault-current", "A-E", short) == 0.0


def test_a_load_draws_the_current_it_is_named_for_where_all_is_sound():
    """20 A through the loop lose 20 A times its ohms, the reactance but a trace of it."""
    z = complex(0.4 + 2 * RUN_OHM, 2 * RUN_X_OHM)
    load_ohm = math.sqrt((230 / 20) ** 2 - z.imag**2) - z.real
    assert abs(230 / (z + load_ohm)) == pytest.approx(20.0)
    assert read("voltage-drop", "A-N") == pytest.approx(230 - 20 * load_ohm, rel=1e-6)
    far = site(circuit("kitchen", "K1"), system="TT", electrode_ohm=300.0)
    assert read("residual-test", "A-E", whole=far) == pytest.approx(30.0, rel=1e-4)


def test_a_voltage_that_rises_under_load_is_no_drop():
    assert read("voltage-drop", "A-N", Fault("open", ("A",), "DB..K1")) == 0.0


def test_what_cuts_the_circuit_off_at_once():
    def cut(*faults):
        told = foretell(
            KITCHEN, RULEBOOK, ("loop",), Terminators(10.0, 5.0), Instrument(), faults, SITE
        )
        return told.over_a, told.residual_ma

    assert cut() == (None, None)
    over_a, residual_ma = cut(Fault("bridged", ("A", "E"), "K1", 0.0))
    by_hand = 230 / abs(complex(0.4 + 2 * RUN_OHM, 2 * RUN_X_OHM))
    assert over_a == pytest.approx(by_hand, rel=1e-6)
    assert residual_ma == pytest.approx(1e3 * by_hand, rel=1e-3)
    assert cut(Fault("bridged", ("A", "N"), "K1", 0.0))[1] is None
    assert cut(Fault("bridged", ("A", "E"), "K1", 2000.0))[0] is None
    dead = foretell(KITCHEN, RULEBOOK, ("terminated",), Terminators(10.0, 5.0), Instrument())
    assert (dead.over_a, dead.residual_ma) == (None, None)


def test_a_fault_current_is_held_to_the_loops_limit():
    """150 A trip a C20 at once (7.5 times, New Zealand's registration board, January 2004)."""
    (told,) = (
        e
        for e in foretell(
            KITCHEN, RULEBOOK, ("fault-current",), Terminators(10.0, 5.0), Instrument(), (), SITE
        ).readings
        if (e.spot.at, e.spot.between) == ("K1", "A-E")
    )
    assert (told.limit.value, told.limit.bound) == (pytest.approx(150.0), "at least")
    assert told.low > 0.3 * told.value  # its errors are shares, as the loop's are


# -- dead, with the other circuits on their bars ---------------------------------------------------


def test_another_circuits_neutral_is_a_way_round_the_terminator():
    """0.2 ohm of joint and way there, past 5 ohm: by the hall's neutral on the bar."""
    fault = Fault("cross-circuit", ("N",), "K1", 0.2, "hall")
    by_hand = 1 / (1 / (RUN_OHM + 5.0) + 1 / 0.2) + RUN_OHM
    assert read("terminated", "N-E") == pytest.approx(2 * RUN_OHM + 5.0, rel=1e-9)
    assert read("terminated", "N-E", fault) == pytest.approx(by_hand, rel=1e-9)
    assert read("insulation", "N-E", fault) * 1e6 == pytest.approx(0.2 + RUN_OHM, rel=1e-3)


def test_another_circuits_earth_is_beside_our_own():
    fault = Fault("cross-circuit", ("E",), "K1", 0.2, "hall")
    beside = 1 / (1 / RUN_OHM + 1 / 0.2)
    assert read("terminated", "A-E", fault) == pytest.approx(10 + RUN_OHM + beside, rel=1e-9)
