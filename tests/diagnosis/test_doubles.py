"""Two faults at once: found together, where the readings call for both, and not otherwise."""

import json
import math
from dataclasses import replace
from functools import cache

import pytest
from modelled import BRANCHED, LINE, LONG, RULEBOOK, case, readings

from diagnosis.simulated import seeded
from diagnosis.simulated import taken as errant
from faultfinder.diagnosis import doubles
from faultfinder.diagnosis.catalogue import hypothesis
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.network.branch import in_turn
from faultfinder.reporting.as_json import diagnosis_json
from faultfinder.reporting.as_text import diagnosis_text
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

OPEN_EARTH = Fault("open", ("E",), "S2..S3")
POOR_NEUTRAL = Fault("high-resistance", ("N",), "S1..S2", 2.5)
POOR_ACTIVE = Fault("high-resistance", ("A",), "S3", 1.1)
CROSSED = Fault("transposed", ("A", "N"), "S2")
BRIDGED = Fault("bridged", ("A", "E"), "S3", 0.3)
STUCK = Fault("switch-stuck-on", (), "S1")
PAIRS = [
    (OPEN_EARTH, POOR_NEUTRAL),
    (POOR_NEUTRAL, POOR_ACTIVE),
    (OPEN_EARTH, CROSSED),
    (BRIDGED, POOR_NEUTRAL),
    (BRIDGED, STUCK),
    (Fault("open", ("A",), "S3"), Fault("open", ("N",), "S2")),
    (Fault("bridged", ("A", "N"), "S1", 0.5), Fault("bridged", ("A", "E"), "S3", 0.5)),
]


@cache
def of(circuit, faults):
    return diagnose(case(circuit, faults), RULEBOOK)


def found(*faults, circuit=LINE, taken=None, asked=()):
    if taken is None and not asked:
        return of(circuit, faults)
    return diagnose(case(circuit, faults, taken=taken), RULEBOOK, asked)


def bare(faults):
    return {replace(fault, r_ohm=None) for fault in faults}


def leading(diagnosis):
    return [bare(suspect.faults) for suspect in diagnosis.leading]


def fits(circuit, faults):
    places = {run.name for run in circuit.runs} | {point.name for point in circuit.points}
    return {fault.at for fault in faults} <= places


@pytest.mark.untraced
@pytest.mark.parametrize(
    ("circuit", "faults"),
    [(c, pair) for c in (LINE, BRANCHED) for pair in PAIRS if fits(c, pair)],
    ids=lambda given: " and ".join(map(str, given)) if isinstance(given, tuple) else "",
)
def test_two_faults_are_found_together(circuit, faults):
    diagnosis = found(*faults, circuit=circuit)
    assert diagnosis.verdict == "fault"
    assert bare(faults) in leading(diagnosis)


def test_the_ohms_of_both_are_told():
    leader = found(POOR_NEUTRAL, POOR_ACTIVE).suspects[0]
    for fault in leader.faults:
        true = {f.conductors: f.r_ohm for f in (POOR_NEUTRAL, POOR_ACTIVE)}[fault.conductors]
        assert fault.r_ohm == pytest.approx(true, rel=0.1)
    for fault, (low, high) in zip(leader.faults, leader.ohms, strict=True):
        assert low < fault.r_ohm < high


def test_both_are_mended_and_tested_again():
    diagnosis = found(OPEN_EARTH, CROSSED)
    leader = next(s for s in diagnosis.leading if bare(s.faults) == bare((OPEN_EARTH, CROSSED)))
    rules = [RULEBOOK.modes[fault.mode] for fault in (OPEN_EARTH, CROSSED)]
    for fault, rule in zip((OPEN_EARTH, CROSSED), rules, strict=True):
        assert f"At {fault.at}: {rule.remedy}" in leader.remedy
        assert set(rule.retest) <= set(leader.retest)
        assert set(rule.cautions_for(fault.conductors)) <= set(leader.cautions)


def test_two_entries_stand_in_the_json_and_both_names_in_the_text():
    diagnosis = found(POOR_NEUTRAL, STUCK)
    (first, *_) = json.loads(json.dumps(diagnosis_json(diagnosis)))["suspects"]
    assert len(first["faults"]) == len(first["ohms_90"]) == 2
    said = " ".join(diagnosis_text(diagnosis).split())
    assert said.startswith("2 FAULTS: ")
    assert "poor joint of about 2.50 ohm" in said
    assert "switch" in said


