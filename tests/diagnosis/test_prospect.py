"""Suspects and checks as a problem: walking, looks, parting, and when a live test is offered."""

import math
from dataclasses import replace

import numpy as np
import pytest
from modelled import BRANCHED, LINE, LONG, RING, RULEBOOK, case, readings

from faultfinder.diagnosis.catalogue import catalogue
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.looking import after_looking, chance_seen
from faultfinder.diagnosis.offers import rows_to_read
from faultfinder.diagnosis.phrasing import Phrasing
from faultfinder.diagnosis.plan import Plan, plan_of
from faultfinder.diagnosis.prospect import Look, Reading
from faultfinder.diagnosis.walking import places, walking_minutes
from faultfinder.evidence.bench import Bench
from faultfinder.readings.reading import Reading as Taken
from faultfinder.readings.reading import Spot
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

OPEN_EARTH = Fault("open", ("E",), "S1..S2")
BORROWED = Fault("cross-circuit", ("N",), "S2", 0.1, "stairs")
PACE = RULEBOOK.walking.metres_per_minute


def at(rows, *where):
    return [row for row in rows if row.spot.at in where]


def found_at(fault, *where, circuit=LONG, **more):
    taken = at(readings(circuit, [fault]), *where)
    return diagnose(replace(case(circuit, taken=taken), **more), RULEBOOK)


# -- walking ---------------------------------------------------------------------------------------


def test_the_walk_is_along_the_cable():
    names = places(BRANCHED)
    minutes = walking_minutes(BRANCHED, RULEBOOK.walking)
    assert np.allclose(minutes, minutes.T)
    assert np.allclose(np.diag(minutes), 0.0)
    assert minutes[names.index("DB"), names.index("S3")] == pytest.approx((14 + 8 + 5 + 7) / PACE)
    # From one branch to the other past the box: 7 + 5 + 11 + 6.
    assert minutes[names.index("S3"), names.index("S5")] == pytest.approx(29 / PACE)


def test_floors_rooms_and_distances_count_where_they_are_said():
    upstairs = replace(LINE.points[1], floor=1, room="hall")
    beside = replace(LINE.points[2], floor=1, room="hall")
    circuit = replace(LINE, points=(replace(LINE.points[0], distance_m=3.0), upstairs, beside))
    minutes = walking_minutes(circuit, RULEBOOK.walking)
    assert minutes[2, 3] == RULEBOOK.walking.room
    assert minutes[0, 1] == pytest.approx(3.0 / PACE)
    assert minutes[0, 2] == pytest.approx(20.0 / PACE + RULEBOOK.walking.floor)


# -- looks -----------------------------------------------------------------------------------------


def test_a_look_shows_a_points_own_fault_and_half_of_a_runs():
    seen = RULEBOOK.inspection.seen
    for fault, where, chance in (
        (Fault("open", ("E",), "S2"), "S2", seen.here),
        (Fault("open", ("E",), "S2"), "S1", 0.0),
        (OPEN_EARTH, "S2", seen.run),
        (OPEN_EARTH, "S1", seen.run),
        (Fault("open", ("E",), "DB..S1"), "DB", seen.run),
    ):
        assert chance_seen(LINE, RULEBOOK.inspection, [fault], where) == pytest.approx(chance)
    assert chance_seen(RING, RULEBOOK.inspection, [Fault("open", ("E",), "S3..DB")], "DB") > 0


def test_looks_and_vain_repairs_weigh_in_the_priors():
    plain = catalogue(LINE, tuple(RULEBOOK.modes.values()))
    looked = replace(case(LINE), looked=("S2",), exchanged=("S3",))
    left = {h.faults: h.log_prior for h in after_looking(looked, RULEBOOK, plain)}
    seen = RULEBOOK.inspection.seen
    for one in plain:
        change = left[one.faults] - one.log_prior
        match [fault.at for fault in one.faults]:
            case ["S2"]:
                assert change == pytest.approx(math.log(1 - seen.here))
            case ["S1..S2" | "S2..S3"]:
                assert change == pytest.approx(math.log(1 - seen.run))
            case ["S3"]:
                assert change < -4
            case _:
                assert change == 0


def test_a_look_that_showed_nothing_moves_the_suspicion_on():
    before = found_at(OPEN_EARTH, "S1", "S2", "S3", circuit=LINE)
    assert before.next_checks[0].spot.at == "S2"
    after = found_at(OPEN_EARTH, "S1", "S2", "S3", circuit=LINE, looked=("S2",))
    assert (after.next_checks[0].test, after.next_checks[0].spot.at) == ("inspect", "S1")
    last = found_at(OPEN_EARTH, "S1", "S2", "S3", circuit=LINE, looked=("S2", "S1"))
    assert (last.next_checks[0].test, last.next_checks[0].spot.at) == ("exchange", "S1..S2")
    assert last.next_checks[0].minutes == RULEBOOK.repair.minutes.run


def test_a_set_up_found_in_order_is_out():
    taken = [r for r in readings(LINE, [Fault("open", ("E",), "DB..S1")]) if r.spot.at == "S1"]
    before = diagnose(case(LINE, taken=taken), RULEBOOK)
    assert (before.next_checks[0].test, before.next_checks[0].spot.at) == ("set-up", "DB")
    there = replace(case(LINE, taken=taken), in_order=(("link-out", "DB"),))
    after = diagnose(there, RULEBOOK)
    assert all(f.set_up != "link-out" for s in after.suspects for f in s.faults)
    assert after.next_checks[0].test != "set-up"


