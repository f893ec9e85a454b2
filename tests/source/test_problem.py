"""Problems as data, and how they read."""

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from faultfinder.source.problem import BadInput, Position, Problem, listed, shown


def caret_points_at(rendered: str) -> str:
    """Return the character of the shown line that stands above the caret."""
    lines = rendered.split("\n")
    row = next(i for i, line in enumerate(lines) if line.strip(" |") == "^")
    return lines[row - 1][lines[row].index("^")]


def test_a_problem_reads_as_place_fault_line_caret_and_advice():
    problem = Problem(
        Position("a.yaml", 2, 5), "unknown-key", 'unknown key "kin"', "kind or feeds", "kind"
    )
    assert problem.render("x: 1\n  - {kin: 2}\n") == (
        'a.yaml:2:5: error: unknown key "kin" [unknown-key]\n'
        "   2 |   - {kin: 2}\n"
        "     |     ^\n"
        "  expected  kind or feeds\n"
        "  try       kind"
    )


def test_only_what_is_known_is_shown():
    at = Position("a.yaml", 2, 5)
    assert Problem(at, "x-y", "it broke").render() == "a.yaml:2:5: error: it broke [x-y]"
    assert (
        Problem(at, "x-y", "it broke").render("one line") == Problem(at, "x-y", "it broke").render()
    )


def test_line_zero_is_the_whole_file():
    problem = Problem(Position("a.yaml", 0, 0), "empty-file", "the file is empty")
    assert problem.render("") == "a.yaml: error: the file is empty [empty-file]"


@pytest.mark.parametrize(
    ("source", "line", "column", "char"),
    [
        ("abcdef", 1, 3, "c"),
        ("\tkey: v", 1, 2, "k"),
        ("a\r\nbcd", 2, 2, "c"),
        ("a\u2028bcd", 2, 3, "d"),
        ("x" * 200 + "Q" + "y" * 200, 1, 201, "Q"),
        ("x" * 200 + "Q", 1, 201, "Q"),
        ("\x1b[31mred", 1, 6, "r"),
    ],
)
def test_the_caret_stands_under_the_right_character(source, line, column, char):
    shown_lines = Problem(Position("f", line, column), "a-b", "bad").render(source)
    assert caret_points_at(shown_lines) == char
    assert max(map(len, shown_lines.split("\n"))) <= 80


def test_wide_characters_take_two_columns():
    assert "\n     |     ^" in Problem(Position("f", 1, 3), "a-b", "bad").render("日本x")


def test_a_column_beyond_the_line_is_just_after_it():
    assert Problem(Position("f", 1, 99), "a-b", "bad").render("ab").endswith("\n     |   ^")


@given(st.lists(st.text(st.characters(codec="ascii"), min_size=1, max_size=12), min_size=1))
def test_words_wrap_at_eighty_columns(words):
    problem = Problem(Position("f.yaml", 1, 1), "a-b", " ".join(words), listed(words))
    lines = problem.render("key: value").split("\n")
    # The longest word is 48 columns with every character escaped, so it never needs breaking.
    assert all(len(line) <= 80 for line in lines)
    assert all(c.isprintable() for line in lines for c in line)


def test_what_would_steer_a_terminal_is_escaped():
    text = Problem(Position("f\x1b.yaml", 1, 1), "a-b", "odd \x1b[2J\x07 sign").render()
    assert "\x1b" not in text
    assert r"\x1b[2J\x07" in text


def test_bad_input_sorts_and_renders_all_with_their_lines():
    later = Problem(Position("a", 2, 1), "b-b", "second")
    first = Problem(Position("a", 1, 2), "a-a", "first")
    error = BadInput([later, first], {"a": "pq\nrs"})
    assert error.problems == (first, later)
    assert str(error) == first.render("pq\nrs") + "\n" + later.render("pq\nrs")
    assert str(BadInput([later])) == later.render()


def test_bad_input_survives_a_child_process():
    error = BadInput([Problem(Position("a", 1, 1), "a-b", "bad")], {"a": "text"})
    again = pickle.loads(pickle.dumps(error))  # noqa: S301 - our own bytes
    assert (again.problems, again.sources, str(again)) == (
        error.problems,
        error.sources,
        str(error),
    )


def test_bad_input_needs_a_reason():
    with pytest.raises(ValueError, match="at least one"):
        BadInput([])


def test_words_are_listed_as_a_sentence_does():
    assert [listed(words) for words in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        "",
        "a",
        "a or b",
        "a, b or c",
    ]
    assert listed(["a", "b"], "and") == "a and b"


def test_long_words_are_shortened():
    assert shown("abc") == '"abc"'
    assert shown("x" * 50, 10) == '"' + "x" * 9 + '…"'
