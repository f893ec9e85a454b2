"""A fault beside a mistake in the test: both are named, the test's first.

Readings are made without the code that looks for mistakes: by other terminators, or by writing
readings in other rows.
"""

from dataclasses import replace

import pytest
from modelled import BRANCHED, LINE, LONG, RULEBOOK, case, readings

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.foretell import foretell
from faultfinder.readings.reading import Instrument, Reading, Terminators
from faultfinder.reporting.as_text import diagnosis_text
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

OPEN_EARTH = Fault("open", ("E",), "S1..S2")
POOR_NEUTRAL = Fault("high-resistance", ("N",), "S2", r_ohm=2.5)


def with_terminators_exchanged(circuit, fault):
    expected = foretell(
        circuit, RULEBOOK, ("terminated",), Terminators(5.0, 10.0), Instrument(), [fault]
    )
    return tuple(
        Reading(e.spot, Amount(e.value, "open" if e.is_open else "="), 0.01)
        for e in expected.readings
    )


def with_switches_noted_wrong(circuit, fault):
    turned = {"on": "off", "off": "on"}
    return tuple(
        replace(r, spot=replace(r.spot, switch=turned.get(r.spot.switch, r.spot.switch)))
        for r in readings(circuit, [fault])
    )


def with_a_and_n_columns_exchanged(circuit, fault):
    other = {"A-E": "N-E", "N-E": "A-E"}
    return tuple(
        replace(r, spot=replace(r.spot, between=other.get(r.spot.between, r.spot.between)))
        for r in readings(circuit, [fault])
    )


def with_the_columns_of_one_outlet_exchanged(circuit, fault):
    other = {"A-E": "N-E", "N-E": "A-E"}
    there = ("S1", "on")
    return tuple(
        replace(r, spot=replace(r.spot, between=other.get(r.spot.between, r.spot.between)))
        if (r.spot.at, r.spot.switch) == there
        else r
        for r in readings(circuit, [fault])
    )


@pytest.mark.parametrize("fault", [OPEN_EARTH, POOR_NEUTRAL], ids=str)
@pytest.mark.parametrize(
    ("made", "set_up"),
    [
        (with_terminators_exchanged, "terminators-exchanged"),
        (with_switches_noted_wrong, "switches-noted-wrong"),
        (with_a_and_n_columns_exchanged, "columns-exchanged-throughout"),
        (with_the_columns_of_one_outlet_exchanged, "columns-exchanged"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_both_are_named_and_the_test_is_checked_first(made, set_up, fault):
    found = diagnose(case(BRANCHED, taken=made(BRANCHED, _on_branched(fault))), RULEBOOK)
    assert found.verdict == "fault"
    blended = [s for s in found.leading if s.is_set_up and s.is_wiring]
    named = [{f.set_up or (f.mode, f.conductors, f.at) for f in s.faults} for s in blended]
    true = _on_branched(fault)
    assert {set_up, (true.mode, true.conductors, true.at)} in named
    assert found.next_checks[0].test == "set-up"


def _on_branched(fault):
    return replace(fault, at="J1..S2") if fault.at == "S1..S2" else fault


def test_the_ohms_belong_to_the_fault_and_not_to_the_mistake():
    taken = with_terminators_exchanged(LINE, POOR_NEUTRAL)
    found = diagnose(case(LINE, taken=taken), RULEBOOK)
    suspect = next(s for s in found.leading if s.is_set_up and s.is_wiring)
    mistake, fault = suspect.faults
    assert (mistake.r_ohm, suspect.ohms[0]) == (None, None)
    low, high = suspect.ohms[1]
    assert low < fault.r_ohm < high
    assert fault.r_ohm == pytest.approx(2.5, rel=0.05)


def test_two_faults_that_read_alike_are_named_beside_them():
    found = diagnose(case(LINE, taken=with_terminators_exchanged(LINE, OPEN_EARTH)), RULEBOOK)
    modes = [[fault.mode for fault in suspect.faults] for suspect in found.leading]
    assert ["open", "transposed"] in [sorted(each) for each in modes if "set-up" not in each]
    text = diagnosis_text(found)
    assert "CHECK THE TEST FIRST: the two terminators at the board exchanged; and earth" in text
    assert "CORRECT THE TEST" not in text  # the leader is one of wiring alone


def test_a_mistake_alone_needs_no_fault_beside_it():
    sound = foretell(LINE, RULEBOOK, ("terminated",), Terminators(5.0, 10.0), Instrument()).readings
    taken = [Reading(e.spot, Amount(e.value, "open" if e.is_open else "="), 0.01) for e in sound]
    found = diagnose(case(LINE, taken=taken), RULEBOOK)
    assert not any(s.is_set_up and s.is_wiring for s in found.suspects)


def test_a_fault_alone_needs_no_mistake_beside_it():
    found = diagnose(case(BRANCHED, [POOR_NEUTRAL]), RULEBOOK)
    assert not any(s.is_set_up and s.is_wiring for s in found.suspects)


def test_a_row_from_far_away_and_one_wrong_digit_call_for_no_fault():
    """The row of the third outlet was read at the last; A-E of the sixth is ten times too high.

    Which outlet it was is not known, so that a mistake alone is averaged over all of them: a fault
    beside it that changes nothing is no likelier for being looked at with the right one.
    """
    names = [point.name for point in LONG.points]
    sound = {(r.spot.at, r.spot.switch, r.spot.between): r for r in readings(LONG)}
    amounts = {spot: reading.amount for spot, reading in sound.items()}
    for at, switch, between in sound:
        if at == names[2]:
            amounts[at, switch, between] = sound[names[-1], switch, between].amount
    slipped = (names[5], "on", "A-E")
    amounts[slipped] = Amount(10 * amounts[slipped].value, "=")
    taken = [replace(reading, amount=amounts[spot]) for spot, reading in sound.items()]
    found = diagnose(case(LONG, taken=taken), RULEBOOK, (_row_read_elsewhere(names[2]),))
    (leader,) = found.leading
    assert [fault.set_up for fault in leader.faults] == ["row-of-another-outlet"]
    assert not any(s.is_set_up and s.is_wiring for s in found.suspects)
    assert found.why[0].standing == "leads"


def _row_read_elsewhere(at):
    return Fault("set-up", (), at, set_up="row-of-another-outlet")
