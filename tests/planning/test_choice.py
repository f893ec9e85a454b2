"""The planner against plain dynamic programming, and against what is known of simple problems."""

from math import inf, log2

import numpy as np
import pytest

from faultfinder.planning.choice import Planner, Step
from faultfinder.planning.problem import Check, Problem, Standing, entropy, normalised
from planning.optimum import least_minutes


def row_of(outcomes, at, minutes=2.0, needs=-1, **more):
    shown = np.array(outcomes)[None] == np.arange(max(outcomes) + 1)[:, None]
    return Check(shown.astype(float), at, minutes, needs, **more)


def look(n, cause, at, minutes=6.0, seen=0.9):
    chance = np.zeros((2, n))
    chance[0], chance[0, cause], chance[1, cause] = 1.0, 1.0 - seen, seen
    return Check(chance, at, minutes, once=True)


def line(n, checks, *, pace=0.0, repair=100.0):
    """Return a problem of n places in a row, a cause at each."""
    steps = np.arange(n + 1)
    return Problem(
        place=np.arange(n),
        checks=tuple(checks),
        walk=pace * np.abs(steps[:, None] - steps[None]),
        change=np.array([[0.0, 5.0], [5.0, 0.0], [5.0, 5.0]]),
        repair_at=np.arange(1, n + 1),
        repair=np.full(n, repair),
    )


def random_problem(rng, n, c):
    checks = []
    for _ in range(c):
        outcomes = rng.integers(0, rng.integers(2, 4), n)
        outcomes = np.unique(outcomes, return_inverse=True)[1].tolist()
        checks.append(row_of(outcomes, int(rng.integers(1, n + 1)), 2.0, int(rng.integers(0, 2))))
    checks += [look(n, cause, cause + 1) for cause in range(0, n, 2)]
    weights = np.round(rng.exponential(size=n) + 0.05, 2)
    return line(n, checks, pace=0.3, repair=16.0), normalised(weights)


@pytest.mark.parametrize("seed", range(6))
def test_the_search_without_bounds_is_the_optimum(seed):
    rng = np.random.default_rng(seed)
    problem, belief = random_problem(rng, 4, 4)
    standing = Standing(int(rng.integers(0, 5)), 0)
    step = Planner(problem, inf, inf).choose(belief, standing)
    assert step.minutes == pytest.approx(least_minutes(problem, belief, standing), rel=1e-3)


def test_the_search_as_used_is_near_the_optimum():
    rng = np.random.default_rng(5)
    ratios = []
    for _ in range(6):
        problem, belief = random_problem(rng, 4, 4)
        standing = Standing(0, 0)
        best = least_minutes(problem, belief, standing)
        ratios.append(Planner(problem).choose(belief, standing).minutes / best)
    assert np.mean(ratios) < 1.03
    assert max(ratios) < 1.15


def test_half_split_where_odds_and_costs_are_equal():
    """Gain on a line of equal odds and costs is half-split (method of half-split; textbook)."""
    n = 8
    problem = line(n, [row_of([int(i > cut) for i in range(n)], cut + 1) for cut in range(n - 1)])
    step = Planner(problem).choose(np.full(n, 1 / n), Standing(0))
    assert step.check == 3
    assert step.minutes == pytest.approx(2.0 * log2(n))


def test_repairs_alone_go_by_chance_over_cost():
    """One fault, repairs alone: by probability over cost ("Decision-theoretic troubleshooting",
    Communications of the ACM, 1995; from memory)."""
    problem = line(3, ())
    problem = Problem(
        problem.place,
        (),
        problem.walk,
        problem.change,
        problem.repair_at,
        np.array([30.0, 10.0, 12.0]),
    )
    belief = np.array([0.5, 0.3, 0.2])
    planner, standing, order = Planner(problem, inf, inf), Standing(0), []
    while (step := planner.choose(belief, standing)) is not None:
        order.append(step.repair)
        ((_, belief, standing),) = planner.outcomes(belief, standing, step)
    # 0.3/10 > 0.2/12 = 0.5/30: the last two are as good either way round.
    assert order[0] == 1


