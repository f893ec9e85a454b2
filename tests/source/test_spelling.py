"""The nearest right spelling."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from faultfinder.source.spelling import nearest

KEYS = ("kind", "switched", "long-lead", "high-resistance", "A-N", "N-E", "insulation")


@pytest.mark.parametrize(
    ("word", "choice"),
    [
        ("kin", "kind"),
        ("KIND", "kind"),
        ("swiched", "switched"),
        ("long_lead", "long-lead"),
        ("Long Lead", "long-lead"),
        ("hgih-resistance", "high-resistance"),
        ("a_n", "A-N"),
        ("insolation", "insulation"),
        ("zzz", ""),
        ("", ""),
        ("kind" * 100, ""),
    ],
)
def test_nearest(word, choice):
    assert nearest(word, KEYS) == choice


def test_no_choices_no_advice():
    assert nearest("kind", []) == ""


def test_capitals_decide_between_choices_that_differ_in_nothing_else():
    assert nearest("Mohn", ["mohm", "Mohm"]) == "Mohm"
    assert nearest("mohn", ["Mohm", "mohm"]) == "mohm"


@given(st.lists(st.text(min_size=1, max_size=20), min_size=1, unique=True), st.data())
def test_a_right_word_is_its_own_nearest_spelling(choices, data):
    word = data.draw(st.sampled_from(choices))
    assert nearest(word, choices) == word
