"""The threshold of many tests at once, against closed forms and plain simulation."""

from statistics import NormalDist

import numpy as np
import pytest

from faultfinder.coverage.threshold import threshold

NORMAL = NormalDist()


@pytest.mark.parametrize("chance", [0.001, 0.01, 0.2])
def test_one_test_however_often_it_is_made(chance):
    alone = NORMAL.inv_cdf(1 - chance)
    same = np.tile(np.eye(5)[0], (60, 1))
    for tests in (same[:0], same[:1], same):
        assert threshold(tests, chance) == pytest.approx(alone, abs=1e-9)


@pytest.mark.parametrize("count", [2, 30, 200])
@pytest.mark.parametrize("chance", [0.01, 0.2])
def test_tests_that_have_nothing_in_common(count, chance):
    """All have to stay below: Sidak's formula, exact where they are independent."""
    exact = NORMAL.inv_cdf((1 - chance) ** (1 / count))
    assert threshold(np.eye(count), chance) == pytest.approx(exact, abs=0.02)


def test_tests_that_share_a_part_against_plain_simulation():
    rng = np.random.default_rng(3)
    tests = rng.normal(size=(300, 6)) + 1.5 * rng.normal(size=6)
    tests /= np.linalg.norm(tests, axis=1, keepdims=True)
    most = (rng.normal(size=(60_000, 6)) @ tests.T).max(axis=1)
    found = threshold(tests, 0.05)
    assert (most > found).mean() == pytest.approx(0.05, abs=0.003)
    assert found < NORMAL.inv_cdf(1 - 0.05 / 300) - 0.5  # Bonferroni's
