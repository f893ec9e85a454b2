"""Every shipped sign against the model: what makes it fire, and what it then points to.

On two small circuits each fault of the catalogue is put in, 3 ohm where it has ohms (0.5 ohm for a
bridge), and every dead test is read everywhere without error.
"""

from collections import defaultdict
from functools import cache

import numpy as np
import pytest
from modelled import BRANCHED, DEAD, LINE, MODES, RULEBOOK, TERMINATORS, UNKNOWN, expected

from faultfinder.diagnosis.catalogue import hypothesis, no_edit
from faultfinder.diagnosis.pointing import signs_met
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.expectation import of_spots
from faultfinder.evidence.grading import grade_readings
from faultfinder.evidence.meter import meter_for
from faultfinder.readings.reading import Reading
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.source.quantity import Amount

CIRCUITS = {"line": LINE, "branched": BRANCHED}
OHMS = {"bridged": 0.5, "high-resistance": 3.0}
WAY = {"undersized": -1}  # the way a mode is built in, if not its first: the most ohms
SIGNS = {
    pointer.sign.id: pointer
    for pointer in RULEBOOK.pointers
    if pointer.target.mode in {mode.id for mode in MODES}
}

# Which modes but its own make a sign fire, by the beginning of its id. Readings that two faults
# share are shared by their signs: it is the model that tells them apart, or says that it cannot.
ALSO_FIRED_BY = {
    # Two conductors exchanged give each the other's terminator: lower than expected, everywhere.
    "bridged-near-a": {"transposed"},
    "bridged-in-run-near-a": {"transposed"},
    "bridged-near-a-n": {"transposed", "link-extra"},
    "bridged-in-run-near-a-n": {"transposed", "link-extra"},
    # A second link is a bridge from neutral to earth, made on purpose.
    "bridged-near-n": {"link-extra"},
    "bridged-in-run-near-n": {"link-extra"},
    "poor-insulation-n": {"link-extra"},
    "neutral-and-earth-joined-at-outlet": {"bridged"},
    # Ohms in every conductor are ohms in each; with a thin earth only its readings are off enough.
    "poor-joint-end-to-end": {"undersized"},
    "poor-joint-in-run-e": {"undersized"},
    # A switch that does not close is an active that is lost.
    "open-in-run-a": {"switch-stuck-off"},
    "open-in-outlet-a": {"switch-stuck-off"},
    "switch-never-closes": {"open"},
    # End to end, an exchanged conductor is found on another's terminal, and not on its own.
    "open-end-to-end-a": {"switch-stuck-off", "transposed"},
    "open-end-to-end": {"transposed"},
    # The same closed path at a single-pole switch.
    "switch-changes-nothing": {"switch-stuck-on"},
    "switch-never-opens": {"switch-bypassed"},
}

# Faults that no sign places, and why; the model alone finds them.
UNSIGNED = {
    # The tests at outlets show them first beyond the box, and no sign reads the box.
    "branched": {("transposed", "S1..J1")},
    # With both poles switched the neutral opens as it should: no sign asks for the active alone.
    "line": {("switch-bypassed", "S2"), ("switch-in-neutral", "S2")},
}


@cache
def met():
    """Return, by circuit and fault (None for sound), the faults pointed to and by which signs."""
    found = {}
    for name, circuit in CIRCUITS.items():
        faults = [fault for mode in MODES for fault in mode.faults(circuit)]
        ways = [
            hypothesis(RULEBOOK.modes[f.mode], circuit, f).ways[WAY.get(f.mode, 0)] for f in faults
        ]
        edits = [no_edit, *(w.edit(OHMS.get(w.fault.mode, 0.0)) for w in ways)]
        for fault in (None, *faults):
            found[name, fault] = defaultdict(set)
        for test in DEAD:
            spots = spots_of(RULEBOOK.procedures[test], circuit)
            read = Bench(circuit, RULEBOOK.procedures, TERMINATORS, spots).read(edits)
            opens = meter_for(spots, RULEBOOK.procedures, UNKNOWN).chance_open(read) > 0.5
            sound = of_spots(expected(circuit, tests=(test,)))
            for fault, row, is_open in zip((None, *faults), read, opens, strict=True):
                values = np.where(is_open, np.inf, row).tolist()
                taken = [
                    Reading(spot, Amount(value, "open" if np.isinf(value) else "="), 0.01)
                    for spot, value in zip(spots, values, strict=True)
                ]
                told = signs_met(circuit, RULEBOOK, grade_readings(taken, sound))
                for pointed, testimonies in told.items():
                    found[name, fault][pointed] |= {t.sign for t in testimonies}
    return found


def also_fired_by(sign):
    beginnings = [known for known in ALSO_FIRED_BY if sign.startswith(known)]
    return ALSO_FIRED_BY[max(beginnings, key=len)] if beginnings else set()


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_no_sign_fires_on_a_sound_circuit(circuit):
    assert not met()[circuit, None]


@pytest.mark.parametrize("sign", SIGNS)
def test_every_sign_fires_for_the_fault_it_points_to(sign):
    target = SIGNS[sign].target
    hits = {
        fault
        for (_, fault), pointed in met().items()
        if fault is not None and sign in pointed.get(fault, ())
    }
    assert hits
    assert {fault.mode for fault in hits} == {target.mode}


@pytest.mark.parametrize("sign", SIGNS)
def test_every_sign_fires_for_its_own_mode_and_those_listed_only(sign):
    modes = {
        fault.mode
        for (_, fault), pointed in met().items()
        if any(sign in signs for signs in pointed.values())
    }
    assert modes == {SIGNS[sign].target.mode} | also_fired_by(sign)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_every_fault_is_placed_by_a_sign_but_those_listed(circuit):
    silent = {
        (fault.mode, fault.at)
        for (name, fault), pointed in met().items()
        if name == circuit and fault is not None and fault not in pointed
    }
    assert silent == UNSIGNED[circuit]


@pytest.mark.parametrize("mode", [mode.id for mode in MODES])
def test_every_mode_has_a_sign(mode):
    """But one of two circuits: a sign sees the readings of one, and cannot name the other."""
    assert any(
        fault is not None and fault.mode == mode and fault in pointed
        for (_, fault), pointed in met().items()
    )


def test_the_table_of_what_else_fires_is_of_signs_there_are():
    for beginning in ALSO_FIRED_BY:
        assert any(sign.startswith(beginning) for sign in SIGNS), beginning