def test_where_nothing_is_left_to_tell_both_places_are_looked_at():
    diagnosis = found(Fault("transposed", ("A", "E"), "S1"), POOR_NEUTRAL)
    looks = {check.spot.at for check in diagnosis.next_checks if check.test == "inspect"}
    assert {"S1", "S2"} <= looks


def test_what_is_not_in_doubt_is_looked_at_too():
    """The leaders differ in where the second fault is; the first is the same in all of them."""
    open_neutral = Fault("open", ("N",), "J1..S2")
    diagnosis = found(open_neutral, Fault("high-resistance", ("A",), "S5", 1.5), circuit=BRANCHED)
    assert len(diagnosis.leading) > 1
    looks = [check.spot.at for check in diagnosis.next_checks if check.test == "inspect"]
    assert {"S2", "S5"} <= {*looks}
    assert len(looks) == len({*looks})


@pytest.mark.parametrize(
    ("open_", "hidden"),
    [
        (Fault("open", ("A",), "DB..S1"), Fault("switch-stuck-off", (), "S1")),
        (Fault("open", ("E",), "DB..S1"), Fault("high-resistance", ("E",), "S3", 5.0)),
    ],
    ids=str,
)
def test_what_hides_behind_an_open_is_no_suspect(open_, hidden):
    diagnosis = found(open_, hidden)
    assert bare((open_,)) in leading(diagnosis)
    assert all(len(suspect.faults) < 2 for suspect in diagnosis.suspects)


@pytest.mark.parametrize("fault", [OPEN_EARTH, POOR_NEUTRAL, CROSSED, BRIDGED, STUCK], ids=str)
def test_what_one_fault_explains_is_left_to_it(fault):
    assert all(len(suspect.faults) < 2 for suspect in found(fault).suspects)


def test_probabilities_still_sum_to_one():
    diagnosis = found(OPEN_EARTH, CROSSED)
    whole = sum(suspect.probability for suspect in diagnosis.suspects) + diagnosis.unseen
    assert whole == pytest.approx(1, abs=0.01)


def test_a_third_is_added_where_two_leave_readings_unexplained():
    faults = (OPEN_EARTH, CROSSED, Fault("switch-in-neutral", (), "S1"))
    diagnosis = found(*faults)
    assert diagnosis.verdict == "fault"
    assert bare(faults) in leading(diagnosis)


def test_what_no_faults_make_stays_unexplained_with_the_readings():
    """A-N lost on a row whose A-E and N-E are there: no wiring does that."""
    taken = [
        replace(r, amount=Amount(float("inf"), "open"))
        if (r.spot.at, r.spot.switch, r.spot.between) == ("S1", "on", "A-N")
        else r
        for r in readings(LINE, [OPEN_EARTH, CROSSED])
    ]
    diagnosis = found(taken=taken)
    assert diagnosis.verdict == "unexplained"
    assert next((r.spot.at, r.spot.between) for r in diagnosis.repeat) == ("S1", "A-N")
    assert bare((OPEN_EARTH, CROSSED)) in leading(diagnosis)


def test_why_one_of_two_is_not_all():
    (why,) = found(OPEN_EARTH, CROSSED, asked=(CROSSED,)).why
    assert why.standing == "one of the leader's faults"
    assert why.decisive


def test_why_one_of_two_that_only_ties_with_the_leader():
    """Crossed in the run or at the outlet reads the same: neither is ruled out by who is first."""
    for crossed in (CROSSED, Fault("transposed", ("A", "N"), "S1..S2")):
        (why,) = found(OPEN_EARTH, CROSSED, asked=(crossed,)).why
        assert why.standing == "one of the leader's faults"


def test_no_two_suspects_have_the_same_faults():
    """A row's columns may be exchanged in one switch position or in both: one mistake."""
    named = [suspect.faults for suspect in found(OPEN_EARTH, CROSSED).suspects]
    assert any(fault.set_up for faults in named for fault in faults)
    assert len({frozenset(bare(faults)) for faults in named}) == len(named)


def longer(circuit, factor):
    runs = tuple(replace(run, length_m=run.length_m * factor) for run in circuit.runs)
    return replace(circuit, runs=runs)


