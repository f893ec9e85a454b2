"""What tests should read, sound and with faults: what electricians know to be so."""

import math

import pytest
from modelled import BRANCHED, LINE, RULEBOOK, TERMINATORS, UNKNOWN, expected

from faultfinder.diagnosis.foretell import ImpossibleFault, foretell
from faultfinder.wiring.fault import Fault

OPEN = math.inf


def reads(*faults, at, switch="on", test="terminated", circuit=LINE):
    """Return the expected values of one place, by pair."""
    return {
        e.spot.between: e.value
        for e in expected(circuit, faults, (test,))
        if (e.spot.at, e.spot.switch) == (at, switch)
    }


def about(**pairs):
    """Return values to within the conductors of LINE, less than half an ohm there and back."""
    return {
        pair.replace("_", "-"): value if value == OPEN else pytest.approx(value + 0.25, abs=0.25)
        for pair, value in pairs.items()
    }


def test_a_sound_outlet_reads_the_sum_the_first_and_the_second_terminator():
    assert reads(at="S1") == about(A_N=15, A_E=10, N_E=5)
    assert reads(at="S3", switch="") == about(A_N=15, A_E=10, N_E=5)


def test_switched_off_it_reads_neutral_to_earth_only():
    assert reads(at="S1", switch="off") == about(A_N=OPEN, A_E=OPEN, N_E=5)
    assert reads(at="S2", switch="off") == about(A_N=OPEN, A_E=OPEN, N_E=OPEN)  # both poles


def test_active_and_neutral_exchanged_read_the_neutrals_on_a_e_and_the_actives_on_n_e():
    fault = Fault("transposed", ("A", "N"), "S1..S2")
    assert reads(fault, at="S1") == about(A_N=15, A_E=10, N_E=5)
    assert reads(fault, at="S2") == about(A_N=15, A_E=5, N_E=10)
    assert reads(fault, at="S3", switch="") == about(A_N=15, A_E=5, N_E=10)


def test_an_outlet_fault_is_not_seen_beyond_it():
    fault = Fault("open", ("E",), "S2")
    assert reads(fault, at="S2") == about(A_N=15, A_E=OPEN, N_E=OPEN)
    assert reads(fault, at="S3", switch="") == about(A_N=15, A_E=10, N_E=5)


def test_a_fault_in_a_run_is_seen_there_and_beyond():
    fault = Fault("open", ("E",), "J1..S2")
    for at, is_lost in (("S1", False), ("S2", True), ("S3", True), ("S4", False)):
        found = reads(fault, at=at, switch="" if at == "S4" else "on", circuit=BRANCHED)
        assert (found["A-E"] == OPEN, found["N-E"] == OPEN) == (is_lost, is_lost)


def test_a_switch_in_the_neutral_leaves_the_active_on():
    fault = Fault("switch-in-neutral", (), "S1")
    assert reads(fault, at="S1", switch="off") == about(A_N=OPEN, A_E=10, N_E=OPEN)


def test_a_poor_joint_adds_its_ohms_to_what_needs_it():
    fault = Fault("high-resistance", ("N",), "S1..S2", 4.0)
    sound, faulty = reads(at="S2"), reads(fault, at="S2")
    added = {pair: faulty[pair] - value for pair, value in sound.items()}
    assert added == pytest.approx({"A-N": 4.0, "A-E": 0.0, "N-E": 4.0}, abs=1e-9)


def test_two_faults_act_together_in_whatever_order():
    one, two = Fault("open", ("E",), "S2"), Fault("transposed", ("A", "N"), "S1..S2")
    both = reads(one, two, at="S2")
    assert both == about(A_N=15, A_E=OPEN, N_E=OPEN)
    assert reads(two, one, at="S2") == both
    assert reads(one, two, at="S3", switch="") == about(A_N=15, A_E=5, N_E=10)


def test_every_test_is_foretold_in_the_order_asked():
    asked = ("linked-out", "long-lead")
    several = foretell(LINE, RULEBOOK, asked, TERMINATORS, UNKNOWN).readings
    assert list(dict.fromkeys(e.spot.test for e in several)) == ["linked-out", "long-lead"]
    assert {e.unit for e in several} == {"ohm"}


@pytest.mark.parametrize(
    ("fault", "found", "wanted"),
    [
        (Fault("open", (), "S1"), '"open" does not fit', "open with A, N, E"),
        (Fault("open", ("A", "E"), "S1"), '"open A-E" does not fit', "open with A, N, E"),
        (
            Fault("switch-stuck-on", ("A",), "S1"),
            '"switch-stuck-on A" does not fit',
            "switch-stuck-on with no conductors",
        ),
        (
            Fault("switch-stuck-on", (), "S3"),
            '"switch-stuck-on" cannot be at S3',
            "at: switch or switched outlet",
        ),
        (
            Fault("switch-stuck-on", (), "S1..S2"),
            '"switch-stuck-on" cannot be at S1..S2',
            "at: switch or switched outlet",
        ),
        (Fault("open", ("E",), "S1", 2.0), '"open" has no ohms', "the fault without ohms"),
        (
            Fault("bridged", ("A", "N"), "S1"),
            '"bridged A-N at S1" without ohms',
            'its ohms, such as "bridged A-N at S1 2.5 ohm"',
        ),
    ],
)
def test_a_fault_that_cannot_be_is_refused_with_what_could(fault, found, wanted):
    with pytest.raises(ImpossibleFault) as refusal:
        foretell(LINE, RULEBOOK, ("terminated",), TERMINATORS, UNKNOWN, [fault])
    assert (refusal.value.found, refusal.value.expected) == (found, wanted)
