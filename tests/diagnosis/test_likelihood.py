"""Likelihoods against their definition, worked out here by other means.

The dense form builds the whole covariance D + B Bᵀ and takes its determinant and its inverse; the
jury never does. Both are good to about the condition number times 2e-16: the readings' own
variances differ by at most 1e4 and shared errors add at most 1e4 to one, so that 1e-7 is asked for
of values near 1 to 100.
"""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from diagnosis.juries import KNOWN_RANGE, TOLERANCES, jury, sound_at
from faultfinder.diagnosis.gaussian import normal_cdf
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.evidence.lean import Lean
from faultfinder.readings.reading import Instrument

OPEN = math.inf
SLIP_RANGE_NATS = math.log(1e7)


def none_shared(read):
    return np.zeros((*np.shape(read), 1))


def fit(jury_, read, spread=None):
    read = np.atleast_2d(np.array(read, dtype=float))
    return jury_.weigh(read, none_shared(read) if spread is None else np.array([spread]))


def normal_log_density(error, covariance):
    sign, log_det = np.linalg.slogdet(covariance)
    assert sign > 0
    squares = error @ np.linalg.inv(covariance) @ error
    return -0.5 * (squares + log_det + len(error) * math.log(2 * math.pi))


def own_variance(read, step=0.01, share=0.01, fixed=0.02):
    return (share * np.asarray(read) + fixed) ** 2 + step**2 / 12


def settled_variance(read, taken, spread, scatter=1.0):
    """Return each reading's own variance, at what is there once shared errors have moved it.

    Where that is not four in a hundred off, the variance at the prediction does.
    """
    read, b = np.asarray(read), np.asarray(spread)
    own = scatter**2 * own_variance(read)
    error = np.asarray(taken) - read
    moved = read + b @ b.T @ np.linalg.solve(np.diag(own) + b @ b.T, error)
    there = scatter**2 * own_variance(np.maximum(moved, 0.0))
    return there if (np.abs(there / own - 1) > 0.04).any() else own


@st.composite
def shared_problems(draw):
    """Draw predictions, shared errors and readings no farther off than those explain."""
    number, shared = draw(st.integers(1, 9)), draw(st.integers(1, 6))
    unit = st.floats(-1, 1)
    read = [10 ** (1 + draw(unit)) for _ in range(number)]
    sizes = [10 ** (2 * draw(unit) - 2) for _ in range(shared)]
    spread = [[size * r * draw(unit) for size in sizes] for r in read]
    hidden = [draw(unit) for _ in range(shared)]
    own = [math.sqrt(own_variance(r)) * draw(unit) for r in read]
    moved = np.array(read) + np.array(spread) @ hidden + own
    return read, np.abs(moved).tolist(), spread


@given(shared_problems(), st.sampled_from((0.5, 1.0, 2.0)))
def test_it_is_the_dense_normal_density(problem, scatter):
    read, taken, spread = problem
    found = fit(jury(*taken, scatter=(scatter,)), read, spread)
    b = np.array(spread)
    covariance = np.diag(settled_variance(read, taken, spread, scatter)) + b @ b.T
    error = np.array(taken) - read
    assume(not found.slips.any())  # those have tests of their own
    dense = normal_log_density(error, covariance)
    assert found.log[0] == pytest.approx(dense, rel=1e-7, abs=1e-7)


def test_it_is_the_dense_normal_density_of_a_dozen_readings():
    rng = np.random.default_rng(1)
    read = rng.uniform(5, 20, 12)
    spread = rng.normal(0, 0.2, (12, 4))
    taken = read + spread @ rng.normal(size=4) + np.sqrt(own_variance(read)) * rng.normal(size=12)
    found = fit(jury(*taken), read, spread)
    assert not found.slips.any()
    own = settled_variance(read, taken, spread)
    assert not np.array_equal(own, own_variance(read))
    dense = normal_log_density(taken - read, np.diag(own) + spread @ spread.T)
    assert found.log[0] == pytest.approx(dense, rel=1e-9)