@pytest.mark.parametrize("factor", [0.85, 1.2])
@pytest.mark.parametrize(
    "faults", [(), (Fault("high-resistance", ("N",), "S5..S6", 2.5),)], ids=str
)
def test_cable_longer_than_drawn_is_no_reason_to_look_for_a_second_fault(
    monkeypatch, factor, faults
):
    monkeypatch.setattr(doubles, "partners", pytest.fail)
    taken = readings(longer(LONG, factor), faults)
    diagnosis = found(circuit=LONG, taken=taken)
    assert leading(diagnosis) == [bare(faults)]


@pytest.mark.parametrize(
    "fault", [Fault("transposed", ("A", "E", "N"), "S7"), Fault("open", ("A",), "S9")], ids=str
)
@pytest.mark.parametrize("seed", [30, 31])
def test_a_meters_errors_are_no_reason_to_look_for_a_second_fault(monkeypatch, fault, seed):
    """A large change, of which a hundredth would help, and slips beside a poor first fault."""
    monkeypatch.setattr(doubles, "partners", pytest.fail)
    way = hypothesis(RULEBOOK.modes[fault.mode], LONG, fault).ways[0]
    diagnosis = found(circuit=LONG, taken=errant(LONG, way.edit(), seeded(seed)))
    assert bare([fault]) in leading(diagnosis)


def test_beside_a_slight_joint_a_bridge_may_have_other_ohms_than_alone(monkeypatch):
    """With the ohms it has alone the joint would gain too little to be looked for."""
    looked = []
    monkeypatch.setattr(doubles, "partners", lambda *_: looked.append(1) or [])
    both = []
    for fault, r_ohm in (
        (Fault("bridged", ("A", "N"), "S8..S9"), 29.0),
        (Fault("high-resistance", ("A",), "S1..S2"), 0.31),
    ):
        ways = hypothesis(RULEBOOK.modes[fault.mode], LONG, fault).ways
        both.append(ways[len(ways) // 2].edit(r_ohm))
    for seed in (10, 13, 32):
        found(circuit=LONG, taken=errant(LONG, in_turn(both), seeded(seed)))
    assert len(looked) == 3


def test_two_slight_joints_in_cable_longer_than_drawn_are_found():
    faults = (
        Fault("high-resistance", ("N",), "S4..S5", 0.5),
        Fault("high-resistance", ("E",), "S8..S9", 0.5),
    )
    diagnosis = found(circuit=LONG, taken=readings(longer(LONG, 1.15), faults))
    assert bare(faults) in leading(diagnosis)


def as_read(circuit, values):
    """Return readings of the terminated test as written down, in the order of its spots."""
    own = readings(circuit)
    amounts = [Amount(math.inf, "open") if v is None else Amount(v, "=") for v in values]
    return tuple(replace(r, amount=a) for r, a in zip(own, amounts, strict=True))


def test_two_faults_are_found_behind_a_mistake_that_leads():
    """Leads not nulled explain about as much; neither fault by itself comes anywhere near."""
    one, other = (Fault("high-resistance", (c,), "DB..S1") for c in "NA")
    values = [17.58, 11.37, 6.23, None, None, 6.29, 17.69, 11.56, 6.36, None, None, None]
    diagnosis = found(circuit=LINE, taken=as_read(LINE, [*values, 17.60, 11.32, 6.44]))
    assert {one, other} in leading(diagnosis)


def test_two_readings_miswritten_beside_two_faults_make_no_third():
    """Two large slips hide each other from a look at one reading at a time."""
    true = (
        Fault("high-resistance", ("N",), "S3..S4", 2.0),
        Fault("high-resistance", ("E",), "S9..S10", 1.5),
    )
    wrong = {("S7", "on", "A-E"): 19.25, ("S8", "on", "A-E"): 19.23}
    taken = [
        replace(r, amount=Amount(value, "="))
        if (value := wrong.get((r.spot.at, r.spot.switch, r.spot.between)))
        else r
        for r in readings(LONG, true)
    ]
    diagnosis = found(circuit=LONG, taken=tuple(taken))
    assert bare(true) in leading(diagnosis)
    assert not any(len(suspect.faults) > 2 for suspect in diagnosis.suspects)
