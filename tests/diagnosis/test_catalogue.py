"""Every fault the rules know at every place: none missing, none twice, priors that add up."""

import math
from itertools import combinations

import pytest
from examples import slow
from hypothesis import given
from modelled import LINE, MODES, RULEBOOK
from strategies import circuits

from faultfinder.diagnosis.catalogue import catalogue, hypothesis
from faultfinder.wiring.circuit import CONDUCTORS
from faultfinder.wiring.fault import Fault

EVERYTHING = catalogue(LINE, MODES)


def test_it_lists_every_mode_at_every_place_with_every_choice():
    runs, outlets = [run.name for run in LINE.runs], ["S1", "S2", "S3"]
    singles = [(c,) for c in CONDUCTORS]
    pairs = list(combinations(CONDUCTORS, 2))
    rings = [("A", "N", "E"), ("A", "E", "N")]
    expected = {
        (mode, choice, at)
        for at in (*runs, *outlets)
        for mode, choices in (
            ("open", singles),
            ("high-resistance", singles),
            ("bridged", pairs),
            ("transposed", pairs + rings),
        )
        for choice in choices
    }
    expected |= {
        (f"switch-{what}", (), at)
        for what in ("in-neutral", "bypassed", "stuck-on", "stuck-off")
        for at in ("S1", "S2")
    }
    expected |= {("undersized", (), at) for at in runs}
    expected |= {(mode, (), at) for mode in ("parallel-earth", "link-extra") for at in outlets}
    found = [h.faults[0] for h in EVERYTHING[1:]]
    assert {(f.mode, f.conductors, f.at) for f in found} == expected
    assert len(found) == len(expected)


def test_the_sound_circuit_comes_first_and_has_what_faults_leave():
    assert EVERYTHING[0].faults == ()
    assert EVERYTHING[0].ways == ()
    left = 1.0
    for mode in MODES:
        for at in {fault.at for fault in mode.faults(LINE)}:
            left *= 1 - mode.chance(LINE, at)
    assert math.exp(EVERYTHING[0].log_prior) == pytest.approx(left)


@slow(30)
@given(circuits())
def test_the_choices_of_a_mode_at_a_place_share_its_prior(circuit):
    chances = {}
    for h in catalogue(circuit, MODES)[1:]:
        key = h.faults[0].mode, h.faults[0].at
        chances[key] = chances.get(key, 0.0) + math.exp(h.log_prior)
        assert sum(way.weight for way in h.ways) == pytest.approx(1)
    for (mode, at), chance in chances.items():
        prior = RULEBOOK.modes[mode].prior
        assert chance == pytest.approx(prior.outlet if circuit.point(at) else prior.run)


def test_a_bridge_has_a_way_for_every_spot():
    bridged = RULEBOOK.modes["bridged"]

    def spots(at):
        ways = hypothesis(bridged, LINE, Fault("bridged", ("A", "N"), at)).ways
        return [(step.side, step.along) for way in ways for step in way.steps]

    assert [side for side, _ in spots("S1")] == ["supply", "load", "load-in-use"]
    assert [side for side, _ in spots("S3")] == ["supply"]  # nothing is behind a switch there
    assert [along for _, along in spots("S1..S2")] == [0.1, 0.3, 0.5, 0.7, 0.9]


def test_what_signs_point_to_is_judged_once_and_only_where_it_can_be():
    known, impossible = Fault("open", ("E",), "S2"), Fault("switch-stuck-on", (), "S3")
    unknown = Fault("gremlins", (), "S2")
    pointed = catalogue(LINE, MODES, [known, impossible, unknown])
    assert [h.faults for h in pointed] == [h.faults for h in EVERYTHING]
    few = [RULEBOOK.modes["open"]]
    assert len(catalogue(LINE, few, [known])) == len(catalogue(LINE, few))