def test_insulation_is_judged_on_a_logarithm_where_its_accuracy_is_even():
    """On ln(R + fixed / share) the accuracy share · R + fixed is the share, whatever R."""
    taken, read = np.array([40.0, 3.0, 0.0]), np.array([42.0, 2.9, 0.1])
    found = fit(jury(*taken, tests=["insulation"] * 3, step=0.0), read)
    shift = 0.05 / 0.05
    dense = normal_log_density(np.log((taken + shift) / (read + shift)), 0.05**2 * np.eye(3))
    assert found.log[0] == pytest.approx(dense, rel=1e-9)


def test_a_shared_error_explains_what_scatter_cannot():
    """All readings a tenth high: a longer cable if lengths are shared, four oddities if not."""
    read = np.full(4, 10.0)
    together = fit(jury(*(read * 1.1)), read, np.full((4, 1), 1.0))
    apart = fit(jury(*(read * 1.1)), read)
    assert together.log[0] > apart.log[0] + 10
    assert np.abs(together.residual).max() < 0.1
    # One high and one low is no longer cable.
    opposed = np.array([11.0, 9.0])
    assert fit(jury(*opposed), read[:2], np.full((2, 1), 1.0)).log[0] < together.log[0] - 10


def test_scatter_is_averaged_over():
    read = [10.0, 12.0]
    each = [fit(jury(10.2, 11.9, scatter=(s,)), read).log[0] for s in (0.5, 2.0)]
    both = fit(jury(10.2, 11.9, scatter=(0.5, 2.0)), read).log[0]
    assert both == pytest.approx(np.log(np.mean(np.exp(each))))


def test_scatter_is_narrower_where_the_case_states_its_instrument():
    stated = Jury(jury(10.0).observed, TOLERANCES, jury(10.0).sound)
    unstated = Jury(jury(10.0, instrument=Instrument()).observed, TOLERANCES, jury(10.0).sound)
    assert stated.scatters == TOLERANCES.stated_scatter
    assert unstated.scatters == TOLERANCES.scatter


def slip_log(value, logarithmic=False):
    per_value = 0.0 if logarithmic else math.log(max(value, 1e-2))
    return math.log(TOLERANCES.slip / SLIP_RANGE_NATS) - per_value


def test_a_number_far_off_is_a_slip():
    read = [10.0, 12.0, 15.0]
    found = fit(jury(10.0, 12.0, 51.0), read)
    rest = normal_log_density(np.zeros(2), np.diag(own_variance(read[:2])))
    assert found.slips.tolist() == [[False, False, True]]
    assert found.residual[0, 2] == 0.0
    assert found.log[0] == pytest.approx(rest + slip_log(51.0))


def test_a_number_where_open_is_predicted_is_a_slip():
    found = fit(jury(10.0, 300.0), [10.0, OPEN])
    rest = normal_log_density(np.zeros(1), np.diag(own_variance([10.0])))
    assert found.slips.tolist() == [[False, True]]
    assert found.log[0] == pytest.approx(rest + slip_log(300.0))
    assert np.isfinite(fit(jury(0.0), [OPEN]).log).all()


def test_a_slip_is_found_behind_shared_errors_that_would_hide_it():
    """One reading of six is 3 ohm high; a shared error of 1 ohm must not be bent to meet it."""
    read = np.full(6, 10.0)
    taken = read + np.array([0, 0, 0, 0, 0, 3.0])
    found = fit(jury(*taken), read, np.full((6, 1), 1.0))
    assert found.slips.tolist() == [[False] * 5 + [True]]
    assert np.abs(found.residual).max() < 1


def test_a_slip_spreads_evenly_over_the_decades():
    """The chance of a slip within a decade is the same for every decade: slip / 7."""
    alone = jury(100.0)
    edges = np.geomspace(10.0, 100.0, 2001)
    middles = np.sqrt(edges[1:] * edges[:-1])
    densities = [math.exp(slip_log(value)) for value in middles]
    assert np.sum(densities * np.diff(edges)) == pytest.approx(TOLERANCES.slip / 7, rel=1e-3)
    found = fit(alone, [OPEN])
    assert found.log[0] == pytest.approx(slip_log(100.0))


