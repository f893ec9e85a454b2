"""A spot that a rule file lists stands for the stretch of run about it."""

import numpy as np
import pytest
from modelled import LINE, RULEBOOK, readings

from diagnosis.simulated import bench_and_jury
from diagnosis.test_live import SITES, TWO
from faultfinder.diagnosis.catalogue import Hypothesis, hypothesis
from faultfinder.diagnosis.screen import Candidate
from faultfinder.diagnosis.stretches import stretched
from faultfinder.evidence.bench import Bench
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.wiring.fault import Fault

BRIDGE = hypothesis(RULEBOOK.modes["bridged"], LINE, Fault("bridged", ("A", "E"), "S1..S2"))
SOUND = Hypothesis((), (), None, 0.0)


def parts(mass, ways=BRIDGE.ways):
    """Return candidates of a bridge in a run taken in parts, and the bench they are read on."""
    bench, _ = bench_and_jury(LINE, readings(LINE))
    ohms = np.array([0.5, 1.0, 2.0])
    candidates = [Candidate(1, way, ohms, np.zeros(3)) for way in ways]
    return bench, stretched(bench, [SOUND, BRIDGE], candidates, mass)


def test_a_level_likelihood_is_told_by_its_spots():
    _, (kept, beside, whose) = parts([0.0, 0.1, 0.1, 0.0, 0.0])
    assert [one.way for one in kept] == list(BRIDGE.ways)
    assert beside == whose == []


def test_what_is_far_behind_is_told_by_its_spots():
    _, (_, _, whose) = parts([0.0, -3.0, -7.0, -20.0, -20.0])
    assert set(whose) == {0, 1, 2}


def test_a_neighbour_that_was_not_looked_at_is_far_off():
    _, (_, _, whose) = parts([0.0], BRIDGE.ways[2:3])
    assert whose == [0, 0]


def test_parts_hold_all_of_their_stretch():
    """Gauss's rule: any polynomial of the fifth degree has its mean over the run."""
    _, (kept, beside, _) = parts([0.0, 5.0, 0.0, 5.0, 0.0])
    ways = [one.way for one in (*kept, *beside)]
    assert len(ways) == 15
    assert sum(way.weight for way in ways) == pytest.approx(1)
    for degree in range(6):
        mean = sum(way.weight * way.along**degree for way in ways)
        assert mean == pytest.approx(1 / (degree + 1), rel=1e-12)


def test_parts_read_what_the_network_does():
    bench, (_, beside, _) = parts([0.0, 5.0, 0.0, 5.0, 0.0])
    for one in beside:
        exact = bench.read([one.way.edit(r_ohm) for r_ohm in one.r_ohm.tolist()])
        assert one.reads(one.r_ohm) == pytest.approx(exact, rel=1e-5)


def test_live_readings_are_worked_out():
    """The size of a phasor is no ratio of two straight lines in the ohms."""
    run = Fault("bridged", ("A", "E"), "K1..K2")
    bridge = hypothesis(RULEBOOK.modes["bridged"], TWO, run)
    spots = spots_of(RULEBOOK.procedures["loop"], TWO)
    bench = Bench(TWO, RULEBOOK.procedures, None, spots, SITES["TN-C-S"])
    candidates = [Candidate(1, bridge.ways[0], np.ones(3), np.zeros(3))]
    _, beside, _ = stretched(bench, [SOUND, bridge], candidates, [0.0])
    assert [one.reads for one in beside] == [None, None]
