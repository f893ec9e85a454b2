"""Currents through branches: by hand, and against nodal equations solved with 120 digits.

Relative tolerance 1e-9, of the sum of the sizes of what each source alone drives. Worst measured of
11,594 currents in networks and 12,636 in installations: 9e-11, median 2e-16.

The corner: where two ways to an end cancel, in a balanced bridge or round a loop on a dead end,
what is left has an error of the terms that cancel. So it was with 22 of those currents, to 1e-12 of
the terms, which are the measure then.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from live_strategies import LIVE_EDITS, supplied
from strategies import NODES

from faultfinder.network.branch import Branch, edited
from faultfinder.network.currents import currents
from network.exact import determined
from network.nodal import cancelling_size, exact_currents

TOLERANCE = 1e-9
A, B, C, D = NODES[:4]
OPERATED = st.sampled_from((frozenset(), frozenset({"switch"})))


def current(network, name, potentials, edit=None, **taken):
    return currents(network, [name], potentials, [edit or {}], **taken)[0, 0]


# -- by hand -------------------------------------------------------------------------------------

LOAD, BESIDE, JOINT = ("load",), ("beside",), ("joint",)
DIVIDER = {
    ("line",): Branch(A, B, 1.0),
    LOAD: Branch(B, C, 9.0),
    BESIDE: Branch(B, C, 18.0),
    JOINT: Branch(C, D, 0.0),
}
SOURCES = {A: 70 + 0j, D: 0j}


def test_loads_side_by_side():
    """1 ohm, then 9 beside 18 ohm, make 7 ohm: 10 A, two thirds of them through 9 ohm."""
    read = currents(DIVIDER, [("line",), LOAD, BESIDE, JOINT], SOURCES)
    assert read.shape == (1, 4)
    assert read[0] == pytest.approx([10, 20 / 3, 10 / 3, 10], rel=1e-14)


def test_direction_is_from_start_to_end():
    turned = {**DIVIDER, LOAD: Branch(C, B, 9.0)}
    assert current(turned, LOAD, SOURCES) == pytest.approx(-20 / 3, rel=1e-14)


def test_reactance_turns_a_current():
    network = {LOAD: Branch(A, D, 3.0, x_ohm=4.0)}
    assert current(network, LOAD, SOURCES) == pytest.approx(70 / (3 + 4j), rel=1e-14)


def test_both_ends_are_held():
    assert current({LOAD: Branch(A, D, 7.0)}, LOAD, SOURCES) == pytest.approx(10, rel=1e-14)


def test_no_current():
    open_ = {**DIVIDER, LOAD: Branch(B, C, math.inf)}
    dead_end = {**DIVIDER, ("dead end",): Branch(B, NODES[5], 1.0)}
    to_itself = {**DIVIDER, ("loop",): Branch(B, B, 1.0)}
    assert current(open_, LOAD, SOURCES) == 0
    assert current(dead_end, ("dead end",), SOURCES) == 0
    assert current(to_itself, ("loop",), SOURCES) == 0
    assert current({LOAD: Branch(B, C, 1.0)}, LOAD, SOURCES) == 0


def test_an_edit_takes_away_adds_and_turns():
    edits = [{LOAD: None}, {("new",): Branch(B, C, 9.0)}, {LOAD: Branch(C, B, 9.0)}, {}]
    read = currents(DIVIDER, [LOAD, ("new",)], SOURCES, edits)
    each = 70 / (1 + 18 / 5) * 2 / 5  # 9 beside 9 beside 18 ohm
    expected = [[0, 0], [each, each], [-20 / 3, 0], [20 / 3, 0]]
    assert read == pytest.approx(np.array(expected), rel=1e-14)


def test_a_name_that_nothing_has():
    with pytest.raises(KeyError, match="no branch is named laod"):
        currents(DIVIDER, [("laod",)], SOURCES)


def test_gates_as_a_probe_operates_them():
    network = {
        **DIVIDER,
        LOAD: Branch(B, C, 9.0, "switch"),
        BESIDE: Branch(B, C, 6.0, "switch", normally_made=False),
    }
    on, off = frozenset(), frozenset({"switch"})
    assert current(network, LOAD, SOURCES, operated=on) == pytest.approx(7, rel=1e-14)
    assert current(network, BESIDE, SOURCES, operated=on) == 0
    assert current(network, LOAD, SOURCES, operated=off) == 0
    assert current(network, BESIDE, SOURCES, operated=off) == pytest.approx(10, rel=1e-14)


def test_what_is_fitted_draws_current():
    without = {name: DIVIDER[name] for name in (("line",), JOINT)}
    fitted = (Branch(B, C, 6.0),)
    assert current(without, JOINT, SOURCES, fitted=fitted) == pytest.approx(10, rel=1e-14)


def test_bolted_joints_side_by_side_share():
    network = {**DIVIDER, ("second joint",): Branch(C, D, 0.0)}
    assert current(network, JOINT, SOURCES) == pytest.approx(5, rel=1e-12)


def test_digits_stay_where_potentials_are_nearly_equal():
    """A milliohm that carries 0.2 nA to a gigohm: its ends differ by 1e-15 of their potential."""
    network = {("line",): Branch(A, B, 1e-3), LOAD: Branch(B, D, 1e12)}
    assert current(network, ("line",), {A: 230, D: 0}) == pytest.approx(2.3e-10, rel=1e-12)


# -- against the other solver --------------------------------------------------------------------


def assert_exact_currents(read_a, network, names, potentials, operated=frozenset()):
    """Compare those currents that the network determines."""
    known = determined(network, names, operated)
    expected = dict(zip(known, exact_currents(network, known, potentials, operated), strict=True))
    # What a bolted joint's 1e-18 ohm drives through the 1e-4 ohm beside it, and what the digits of
    # the other solver leave of a nought.
    stray_a = 1e-14 * max((abs(current_a) for current_a, _ in expected.values()), default=0) + 1e-30
    for name, found in zip(names, read_a, strict=True):
        if name in expected:
            current_a, size = expected[name]
            error = abs(found - current_a)
            if error > TOLERANCE * size + stray_a:
                size = cancelling_size(network, name, potentials, operated)
                assert error <= TOLERANCE * size + stray_a, name


@given(supplied(), st.lists(LIVE_EDITS, min_size=1, max_size=3), OPERATED)
def test_networks_of_no_particular_shape(supply, several_edits, operated):
    network, potentials = supply
    names = list(network)
    read = currents(network, names, potentials, several_edits, operated=operated)
    assert read.shape == (len(several_edits), len(names))
    for edit, row in zip(several_edits, read, strict=True):
        faulty = edited(network, edit)
        there = [name for name in names if name in faulty]
        found = [row[names.index(name)] for name in there]
        assert_exact_currents(found, faulty, there, potentials, operated)
        assert all(row[names.index(name)] == 0 for name in names if name not in faulty)