def test_slips_of_insulation_are_per_logarithm():
    found = fit(jury(200.0, tests=["insulation"]), [OPEN])
    assert found.log[0] == pytest.approx(slip_log(200.0, logarithmic=True))


FLOOR = math.log(TOLERANCES.slip / 10)


def test_an_open_reading_against_a_known_range():
    open_read = jury("open")
    assert fit(open_read, [OPEN]).log[0] == 0.0
    assert fit(open_read, [5001.0]).log[0] == 0.0
    refuted = fit(open_read, [4999.0])
    assert refuted.log[0] == pytest.approx(FLOOR)
    assert refuted.slips.tolist() == [[True]]


def test_an_open_reading_against_an_unknown_range():
    """Every ratio between 200 ohm and 20 Mohm equally likely to be the end of the range."""
    open_read = jury("open", instrument=Instrument())
    share = math.log(2e4 / 200) / math.log(2e7 / 200)
    found = fit(open_read, [[OPEN], [2e4], [199.0]])
    assert found.log.tolist() == pytest.approx([0.0, math.log(share), FLOOR])
    assert found.slips.tolist() == [[False], [False], [True]]


@pytest.mark.parametrize("instrument", [KNOWN_RANGE, Instrument()], ids=["known", "unknown"])
@pytest.mark.parametrize("read", [4950.0, 5100.0])
def test_a_number_is_judged_by_its_density_alone(instrument, read):
    """That it showed at all says nothing of the circuit: no prediction pays for its range."""
    accuracy = instrument.resistance
    variance = own_variance([read], share=accuracy.share, fixed=accuracy.fixed)
    found = fit(jury(5000.0, instrument=instrument), [read])
    assert not found.slips.any()
    density = normal_log_density(np.array([5000.0 - read]), np.diag(variance))
    assert found.log[0] == pytest.approx(density, rel=1e-9)


@pytest.mark.parametrize("off", [-3.0, -1.0, 0.0, 1.0, 3.0])
def test_bounds_are_tails_of_the_normal_distribution(off):
    read, shared = 10.0, 0.4
    sd = math.hypot(math.sqrt(own_variance(read)), shared)
    value = read + off * sd
    below = 0.5 * (1 + math.erf(off / math.sqrt(2)))
    less = fit(jury(f"<{value!r}"), [read], [[shared]])
    more = fit(jury(f">{value!r}"), [read], [[shared]])
    assert math.exp(less.log[0]) == pytest.approx(below, abs=1e-6)
    assert math.exp(more.log[0]) == pytest.approx(1 - below, abs=1e-6)


def test_a_bound_against_an_open_prediction():
    assert fit(jury(">200"), [OPEN]).log[0] == 0.0
    assert fit(jury("<200"), [OPEN]).log[0] == pytest.approx(FLOOR)


def test_a_bound_that_is_refuted_has_a_floor():
    assert fit(jury(">200"), [1.0]).log[0] == pytest.approx(FLOOR)
    assert fit(jury("<0.1"), [10.0]).log[0] == pytest.approx(FLOOR)


def test_a_bound_of_insulation_is_judged_on_its_logarithm():
    found = fit(jury(">21", tests=["insulation"], step=0.0), [20.0])
    tail = 0.5 * math.erfc(math.log((21 + 1) / (20 + 1)) / 0.05 / math.sqrt(2))
    assert math.exp(found.log[0]) == pytest.approx(tail, abs=1e-6)


def test_hypotheses_are_weighed_each_by_itself():
    tried = jury(10.0, "open", ">15", 12.0)
    rows = np.array([[10.0, OPEN, 20.0, 12.0], [10.1, 50.0, OPEN, 99.0], [OPEN, OPEN, 9.0, 12.0]])
    together = tried.weigh(rows, none_shared(rows))
    for row, log, slips in zip(rows, together.log, together.slips, strict=True):
        alone = fit(tried, row)
        assert alone.log[0] == pytest.approx(log)
        assert (alone.slips[0] == slips).all()


