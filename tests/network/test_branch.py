"""Branches and edits as values."""

import math

import pytest
from hypothesis import given
from strategies import NODES, edits, networks

from faultfinder.network.branch import Branch, edited

A, B = NODES[:2]


@pytest.mark.parametrize("r_ohm", [-1e-9, -math.inf, math.nan])
def test_ohms_that_no_branch_has(r_ohm):
    with pytest.raises(ValueError, match="a branch cannot have"):
        Branch(A, B, r_ohm)


@pytest.mark.parametrize("r_ohm", [0.0, -0.0, 5e-324, 1e300, math.inf])
def test_ohms_that_a_branch_may_have(r_ohm):
    assert Branch(A, B, r_ohm).r_ohm == r_ohm


@given(networks(), edits())
def test_an_edit_wins_over_the_network(network, edit):
    result = edited(network, edit)
    for name in {*network, *edit}:
        assert result.get(name) == (edit[name] if name in edit else network[name])
    assert None not in result.values()


@given(networks(), edits())
def test_an_edit_twice_is_an_edit_once(network, edit):
    assert edited(edited(network, edit), edit) == edited(network, edit)
