"""The rules that come with the program pass their own check, and their signs find every mode.

Held against the model on the circuits of rules/example.yaml, every fault put in, every test that a
sign speaks of read everywhere without error.
"""

from functools import cache

import pytest

from faultfinder.authoring.check import check
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.source.shelf import shipped_shelf

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

RULEBOOK = shipped_rulebook()

# Faults that no sign places, and why; the model alone finds them.
UNSIGNED = {
    # The tests at outlets show them first beyond the box, and no sign reads the box.
    ("transposed", "B1..J1"),
    # With both poles switched the neutral opens as it should: no sign asks for the active alone.
    ("switch-bypassed", "S2"),
    ("switch-in-neutral", "S2"),
}


@cache
def checked():
    return check(shipped_shelf())


def tried():
    return checked().tried


def test_nothing_is_wrong_with_them():
    assert checked().findings == ()


def test_every_sign_has_been_right():
    assert set(checked().signs) == {pointer.sign.id for pointer in RULEBOOK.pointers}
    assert all(record.right for record in checked().signs.values())


@pytest.mark.parametrize("mode", RULEBOOK.modes)
def test_every_mode_is_found_by_a_sign(mode):
    assert any(record.mode == mode and record.right for record in checked().signs.values())


def test_no_sign_fires_on_a_sound_circuit():
    sound = [trial for trial in tried() if trial.fault is None]
    assert sound
    assert all(trial.pointed == {} for trial in sound)


def test_every_place_of_a_fault_is_found_by_a_sign_but_those_listed():
    shown = {
        (trial.fault.mode, trial.fault.at)
        for trial in tried()
        if trial.fault and any(trial.fault in faults for faults in trial.pointed.values())
    }
    every = {(trial.fault.mode, trial.fault.at) for trial in tried() if trial.fault}
    assert every - shown == UNSIGNED
