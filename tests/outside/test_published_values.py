"""The check values themselves: each names its source and how far it may be trusted."""

import pytest
from published import origins


@pytest.mark.parametrize("group", origins())
def test_a_group_says_where_it_is_from(group):
    assert group["provenance"] in {"seen", "memory"}
    assert group["source"]
    assert group["quantity"]
    unopened = group["address"] == "standard, not opened"
    assert unopened == (group["provenance"] == "memory")


@pytest.mark.parametrize("group", origins())
def test_a_value_has_a_unit_and_a_tolerance(group):
    for row in group["rows"]:
        assert row["unit"]
        assert row["tolerance"] >= 0
