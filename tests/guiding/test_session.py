"""A session: what is asked, what each answer makes of the case, and that it comes to the truth."""

from dataclasses import replace

import pytest
from diagnosis.test_prospect import leak
from modelled import BRANCHED, LINE, LONG, RULEBOOK, case, expected, readings

from faultfinder.guiding.session import Session
from faultfinder.readings.reading import Reading
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

OPEN_EARTH = Fault("open", ("E",), "S1..S2")


def begun(fault, *where, circuit=LINE):
    taken = [r for r in readings(circuit, [fault]) if r.spot.at in where]
    return Session(case(circuit, taken=taken), RULEBOOK)


def as_true(fault, circuit, check):
    """Return the readings that a check would show with a fault in the circuit, or none."""
    faults = [fault] if fault else []
    wanted = {check.spot, *check.also}
    return [
        Reading(e.spot, Amount(e.value, "open" if e.is_open else "="), 0.01)
        for e in expected(circuit, faults, (check.test,))
        if e.spot in wanted
    ]


def answered(session, fault, circuit):
    """Return the session after a true answer: a run's fault is seen at its far end."""
    check = session.asked
    at = check.spot.at
    run = circuit.run(fault.at)
    here = fault.at if run is None else run.downstream
    match check.test:
        case "inspect":
            if at == here:
                return session.found([fault])
            return session.saw_nothing(at)
        case "exchange":
            return session.found([fault]) if at == fault.at else session.did_not_help(at)
        case "set-up":
            for suspect in session.to_be_seen():
                session = session.is_in_order(suspect.faults[0])
            return session
    return session.read(as_true(fault, circuit, check))


@pytest.mark.parametrize(
    ("fault", "where", "circuit"),
    [
        (OPEN_EARTH, "S3", LINE),
        (Fault("transposed", ("A", "N"), "S2"), "S2", LINE),
        (Fault("high-resistance", ("N",), "J1..S2", 2.0), "S3", BRANCHED),
        (Fault("switch-stuck-off", (), "S1"), "S1", LINE),
    ],
    ids=lambda value: str(value) if isinstance(value, Fault) else "",
)
def test_true_answers_lead_to_the_fault(fault, where, circuit):
    session, asked = begun(fault, where, circuit=circuit), []
    while (check := session.asked) is not None:
        assert check.risk != "live"
        assert (check.spot, check.why) not in asked
        asked.append((check.spot, check.why))
        assert len(asked) <= 8
        session = answered(session, fault, circuit)
    assert session.case.found.faults == (fault,)


def test_a_sound_circuit_is_read_through():
    session, count = Session(case(LINE, taken=()), RULEBOOK), 0
    while (check := session.asked) is not None:
        session, count = session.read(as_true(None, LINE, check)), count + 1
        assert count <= 5
    assert session.diagnosis.verdict == "sound"
    assert session.diagnosis.not_read == ()
    # Two switched outlets in both positions, one without a switch.
    assert count == 5


def test_skipped_is_asked_again_only_at_the_end_and_what_cannot_be_done_never():
    session = begun(OPEN_EARTH, "S1", "S2", "S3")
    first = session.asked
    skipped = session.skip()
    assert skipped.case == session.case
    # The other end comes next, then the repair itself, and then the one that was skipped.
    assert (skipped.asked.test, skipped.asked.spot.at) == ("inspect", "S1")
    assert skipped.skip().asked.test == "exchange"
    assert skipped.skip().skip().asked.spot == first.spot
    never = session.cannot()
    assert never.case.cannot == ((first.test, first.spot.at),)
    assert never.asked is None or never.asked.spot != first.spot


def test_where_a_circuit_cannot_be_parted_it_may_be_read_whole():
    session = Session(case(LONG, taken=leak("S9")), RULEBOOK)
    while not session.asked.spot.parted:
        session = session.cannot()
    run = LONG.run(session.asked.spot.parted)
    after = session.cannot()
    assert after.case.cannot == (*session.case.cannot, ("part", run.upstream))
    assert after.asked.spot.parted != run.name


def test_undo_takes_the_last_answer_back():
    session = begun(OPEN_EARTH, "S3")
    assert session.undo() is session
    after = session.saw_nothing("S2").did_not_help("S1..S2")
    assert (after.number, after.case.looked, after.case.exchanged) == (2, ("S2",), ("S1..S2",))
    assert after.undo().case.exchanged == ()
    assert after.undo().undo().case == session.case


def test_a_reading_taken_again_takes_the_place_of_the_first():
    session = begun(OPEN_EARTH, "S3")
    old = session.case.readings[0]
    new = replace(old, amount=Amount(old.amount.value + 1.0, "="))
    after = session.read([new])
    assert len(after.case.readings) == len(session.case.readings)
    assert new in after.case.readings
    assert old not in after.case.readings
    assert old.spot in after.confirmed


def test_the_places_left_are_named_and_get_fewer():
    session = begun(OPEN_EARTH, "S3")
    while session.asked.test == "set-up":
        session = answered(session, OPEN_EARTH, LINE)
    before = session.places_left()
    assert "S1..S2" in before
    after = answered(session, OPEN_EARTH, LINE)
    assert set(after.places_left()) < set(before)


def test_what_was_found_ends_it():
    session = begun(OPEN_EARTH, "S3").found([OPEN_EARTH])
    assert session.asked is None
    assert session.cannot() is session
    assert session.skip() is session
    assert session.to_be_seen() == ()


def test_ohms_of_a_suspect_that_is_confirmed_are_kept_to_three_figures():
    session = begun(Fault("high-resistance", ("E",), "S1..S2", 1.2345), "S1", "S2", "S3")
    suspect = session.diagnosis.suspects[0]
    assert suspect.faults[0].mode == "high-resistance"
    (kept,) = session.confirmed_as(suspect).case.found.faults
    assert kept.r_ohm != suspect.faults[0].r_ohm
    assert kept.r_ohm == float(f"{kept.r_ohm:.3g}")
