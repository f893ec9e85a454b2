"""Paragraphs that fit, and odds as people say them."""

import pytest

from faultfinder.reporting.layout import items, odds, paragraph


def test_a_paragraph_hangs_under_its_lead():
    assert paragraph("one two three four", 12, "- ") == ["- one two", "  three four"]
    assert paragraph("one two three", 11, "", "   ") == ["one two", "   three"]
    assert paragraph("", 12, "- ") == []


def test_conductors_are_not_broken_at_their_hyphen():
    assert paragraph("reads A-N", 8) == ["reads", "A-N"]


def test_a_list_is_a_paragraph_each():
    assert items(["one", "two three"], 9) == ["  - one", "  - two", "    three"]


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (1.0, "almost certain"),
        (0.985, "almost certain"),
        (0.97, "about 9 in 10"),
        (0.6, "about 6 in 10"),
        (0.5, "about 1 in 2"),
        (0.45, "about 1 in 2"),
        (0.42, "about 4 in 10"),
        (0.1, "about 1 in 10"),
        (0.075, "about 1 in 10"),
        (0.05, "about 1 in 20"),
        (0.014, "very unlikely"),
        (0.0, "very unlikely"),
    ],
)
def test_odds(probability, words):
    assert odds(probability) == words


def test_odds_never_rise_as_the_probability_falls():
    order = ["very unlikely", "about 1 in 20"]
    order += [f"about {n} in 10" for n in (1, 2, 3, 4)] + ["about 1 in 2"]
    order += [f"about {n} in 10" for n in (5, 6, 7, 8, 9)] + ["almost certain"]
    said = [odds(n / 1000) for n in range(1001)]
    places = [order.index(words) for words in said if words != "about 5 in 10"]
    assert sorted(places) == [p for p in places if p != order.index("about 5 in 10")]