def test_ties_go_to_the_earlier_place_on_the_walk():
    same = [row_of([0, 0, 1, 1], at) for at in (2, 3)]
    split = [row_of([0, 1, 0, 1], at) for at in (4, 1)]
    problem = line(4, [*same, *split])
    assert Planner(problem).choose(np.full(4, 0.25), Standing(0)).check == 0


def test_walking_and_setting_up_count():
    problem = line(
        4, [row_of([0, 1, 1, 1], 1, needs=0), row_of([0, 1, 1, 1], 4, needs=1)], pace=1.0
    )
    assert problem.minutes(Standing(4, 1)).tolist() == [4 + 5 + 1 + 2, 2]
    assert problem.minutes(Standing(0, 0)).tolist() == [1 + 2, 0 + 5 + 4 + 2]
    assert problem.minutes(Standing(2)).tolist() == [2 + 5 + 1 + 2, 2 + 5 + 4 + 2]


def test_what_is_parted_first_is_walked_to():
    check = row_of([0, 1], 0, 4.0, 0, via=2)
    problem = line(2, [check], pace=1.0)
    assert problem.minutes(Standing(1, 0)).tolist() == [1 + 2 + 4]
    assert problem.minutes(Standing(1, 1)).tolist() == [1 + 2 + 5 + 4]


def test_it_stops_where_one_repair_is_certain_or_cheaper_than_a_check():
    n = 2
    dear = line(n, [row_of([0, 1], 1, minutes=30.0)], repair=10.0)
    assert Planner(dear).choose(np.array([1.0, 0.0]), Standing(0)) is None
    step = Planner(dear).choose(np.array([0.9, 0.1]), Standing(0))
    assert (step.check, step.repair) == (None, 0)
    assert step.minutes == pytest.approx(0.1 * 10.0)
    cheap = line(n, [row_of([0, 1], 1, minutes=0.5)], repair=10.0)
    assert Planner(cheap).choose(np.array([0.9, 0.1]), Standing(0)).check == 0


def test_a_look_is_not_done_twice():
    problem = line(2, [look(2, 0, 1)], repair=1000.0)
    planner = Planner(problem)
    belief, standing = np.array([0.5, 0.5]), Standing(0)
    step = planner.choose(belief, standing)
    assert step.check == 0
    missed = next(planner.outcomes(belief, standing, step))
    assert missed[0] == pytest.approx(0.55)
    assert missed[1][0] == pytest.approx(0.05 / 0.55)
    assert planner.choose(missed[1], missed[2]).check is None


def test_of_many_causes_the_first_steps_are_looked_ahead_of():
    n = 24
    rows = [row_of([int(i > cut) for i in range(n)], cut + 1) for cut in range(n - 1)]
    problem = line(n, rows, pace=0.1)
    belief = normalised(np.arange(1.0, n + 1))
    planner = Planner(problem)
    step = planner.choose(belief, Standing(0))
    assert step.minutes <= planner.minutes_by_rule(belief, Standing(0)) + 1e-9
    assert step.check is not None


def test_gain_is_of_the_repair_and_not_of_the_cause():
    """Two causes at one place: to tell them apart is worth nothing."""
    problem = line(3, [row_of([0, 1, 1], 1), row_of([0, 0, 1], 1)])
    problem = Problem(
        np.array([0, 0, 1]),
        problem.checks,
        problem.walk,
        problem.change,
        problem.repair_at[:2],
        problem.repair[:2],
    )
    belief = np.full(3, 1 / 3)
    gains = problem.gains(belief)
    assert gains[1] == pytest.approx(entropy(np.array([2 / 3, 1 / 3])))
    assert 0 < gains[0] < gains[1]
    assert Planner(problem).choose(belief, Standing(0)) == Step(1, None, 2.0)
