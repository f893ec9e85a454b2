"""Why not this one, and what decides between two: the numbers behind the words."""

import math

import numpy as np
import pytest
from modelled import LINE, LONG, RULEBOOK, case, readings

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.foretell import ImpossibleFault
from faultfinder.wiring.fault import Fault, parse_fault

JOINT = Fault("high-resistance", ("N",), "S2", 1.5)
LOST = Fault("open", ("E",), "S1..S2")


def why(truth, *asked, circuit=LINE):
    return diagnose(case(circuit, [truth] if truth else []), RULEBOOK, asked).why


def test_the_leader_leads_and_says_what_speaks_for_it():
    (one,) = why(JOINT, Fault("high-resistance", ("N",), "S2"))
    assert (one.standing, one.fault.at) == ("leads", "S2")
    assert one.probability > 0.9
    assert one.fault.r_ohm == pytest.approx(1.5, rel=0.05)
    assert {decisive.reading.spot.at for decisive in one.decisive} == {"S2"}


def test_a_fault_far_off_is_weighed_though_the_screen_dropped_it():
    (one,) = why(JOINT, Fault("bridged", ("A", "E"), "S3"))
    assert one.standing == "ruled out"
    assert 0 <= one.probability < 1e-6
    assert one.decisive[0].rival_off_sd > 3


def test_how_far_off_is_in_standard_deviations_of_all_errors():
    (one,) = why(JOINT, Fault("transposed", ("A", "N"), "S3"))
    worst = next(
        d for d in one.decisive if (d.reading.spot.at, d.reading.spot.between) == ("S3", "A-E")
    )
    # 10 ohm where 5 would be: terminators are good to 1 %, the instrument to 1 % and 0.01 ohm.
    apart = worst.reading.reading.amount.value - worst.with_rival
    assert apart == pytest.approx(5.0, abs=0.01)
    assert 0.08 < apart / worst.rival_off_sd < 0.25
    assert worst.with_it == pytest.approx(worst.reading.reading.amount.value, abs=0.01)


def test_open_against_a_value_has_no_number_of_deviations():
    (one,) = why(LOST, Fault("open", ("E",), "S2..S3"))
    assert one.decisive[0].rival_off_sd == math.inf


def test_what_reads_the_same_cannot_be_told_and_is_told_by_another_test_if_any():
    one, other = why(
        Fault("switch-stuck-on", (), "S1"),
        *(Fault(mode, (), "S1") for mode in ("switch-stuck-on", "switch-bypassed")),
    )
    assert {one.standing, other.standing} == {"leads", "cannot be told from the leader"}
    assert all(not each.decisive or each.standing == "leads" for each in (one, other))


def test_a_fault_these_readings_cannot_show_is_said_to_be_so():
    (one,) = why(None, Fault("bridged", ("N", "E"), "S2"))
    assert one.standing in {"not shown by these readings", "cannot be told from the leader"}
    assert one.probability < 0.05


def test_a_mistake_is_asked_for_by_its_id_alone():
    asked, _ = parse_fault("rows-exchanged", LONG, RULEBOOK.set_ups)
    (one,) = why(Fault("open", ("E",), "S3..S4"), asked, circuit=LONG)
    assert one.fault.set_up == "rows-exchanged"
    assert "," in one.fault.at
    assert one.standing == "ruled out"


def test_what_would_tell_is_a_reading_not_taken_yet():
    (one,) = why(LOST, Fault("open", ("E",), "S2"))
    taken = {reading.spot for reading in readings(LINE)}
    assert one.check is not None
    assert one.check.spot not in taken
    assert one.check.information_bits == pytest.approx(1.0)


@pytest.mark.parametrize(
    "asked",
    [
        Fault("switch-bypassed", (), "S3"),
        Fault("open", ("A", "N"), "S2"),
        Fault("set-up", (), "S1,S3", set_up="rows-exchanged"),
    ],
)
def test_a_fault_there_is_no_room_for_is_refused(asked):
    with pytest.raises(ImpossibleFault):
        why(None, asked)


# -- the leader against the runner-up, and what cannot be told apart ------------------------------


def test_the_contrast_is_with_the_first_outside_the_leading_group():
    diagnosis = diagnose(case(LINE, [JOINT]), RULEBOOK)
    rival = diagnosis.suspects[diagnosis.contrast.rival - 1]
    assert rival.group != 1
    assert all(s.group == 1 for s in diagnosis.suspects[: diagnosis.contrast.rival - 1])
    gains = [abs(d.with_rival - d.with_it) for d in diagnosis.contrast.readings]
    assert gains
    assert np.isfinite(gains).all()


def test_a_suspect_that_lost_is_sunk_by_a_reading_the_leader_explains():
    diagnosis = diagnose(case(LINE, [JOINT]), RULEBOOK)
    for suspect in diagnosis.suspects:
        if suspect.group == 1:
            assert suspect.sunk_by is None
        elif suspect.sunk_by is not None:
            value = suspect.sunk_by.reading.reading.amount.value
            assert abs(suspect.sunk_by.with_it - value) <= abs(suspect.sunk_by.with_rival - value)


def test_a_group_says_whether_its_readings_are_equal_or_too_close():
    equal = diagnose(case(LINE, [Fault("switch-stuck-on", (), "S1")]), RULEBOOK)
    assert equal.alike == "Each of the readings given is the same with any of these."
    close = diagnose(case(LINE, [Fault("bridged", ("A", "E"), "S3", 0.05)]), RULEBOOK)
    if len(close.leading) > 1:
        assert close.alike.startswith(("They differ most in ", "To the last digit"))
    assert diagnose(case(LINE, [JOINT]), RULEBOOK).alike == ""