# -- readings --------------------------------------------------------------------------------------


def test_rows_hold_the_pairs_of_one_place_and_one_arrangement():
    rows = rows_to_read(case(LINE, taken=()), RULEBOOK)
    terminated = [row for row in rows if row.procedure.id == "terminated" and row.at == "S1"]
    assert [len(row.spots) for row in terminated] == [3, 3]
    linked = [row for row in rows if row.procedure.id == "linked-out" and row.at == "S1"]
    assert {row.arrangement for row in linked} == {
        ("linked-out", pair) for pair in ("A-N", "A-E", "N-E")
    }
    assert {row.at for row in rows if row.procedure.leakage} == {"DB"}


def test_what_cannot_be_done_is_not_offered():
    there = replace(case(LINE, taken=()), cannot=(("terminated", "S2"), ("inspect", "S1")))
    assert not any(
        row.procedure.id == "terminated" and row.at == "S2" for row in rows_to_read(there, RULEBOOK)
    )
    found = found_at(
        Fault("switch-bypassed", (), "S1"), "S1", circuit=LINE, cannot=(("inspect", "S1"),)
    )
    assert all(not (isinstance(look, Look) and look.at == "S1") for look in found.prospect.looks)


def test_the_nearer_half_is_read_first():
    """Read at the far end only, the break may be anywhere: the middle is read, a walk away."""
    first = next(
        check
        for check in found_at(Fault("open", ("E",), "S6..S7"), "S12").next_checks
        if check.test != "set-up"
    )
    assert first.test == "terminated"
    assert first.spot.at in {f"S{n}" for n in range(5, 10)}
    assert first.minutes == round(2 + 5.0 * (12 - int(first.spot.at[1:])) / PACE, 1)


# -- parting ---------------------------------------------------------------------------------------


def leak(at_, circuit=LONG):
    spots = [Spot("insulation", "DB", "", pair) for pair in ("A-N", "A-E", "N-E", "A+N-E")]
    bench = Bench(circuit, RULEBOOK.procedures, None, tuple(spots))
    hypothesis = next(
        h
        for h in catalogue(circuit, [RULEBOOK.modes["bridged"]])
        if h.faults and h.faults[0].at == at_ and h.faults[0].conductors == ("A", "E")
    )
    read = bench.read([hypothesis.ways[0].edit(2e5)])[0].tolist()
    return [
        Taken(spot, Amount(value, "=") if value < 200 else Amount(200.0, ">"), 0.01)
        for spot, value in zip(spots, read, strict=True)
    ]


def test_a_leak_is_placed_by_parting_the_circuit():
    """From the board a leak reads the same wherever it is: half is parted off, about the middle."""
    found = diagnose(case(LONG, taken=leak("S9")), RULEBOOK)
    first = next(check for check in found.next_checks if check.test not in {"set-up", "inspect"})
    assert (first.test, first.spot.parted != "") == ("insulation", True)
    assert 4 <= int(first.spot.parted.split("..")[0][1:]) <= 9
    assert set(RULEBOOK.separation.cautions) <= set(first.cautions)
    assert first.minutes > RULEBOOK.separation.minutes


def test_the_half_that_leaks_is_told():
    taken = leak("S9")
    far = Taken(Spot("insulation", "S7", "on", "A-E", "S6..S7"), Amount(0.2, "="), 0.01)
    near = Taken(Spot("insulation", "DB", "", "A-E", "S6..S7"), Amount(200.0, ">"), 1.0)
    found = diagnose(case(LONG, taken=[*taken, near, far]), RULEBOOK)
    assert found.verdict == "fault"
    beyond = {f"S{n}" for n in range(7, 13)} | {f"S{n}..S{n + 1}" for n in range(6, 12)}
    assert {f.at for s in found.leading for f in s.faults} <= beyond


def test_to_open_a_point_is_to_mind_what_may_be_met_there():
    """A conductor of another circuit is live while this one is off."""
    open_earth = RULEBOOK.modes["open"].cautions_for(("E",))
    found = found_at(OPEN_EARTH, "S1", "S2", "S3")
    look = next(check for check in found.next_checks if check.test == "inspect")
    assert set(open_earth) <= set(look.cautions)
    assert look.cautions[: len(RULEBOOK.inspection.cautions)] == RULEBOOK.inspection.cautions
    joined = Phrasing(
        replace(
            found.prospect,
            contenders=tuple(
                replace(
                    c,
                    suspect=replace(
                        c.suspect, hypothesis=replace(c.suspect.hypothesis, faults=(BORROWED,))
                    ),
                )
                for c in found.prospect.contenders[:1]
            ),
        )
    )
    for _, cautions in (joined.how_to_look("S2"), joined.how_to_mend("S2")):
        assert set(RULEBOOK.modes["cross-circuit"].cautions_for(("N",))) <= set(cautions)


# -- live ------------------------------------------------------------------------------------------


def test_a_plan_of_dead_checks_holds_no_live_ones():
    found = found_at(OPEN_EARTH, "S12")
    plan = plan_of(found.prospect)
    rows = [offer.row for offer in plan.offers if isinstance(offer, Reading)]
    assert rows
    assert not any(row.procedure.is_live for row in rows)
    # Without an installation nothing is known of the supply, and nothing live is offered at all.
    assert found.prospect.live_readings == ()
    assert Plan(found.prospect, ()).planner.choose(found.prospect.belief, plan.standing) is not None
