"""A likelihood over ohms, looked at where it matters: against the exact area under a bell."""

import math

import numpy as np
import pytest

from faultfinder.diagnosis.ohms import between, over_ohms

TOP_OHM = 7.3
WIDTHS = [0.3, 0.03, 0.003, 0.0005]  # of a bell over ln ohms


def bell(r_ohm, sd, floor):
    """Return a bell over ln ohms, with a floor as slips make one, in nats."""
    return np.logaddexp(-0.5 * (np.log(r_ohm / TOP_OHM) / sd) ** 2, floor)


def looked_at(sd, floor, looks):
    """Return ohms and what a likelihood is there, its top and neighbours far apart at first."""
    r_ohm = TOP_OHM * np.exp([-3.0, -1.2, -0.4, 0.3 * sd, 0.4, 1.2, 3.0])
    for _ in range(looks):
        more = between(r_ohm, bell(r_ohm, sd, floor))
        r_ohm = np.unique(np.concatenate([r_ohm, more]))
    return r_ohm, bell(r_ohm, sd, floor)


@pytest.mark.parametrize("sd", WIDTHS)
def test_looks_between_find_the_area_under_a_narrow_top(sd):
    """Within 0.1 nats in three looks; from the first ohms alone a very narrow one is not."""
    area = math.log(sd * math.sqrt(2 * math.pi) + 6.0 * math.exp(-30.0))

    def off_by(looks):
        _, log_mass = over_ohms(*looked_at(sd, -30.0, looks))
        return abs(np.logaddexp.reduce(log_mass) - area)

    assert off_by(3) < 0.1
    assert sd > 0.01 or off_by(0) > 0.5


def test_nothing_is_looked_at_where_all_is_told():
    fine = TOP_OHM * np.exp(np.linspace(-1.5, 1.5, 41))
    assert not len(between(fine, bell(fine, 0.3, -60.0)))
    flat = np.geomspace(0.1, 100.0, 5)
    assert not len(between(flat, np.zeros(5)))
    cliff = np.array([0.0, 0.0, -1000.0, -1000.0])  # no room for anything beside it
    assert not len(between(np.array([1.0, 10.0, 10.001, 100.0]), cliff))


def test_looks_are_within_the_gap_and_closest_to_its_higher_end():
    found = between(np.array([1.0, 2.0, 4.0]), np.array([-9.0, 0.0, -9.0]))
    assert found.min() > 1.0
    assert found.max() < 4.0
    steps = np.abs(np.log(found / 2.0))
    assert (steps < 0.02).sum() >= 4
