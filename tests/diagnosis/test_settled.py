"""What no weighing of a hypothesis is to exceed, against the likelihood that is reported.

The bound takes all hypotheses to lean on shared errors as what reads nearest to the readings does;
the reported likelihood has each one's own slopes and accuracies. So it is a bound within a margin:
``MARGINS`` has it, by how many nats a hypothesis is behind the best. Checked on circuits of 3, 6
and 44 outlets, singles and pairs, cable and instrument off as ``rules/tolerances.yaml`` says they
may be.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from modelled import BRANCHED, LINE, LONG, MODES, RING
from scipy.optimize import lsq_linear

from diagnosis.simulated import bench_and_jury, seeded, taken
from faultfinder.diagnosis.catalogue import catalogue, no_edit
from faultfinder.diagnosis.settled import settled
from faultfinder.network.branch import in_turn
from faultfinder.wiring.circuit import Point, Run

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

NATS = 3.0
MARGINS = ((10.0, NATS), (40.0, 25.0))
ROUNDING_NATS = 1e-6
GENEROUS = 12.0  # what is a little far off may lean as it likes
ALONE = 3  # of what ``some_of`` gives, no pairs
CABLE = LONG.runs[0].cable
FORTY_FOUR = replace(
    LONG,
    points=tuple(
        Point(f"S{number}", "outlet", ("A",) if number % 3 else ("A", "N"))
        for number in range(1, 45)
    ),
    runs=(
        Run("DB", "S1", 14.0, CABLE),
        *(Run(f"S{n}", f"S{n + 1}", 5.0 + n % 7, CABLE) for n in range(1, 44)),
    ),
)
CIRCUITS = {"line": LINE, "branched": BRANCHED, "ring": RING, "44 outlets": FORTY_FOUR}


def drawn(everything, rng):
    """Return a random way of a random fault, with ohms."""
    one = everything[1 + rng.integers(len(everything) - 1)]
    r_ohm = math.exp(rng.uniform(*np.log(one.ohms))) if one.ohms else 0.0
    return one.ways[rng.integers(len(one.ways))].edit(r_ohm)


def weighed(bench, jury, edits):
    """Return what hypotheses read, with slopes of their own, and their reported likelihood."""
    lean = bench.lean(edits)
    spread = jury.spread(lean)
    return lean.read, spread, jury.weigh(lean.read, spread).log


def some_of(everything, rng, count):
    """Return what makes a case of two faults, and edits: none, either, both, others, and pairs."""
    one, other = drawn(everything, rng), drawn(everything, rng)
    others = [drawn(everything, rng) for _ in range(count)]
    pairs = [in_turn([rng.choice([one, other]), edit]) for edit in others]
    return in_turn([one, other]), [no_edit, one, other, in_turn([one, other]), *others, *pairs]


@pytest.mark.parametrize("name", CIRCUITS)
def test_no_hypothesis_exceeds_its_bound(name):
    circuit = CIRCUITS[name]
    everything = catalogue(circuit, MODES)
    rng = seeded(61)
    near = 0
    for _ in range(2 if circuit is FORTY_FOUR else 6):
        truth, edits = some_of(everything, rng, 12 if circuit is FORTY_FOUR else 25)
        bench, jury = bench_and_jury(circuit, taken(circuit, truth, rng))
        read, spread, logs = weighed(bench, jury, edits)
        # As a diagnosis has it: single faults and the sound circuit are what was judged.
        order = [i for i in np.argsort(-logs) if i < ALONE]
        bounds = settled(jury, read[order], spread[order]).at_most(read)
        for behind, margin in MARGINS:
            close = logs > logs.max() - behind
            near += close.sum()
            assert (bounds[close] >= logs[close] - margin).all()
    assert near > 5


@pytest.mark.parametrize("name", CIRCUITS)
def test_no_score_without_slips_exceeds_its_bound(name):
    """Nor where a leader's cable would make slips of readings that fit with cable of their own."""
    circuit = CIRCUITS[name]
    everything = catalogue(circuit, MODES)
    rng = seeded(66)
    for _ in range(3 if circuit is FORTY_FOUR else 10):
        truth, edits = some_of(everything, rng, 12)
        bench, jury = bench_and_jury(circuit, taken(circuit, truth, rng))
        read, spread, _ = weighed(bench, jury, edits)
        for leader in range(ALONE):
            bounds = settled(jury, read[[leader]], spread[[leader]])
            assert (bounds.at_most(read) >= bounds.plainly(read) - ROUNDING_NATS).all()


def test_it_is_about_the_reported_likelihood_where_it_leans_alike():
    rng = seeded(62)
    for circuit in (LINE, FORTY_FOUR):
        bench, jury = bench_and_jury(circuit, taken(circuit, no_edit, rng))
        read, spread, logs = weighed(bench, jury, [no_edit])
        found = settled(jury, read, spread).at_most(read)
        assert logs - NATS < found < logs + GENEROUS


