"""Probabilities, and ohms with their intervals."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from modelled import LINE, LONG, MODES, RULEBOOK, UNKNOWN, readings

from diagnosis.simulated import bench_and_jury, seeded, taken
from faultfinder.diagnosis.catalogue import Hypothesis, catalogue, hypothesis
from faultfinder.diagnosis.posterior import judge
from faultfinder.readings.reading import Accuracy, Instrument
from faultfinder.wiring.fault import Fault

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

SOUND = Hypothesis((), (), None, 0.0)
JOINTS = 100
JOINTS_IN = "AAANE" * 3
FINE = Instrument(Accuracy(0.001, 0.0, 2e4, stated=True))


@pytest.fixture(scope="module")
def everything():
    return catalogue(LINE, MODES)


def one(mode, *conductors, at, r_ohm=None):
    rule = RULEBOOK.modes[mode]
    return hypothesis(rule, LINE, Fault(mode, conductors, at)), r_ohm


def judged(hypotheses, taken_, instrument=UNKNOWN):
    bench, jury = bench_and_jury(LINE, taken_, instrument)
    return judge(bench, jury, hypotheses).suspects


@pytest.mark.parametrize(
    "fault",
    [
        None,
        Fault("open", ("E",), "S2"),
        Fault("high-resistance", ("A",), "S1..S2", 1.0),
        Fault("bridged", ("A", "N"), "S3", 0.5),
        Fault("switch-bypassed", (), "S1"),
    ],
    ids=str,
)
def test_probabilities_are_shares_and_the_sound_circuit_has_one(everything, fault):
    found = judged(everything, readings(LINE, [fault] if fault else []))
    probabilities = [suspect.probability for suspect in found]
    assert 0.98 < sum(probabilities) <= 1 + 1e-9
    # In order, but for what only rounding tells apart.
    assert all(after <= before * (1 + 1e-8) for before, after in pairwise(probabilities))
    assert all(0 <= p <= 1 for p in probabilities)
    assert sum(not suspect.faults for suspect in found) == 1


def test_a_probability_is_prior_times_likelihood(everything):
    found = judged(everything, readings(LINE, [Fault("high-resistance", ("E",), "S2", 0.6)]))
    for suspect in found[1:]:
        logs = [s.log_likelihood + s.hypothesis.log_prior for s in (suspect, found[0])]
        ratio = math.exp(logs[0] - logs[1])
        assert suspect.probability / found[0].probability == pytest.approx(ratio)


def all_along(one, count):
    """Return ways of a fault in a run at so many spots evenly along it."""
    spots = (np.arange(count) + 0.5) / count
    return [one.ways[0].placed(spot, 1 / count) for spot in spots.tolist()]


def test_a_likelihood_is_the_average_over_ways_and_ohms():
    """Against a plain sum over 2,000 ohms, predicted exactly with their own shared errors.

    In a run it is over twenty spots all along it, and 500 ohms. Between its few ohms the program
    draws a smooth curve and keeps the shared errors of the best; 0.04 nats is what that may cost.
    """
    rng = seeded(4)
    for truth, r_ohm in (
        one("high-resistance", "E", at="S1..S2", r_ohm=1.3),
        one("bridged", "N", "E", at="S2", r_ohm=0.7),
        one("bridged", "A", "N", at="S2..S3", r_ohm=2.0),
    ):
        bench, jury = bench_and_jury(LINE, taken(LINE, truth.ways[0].edit(r_ohm), rng))
        found = next(s for s in judge(bench, jury, [SOUND, truth]).suspects if s.faults)
        width = 4.0  # of ln ohms; beyond it nothing is left of the likelihood
        in_run = truth.ways[0].along is not None
        x = math.log(r_ohm) + np.linspace(-width / 2, width / 2, 500 if in_run else 2000)
        logs = []
        for way in all_along(truth, 20) if in_run else truth.ways:
            edits = [way.edit(r) for r in np.exp(x).tolist()]
            spread = jury.spread(bench.lean(edits[::25]))
            fit = jury.weigh(bench.read(edits), np.repeat(spread, 25, axis=0))
            logs.append(np.logaddexp.reduce(fit.log) + math.log(way.weight * width / len(x)))
        whole = math.log(truth.ohms[1] / truth.ohms[0])
        exact = np.logaddexp.reduce(logs) - math.log(whole)
        assert found.log_likelihood == pytest.approx(exact, abs=0.04)


@pytest.mark.parametrize(("circuit", "at"), [(LINE, "S3"), (LONG, "S12")], ids=["three", "twelve"])
def test_a_likelihood_far_narrower_than_what_readings_share_is_found(circuit, at):
    """Joints at the end of a line, measured to 0.1 %: cable and terminators move readings more.

    Of twelve outlets few readings tell, and a sound circuit has slips where they do. Against a
    plain sum over a range of ohms about the truth, with the shared errors of the top.
    """
    rng = seeded(3)
    for conductor in JOINTS_IN:
        fault = Fault("high-resistance", (conductor,), at)
        truth = hypothesis(RULEBOOK.modes[fault.mode], circuit, fault)
        r_ohm = math.exp(rng.uniform(0.0, math.log(300.0)))
        taken_ = taken(circuit, truth.ways[0].edit(r_ohm), rng, instrument=FINE)
        bench, jury = bench_and_jury(circuit, taken_, FINE)
        found = next(s for s in judge(bench, jury, [SOUND, truth]).suspects if s.faults)
        assert found.r_ohm == pytest.approx(r_ohm, rel=0.2)
        x = math.log(found.r_ohm) + np.linspace(-0.1, 0.1, 801)
        read = bench.glimpse([truth.ways[0].edit(r) for r in np.exp(x).tolist()])
        fit = jury.weigh(read, found.spread[None], np.zeros(len(x), dtype=int))
        share = (x[1] - x[0]) / math.log(truth.ohms[1] / truth.ohms[0])
        exact = np.logaddexp.reduce(fit.log) + math.log(share)
        assert found.log_likelihood == pytest.approx(exact, abs=0.1)


def test_a_likelihood_that_is_highest_at_the_end_of_its_range_is_averaged_too():
    """Low insulation everywhere may be a bridge of the most ohms there are, or a little fewer.

    From the end the likelihood falls within a decade by several natural units.
    """
    truth, _ = one("bridged", "A", "E", at="S3")
    low = readings(LINE, tests=("insulation",))
    low = [r for r in low if (r.spot.at, r.spot.between) == ("DB", "A-E")]
    low = [replace(r, amount=replace(r.amount, value=2.0, bound="=")) for r in low]
    bench, jury = bench_and_jury(LINE, low)
    found = next(s for s in judge(bench, jury, [SOUND, truth]).suspects if s.faults)
    ln_ohms = np.linspace(*np.log(truth.ohms), 2000)
    logs = []
    for way in truth.ways:
        edits = [way.edit(r) for r in np.exp(ln_ohms).tolist()]
        fit = jury.weigh(bench.read(edits), np.repeat(jury.spread(bench.lean(edits[-1:])), 2000, 0))
        logs.append(np.logaddexp.reduce(fit.log) + math.log(way.weight / 2000))
    assert found.r_ohm == pytest.approx(truth.ohms[1])
    assert found.log_likelihood == pytest.approx(np.logaddexp.reduce(logs), abs=0.06)


def test_a_fault_that_readings_cannot_show_is_no_suspect(everything):
    """With the switch never tried, nothing speaks for one that is stuck on."""
    on = [r for r in readings(LINE) if r.spot.switch != "off"]
    found = judged(everything, on)
    assert not found[0].faults
    assert not any(f.mode.startswith("switch") for s in found for f in s.faults)


@pytest.mark.parametrize(
    ("instrument", "least_ohm", "most_ohm"),
    [(UNKNOWN, 0.3, 30.0), (Instrument(Accuracy(0.001, 0.01, 2e4, stated=True)), 30.0, 2000.0)],
    ids=["usual instrument, ohms", "fine instrument, large ohms"],
)
def test_intervals_cover_the_truth_in_nine_of_ten(instrument, least_ohm, most_ohm):
    """Of 100 joints 90 are expected inside; 80 is three standard deviations less, and a bit."""
    rng = seeded(7)
    truth, _ = one("high-resistance", "E", at="S1..S2")
    covered = 0
    for _ in range(JOINTS):
        r_ohm = math.exp(rng.uniform(math.log(least_ohm), math.log(most_ohm)))
        taken_ = taken(LINE, truth.ways[0].edit(r_ohm), rng, instrument=instrument)
        found = judged([SOUND, truth], taken_, instrument)
        low, median, high = next(s.ohms[0] for s in found if s.faults)
        assert low < median < high
        covered += low <= r_ohm <= high
    assert 0.8 <= covered / JOINTS <= 0.99


def test_the_estimate_is_the_truth_where_readings_have_no_error():
    for r_ohm in (0.5, 3.0, 40.0):
        truth, _ = one("high-resistance", "N", at="S2")
        found = judged(
            [SOUND, truth], readings(LINE, [Fault("high-resistance", ("N",), "S2", r_ohm)])
        )
        assert found[0].faults[0].r_ohm == pytest.approx(r_ohm, rel=0.05)
        assert found[0].r_ohm == pytest.approx(r_ohm, rel=0.05)


def test_the_prior_decides_between_suspects_that_read_alike(everything):
    found = judged(everything, readings(LINE, [Fault("switch-bypassed", (), "S1")]))
    first, second = found[:2]
    assert [first.faults[0].mode, second.faults[0].mode] == ["switch-stuck-on", "switch-bypassed"]
    prior = {id_: mode.prior.outlet for id_, mode in RULEBOOK.modes.items()}
    assert first.probability / second.probability == pytest.approx(
        prior["switch-stuck-on"] / prior["switch-bypassed"], rel=1e-6
    )


@pytest.mark.parametrize("backwards", [False, True])
def test_suspects_alike_in_everything_keep_the_order_given(everything, backwards):
    """The run to the last outlet, and its inside: rounding must not decide."""
    given = everything[::-1] if backwards else everything
    for mode, conductors, r_ohm in (
        ("open", ("E",), None),
        ("high-resistance", ("N",), 1.5),
        ("transposed", ("A", "E"), None),
    ):
        taken_ = readings(LINE, [Fault(mode, conductors, "S3", r_ohm)])
        places = [s.faults[0].at for s in judged(given, taken_)[:2]]
        assert places == (["S3", "S2..S3"] if backwards else ["S2..S3", "S3"])


def test_slips_are_those_of_the_likeliest(everything):
    taken_ = list(readings(LINE, [Fault("open", ("E",), "S1..S2")]))
    odd = next(i for i, r in enumerate(taken_) if str(r.spot) == "A-N at S2, switch on")
    value = replace(taken_[odd].amount, value=99.0)
    taken_[odd] = replace(taken_[odd], amount=value)
    (first, *_) = judged(everything, taken_)
    assert (first.faults[0].mode, first.faults[0].at) == ("open", "S1..S2")
    assert np.flatnonzero(first.slips).tolist() == [odd]


def test_a_suspect_can_be_built(everything):
    found = judged(everything, readings(LINE, [Fault("bridged", ("A", "E"), "S1", 0.4)]))
    bench, _ = bench_and_jury(LINE, readings(LINE))
    for suspect in found:
        assert bench.read([suspect.edit])[0] == pytest.approx(suspect.read)
        assert (suspect.way is None) == (not suspect.faults)