def test_a_glance_takes_the_sound_circuits_shared_errors_as_each_readings_own():
    tried = replace(jury(10.1, "open", ">15", 12.0), sound=sound_at(100.0, 4))
    read = np.array([[10.0, OPEN, 20.0, 12.1], [10.0, 50.0, 9.0, 99.0]])
    own = np.diag(np.sqrt((tried.spread(tried.sound)[0] ** 2).sum(axis=-1)))
    assert own.any()
    weighed = tried.weigh(read, np.stack([own, own]))
    assert tried.glance(read) == pytest.approx(weighed.log)
    assert tried.glance_each(read).sum(axis=-1) == pytest.approx(tried.glance(read))


@pytest.mark.parametrize(("read", "grown"), [(5.0, 1), (10.0, 1), (20.0, 2), (90.0, 3)])
def test_a_glance_lets_shared_errors_grow_with_the_reading(read, grown):
    """A way twice as long leans twice as much on what is shared: up to thrice, and never less."""
    tried = jury(read)
    own = np.diag(np.sqrt((tried.spread(tried.sound)[0] ** 2).sum(axis=-1)))
    assert own.any()
    weighed = tried.weigh(np.array([[read]]), grown * own[None])
    assert tried.glance(np.array([[read]])) == pytest.approx(weighed.log)


def test_the_normal_distribution_function():
    x = np.linspace(-9, 9, 20001)
    exact = np.array([0.5 * math.erfc(-v / math.sqrt(2)) for v in x])
    found = normal_cdf(x)
    assert np.abs(found - exact).max() < 1.5e-7
    assert found.min() >= 0
    assert found.max() <= 1
    # Monotone but for what it is off by.
    assert all(after > before - 1e-9 for before, after in pairwise(found.tolist()))


def test_lengths_far_from_drawn_multiply():
    """A run of its own length and of all cable, both far short: (1 + a)(1 + b), not 1 + a + b.

    Against the sum over all three on a fine grid, of two readings beyond one run and a third beyond
    another. With slopes as drawn alone it is off by 0.10 where cable is a tenth short.
    """
    names = ("DB..S1", "S1..S2")
    slopes = np.array([[[2.0, 0.0], [2.0, 0.0], [2.0, 3.0]]])
    read = np.array([[2.0, 2.0, 5.0]])
    for short in (1.0, 0.9, 1.2):
        taken = [round(value * short, 2) for value in read[0].tolist()]
        one = replace(jury(*taken), sound=Lean(read, names, slopes))
        found = one.weigh(read, one.spread(one.sound)).log[0]
        z = np.linspace(-6, 6, 121)
        first, second, cable = np.meshgrid(z, z, z, indexing="ij")
        run, whole = TOLERANCES.run_length, TOLERANCES.cable
        ohms = [2.0 * (1 + run * first) * (1 + whole * cable)]
        ohms += [ohms[0], ohms[0] + 3.0 * (1 + run * second) * (1 + whole * cable)]
        # Gain and leads go with the scatter, both linear: settled by the covariance of the three.
        spread = one.spread(one.sound)[0, :, len(names) + 1 :]
        there = np.array(read[0]) * short
        own = (0.01 * there + 0.02) ** 2 + 0.01**2 / 12
        covariance = np.diag(own) + spread @ spread.T
        off = np.stack([value - at for value, at in zip(taken, ohms, strict=True)], axis=-1)
        squares = np.einsum("...i,ij,...j->...", off, np.linalg.inv(covariance), off)
        log_prior = -0.5 * (first**2 + second**2 + cable**2) + 3 * math.log(z[1] - z[0])
        log_density = -0.5 * (squares + np.linalg.slogdet(2 * math.pi * covariance)[1])
        whole_log = log_prior - 1.5 * math.log(2 * math.pi) + log_density
        assert found == pytest.approx(np.logaddexp.reduce(whole_log.ravel()), abs=0.04)