def test_shared_errors_are_settled_and_not_taken_for_each_readings_own():
    """Cable a quarter longer than drawn costs a few nats, of 44 outlets as of three."""
    rng = seeded(63)
    bench, jury = bench_and_jury(FORTY_FOUR, taken(FORTY_FOUR, no_edit, rng))
    read, spread, _ = weighed(bench, jury, [no_edit])
    bounds = settled(jury, read, spread)
    lean = bench.lean([no_edit])
    runs = [i for i, run in enumerate(lean.names) if ".." in run]
    longer = read + 0.07 * lean.slopes[..., runs].sum(axis=-1)
    assert abs(bounds.at_most(longer) - bounds.at_most(read)) < 4.0
    uneven = read + 0.07 * lean.slopes[..., runs].sum(axis=-1) * (-1.0) ** np.arange(read.shape[1])
    assert bounds.at_most(uneven) < bounds.at_most(read) - 50.0


def test_some_of_the_readings_bound_the_whole():
    rng = seeded(64)
    everything = catalogue(BRANCHED, MODES)
    for _ in range(4):
        truth, edits = some_of(everything, rng, 20)
        bench, jury = bench_and_jury(BRANCHED, taken(BRANCHED, truth, rng))
        read, spread, _ = weighed(bench, jury, edits)
        whole = settled(jury, read[1:3], spread[1:3])
        for few in (range(0, read.shape[1], 3), range(5), []):
            part = whole.only(few)
            assert (part.at_most(read[:, list(few)]) >= whole.at_most(read) - NATS).all()


def test_those_above_what_is_enough_are_bounded_as_if_none_were_asked():
    rng = seeded(65)
    everything = catalogue(LINE, MODES)
    truth, edits = some_of(everything, rng, 40)
    bench, jury = bench_and_jury(LINE, taken(LINE, truth, rng))
    read, spread, _ = weighed(bench, jury, edits)
    bounds = settled(jury, read[:1], spread[:1])
    plain = bounds.at_most(read)
    enough = float(np.median(plain))
    shortened = bounds.at_most(read, enough)
    above = plain > enough + 5.0
    assert shortened[above] == pytest.approx(plain[above], abs=1.0)
    assert (shortened[~above] >= plain[~above] - 1e-6).all()
    assert bounds.at_most(read.reshape(-1, 4, read.shape[1])[:2]).shape == (2, 4)


def test_ranges_are_bounded_as_bounded_least_squares_has_it():
    """Of misfits anywhere in a box the cost is that of the box's cheapest point.

    Against ``scipy.optimize.lsq_linear``, on the covariance written out in full.
    """
    rng = seeded(66)
    everything = catalogue(BRANCHED, MODES)
    truth, edits = some_of(everything, rng, 8)
    bench, jury = bench_and_jury(BRANCHED, taken(BRANCHED, truth, rng))
    read, spread, _ = weighed(bench, jury, edits)
    bounds = settled(jury, read[3:4], spread[3:4])
    near = bench.read([truth])[0]
    number = jury.observed.number & np.isfinite(near)
    share = np.sign(rng.normal(size=(12, near.size))) * rng.uniform(0, 0.06, (12, near.size))
    low = np.where(number, near * (1 + np.minimum(share, 0.5 * share)), near)
    high = np.where(number, near * (1 + np.maximum(share, 0.5 * share)), near)
    found = bounds.by_scatter(low, high)
    numbers = np.flatnonzero(jury.observed.number)
    value = jury.observed.value[numbers]
    for row, at in zip(found, bounds.scatters, strict=True):
        shared = at.thin * at.root
        whitened = np.linalg.inv(
            np.linalg.cholesky(at.own * np.eye(len(value)) + shared @ shared.T)
        )
        for k in range(len(low)):
            ends = [(value - a[k, numbers]) / bounds.sd for a in (high, low)]
            assert np.isfinite(ends).all()
            box = ends[0] - 1e-9, ends[1] + 1e-9
            cost = lsq_linear(whitened, np.zeros(len(value)), box).cost
            assert row[k] >= at.peak - cost - 1e-6
            # Close to it too, where nothing is dear enough to be a slip.
            if cost < 5.0:
                assert row[k] <= at.peak - cost + 1.0


def test_a_range_of_one_prediction_is_that_prediction_and_a_wider_one_allows_no_less():
    rng = seeded(67)
    truth, edits = some_of(catalogue(LINE, MODES), rng, 20)
    bench, jury = bench_and_jury(LINE, taken(LINE, truth, rng))
    read, spread, logs = weighed(bench, jury, edits)
    best = np.argsort(-logs[:ALONE])
    bounds = settled(jury, read[best], spread[best])
    assert bounds.within(read, read.copy()) == pytest.approx(bounds.at_most(read))
    assert (bounds.within(0.8 * read, 1.2 * read) >= bounds.at_most(read) - 1.0).all()
    anywhere = np.full((1, read.shape[1]), np.inf)
    assert bounds.within(0.0 * np.isfinite(anywhere), anywhere) == pytest.approx(bounds.most)
