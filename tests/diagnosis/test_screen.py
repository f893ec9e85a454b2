"""The quick look: its curves are exact, and it drops nothing that exact weighing would put first.

A reading is (a + b r) / (c + d r) in the ohms r of one branch, and three exact readings, at r = 0,
5 ohm and open, settle it. What they are off by is rounding, 1e-16 of a reading, over the share of
the reading that moves between two of them: insulation of 1e10 ohm that a bridge elsewhere moves by
one ohm leaves six digits. 1e-6 is asked for, a hundredth of what any instrument here can show.
"""

import math

import numpy as np
import pytest
from examples import slow
from hypothesis import given
from hypothesis import strategies as st
from modelled import BRANCHED, DEAD, LINE, MODES, RULEBOOK, TERMINATORS
from strategies import circuits

from diagnosis.simulated import bench_and_jury, seeded, taken
from faultfinder.diagnosis import screen as screening
from faultfinder.diagnosis import spans
from faultfinder.diagnosis.catalogue import catalogue, hypothesis, no_edit
from faultfinder.diagnosis.curves import MIDDLE_OHM, Curves
from faultfinder.diagnosis.families import families
from faultfinder.diagnosis.posterior import judge
from faultfinder.diagnosis.settled import Settled, settled
from faultfinder.evidence.bench import Bench
from faultfinder.rulebook.arrangement import spots_of

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

OPEN = math.inf
TESTS = DEAD
WITH_OHMS = [mode for mode in MODES if mode.ohms]
CASES = 20
NATS = 1.0  # which numbers are slips is told a little differently for a range and for a value


def assert_curves_are_exact(circuit, test, mode, points=9):
    spots = spots_of(RULEBOOK.procedures[test], circuit)
    bench = Bench(circuit, RULEBOOK.procedures, TERMINATORS, spots)
    ways = [way for fault in mode.faults(circuit) for way in hypothesis(mode, circuit, fault).ways]
    ohms = np.geomspace(mode.ohms.from_ohm, mode.ohms.to_ohm, points)
    ends = bench.read([way.edit(r) for way in ways for r in (0.0, MIDDLE_OHM, OPEN)])
    curves = Curves(ends.reshape(len(ways), 3, -1))
    found = curves.at(np.broadcast_to(ohms, (len(ways), points)))
    exact = bench.read([way.edit(r) for way in ways for r in ohms]).reshape(found.shape)
    assert (np.isfinite(found) == np.isfinite(exact)).all()
    number = np.isfinite(exact)
    assert found[number] == pytest.approx(exact[number], rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("mode", WITH_OHMS, ids=lambda mode: mode.id)
@pytest.mark.parametrize("test", TESTS)
def test_curves_are_exact_over_all_ohms(test, mode):
    assert_curves_are_exact(LINE, test, mode)
    assert_curves_are_exact(BRANCHED, test, mode, points=3)


@slow(20)
@given(circuits(max_points=4), st.sampled_from(TESTS), st.sampled_from(WITH_OHMS))
def test_curves_are_exact_on_any_circuit(circuit, test, mode):
    assert_curves_are_exact(circuit, test, mode, points=4)


def test_readings_tell_the_ohms_that_would_make_them():
    mode = RULEBOOK.modes["bridged"]
    spots = spots_of(RULEBOOK.procedures["terminated"], LINE)
    bench = Bench(LINE, RULEBOOK.procedures, TERMINATORS, spots)
    for way in hypothesis(mode, LINE, mode.faults(LINE)[0]).ways:
        ends = bench.read([way.edit(r) for r in (0.0, MIDDLE_OHM, OPEN)])
        curves = Curves(ends[None])
        asked = curves.ohms_for(bench.read([way.edit(3.7)])[0])
        told = asked[np.isfinite(asked)]
        assert told.size
        assert told == pytest.approx(3.7, rel=1e-6)


@pytest.fixture(scope="module")
def everything():
    return catalogue(LINE, MODES)


def random_edit(everything, rng):
    chosen = everything[rng.integers(len(everything))]
    if not chosen.faults:
        return no_edit
    way = chosen.ways[rng.integers(len(chosen.ways))]
    return way.edit(math.exp(rng.uniform(math.log(0.1), math.log(100))))


def test_it_never_drops_what_would_come_first(everything, monkeypatch):
    rng = seeded(20)
    for _ in range(CASES):
        bench, jury = bench_and_jury(LINE, taken(LINE, random_edit(everything, rng), rng))
        quick = judge(bench, jury, everything).suspects
        with monkeypatch.context() as patch:
            for bound in ("BEHIND_NATS", "_MATTERS_NATS", "_UNSPOKEN_NATS"):
                patch.setattr(screening, bound, OPEN)
            patch.setattr(screening, "_MOST_KEPT", len(everything) * 9)
            unpruned = judge(bench, jury, everything).suspects
        kept = {suspect.hypothesis.faults: suspect.probability for suspect in quick}
        assert quick[0].hypothesis is unpruned[0].hypothesis
        for suspect in unpruned:
            if suspect.probability > 0.01:
                assert kept[suspect.hypothesis.faults] == pytest.approx(
                    suspect.probability, abs=0.01
                )


def test_the_sound_circuit_is_always_judged(everything):
    rng = seeded(21)
    for _ in range(6):
        bench, jury = bench_and_jury(LINE, taken(LINE, random_edit(everything, rng), rng))
        candidates = screening.screen(jury, families(bench, everything)).candidates
        assert any(candidate.way is None for candidate in candidates)
        assert all(len(candidate.r_ohm) <= spans._ROWS + 1 for candidate in candidates)
        assert all((np.diff(candidate.r_ohm) > 0).all() for candidate in candidates)


@pytest.mark.parametrize("test", [t for t in TESTS if spots_of(RULEBOOK.procedures[t], LINE)])
def test_no_ohms_score_above_the_bound_that_leaves_families_out(test):
    """Opens, values, and predictions of every ohms between bolted and open."""
    rng = seeded(22)
    made = catalogue(LINE, WITH_OHMS)[1:]
    ohms = np.geomspace(0.01, 2e6, 40)
    for guess in (None, *(made[i] for i in rng.integers(len(made), size=4))):
        true = no_edit if guess is None else guess.ways[0].edit(rng.uniform(0.1, 20.0))
        bench, jury = bench_and_jury(LINE, taken(LINE, true, rng, (test,)))
        lean = bench.lean([true])
        scores = settled(jury, lean.read, jury.spread(lean))
        for family in made:
            way = family.ways[-1]
            read = bench.read([way.edit(r) for r in (0.0, *ohms, OPEN)])
            low, high = np.sort(read[[0, -1]], axis=0)[:, None]
            assert (scores.about(read) <= scores.within(low, high) + NATS).all()


def test_families_left_out_change_no_probability(everything, monkeypatch):
    rng = seeded(23)
    for _ in range(8):
        bench, jury = bench_and_jury(LINE, taken(LINE, random_edit(everything, rng), rng))
        quick = judge(bench, jury, everything)
        with monkeypatch.context() as patch:
            patch.setattr(Settled, "within", lambda _, low, *_args: np.full(len(low), OPEN))
            searched = judge(bench, jury, everything)
        assert quick.unseen == pytest.approx(searched.unseen, abs=1e-6)
        probable = [s for s in searched.suspects if s.probability > 1e-6]
        for one, other in zip(quick.suspects, probable, strict=False):
            assert one.faults == other.faults
            assert one.probability == pytest.approx(other.probability, abs=1e-6)
