"""YAML to plain text with positions, and everything that can be wrong with YAML."""

from collections.abc import Iterator

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from faultfinder.source import composing, document
from faultfinder.source.document import Document, load_yaml, parse_yaml
from faultfinder.source.problem import BadInput, Position, Problem


@pytest.fixture(params=["CBaseLoader", "BaseLoader"], autouse=True, scope="module")
def loader(request: pytest.FixtureRequest) -> Iterator[None]:
    """Run every test with the C parser and with the Python parser."""
    chosen = getattr(yaml, request.param, None)
    if chosen is None:
        pytest.skip("this PyYAML was built without the C parser")
    before, composing._LOADER = composing._LOADER, chosen
    yield
    composing._LOADER = before


def problems(text: str) -> list[Problem]:
    with pytest.raises(BadInput) as caught:
        parse_yaml(text, "f.yaml")
    assert caught.value.sources == {"f.yaml": text}
    return list(caught.value.problems)


def only(text: str) -> Problem:
    (problem,) = problems(text)
    return problem


def place(problem: Problem) -> tuple[int, int]:
    return problem.position.line, problem.position.column


@pytest.mark.parametrize(
    "written",
    [
        "on",
        "off",
        "no",
        "yes",
        "12:30",
        "010",
        "0x1F",
        "1e-3",
        "1_000",
        "2.50",
        "2026-01-02",
        ".inf",
        "true",
        "No",
        "0o17",
        "+1",
        "=",
        "1.2 Mohm",
        ">200 Mohm",
        "A-N",
        "Ω",
    ],
)
def test_a_scalar_stays_as_it_was_written(written):
    if written[0] in ">=":  # a sign of YAML's own must be quoted, or not come first
        assert parse_yaml(f"k: '{written}'", "f").tree == {"k": written}
    else:
        assert parse_yaml(f"k: {written}\n{written}: k", "f").tree == {"k": written, written: "k"}


@pytest.mark.parametrize("nothing", ["", "~", "null", "Null", "NULL", "# comment"])
def test_nothing_is_empty_text(nothing):
    assert parse_yaml(f"k: {nothing}\nl: [a, {nothing}\n]", "f").tree["k"] == ""


def test_a_quoted_null_is_a_word_and_so_is_a_key():
    assert parse_yaml("k: 'null'\nnull: \"~\"", "f").tree == {"k": "null", "null": "~"}


def test_lists_blocks_and_long_text():
    text = "a:\n- 1\n- {b: [x, y], c: }\nd: |\n  one\n  \ttwo\ne: >-\n  f\n  g\n"
    assert parse_yaml(text, "f").tree == {
        "a": ["1", {"b": ["x", "y"], "c": ""}],
        "d": "one\n\ttwo\n",
        "e": "f g",
    }


def test_positions_of_values_and_keys():
    doc = parse_yaml("a: 1\nruns:\n  - {from: DB, to: S1}\n  - to: 'S2'\nΩ日: [x, y]\n", "f.yaml")
    at = {path: (p.line, p.column) for path, p in doc.marks.items()}
    keys = {path: (p.line, p.column) for path, p in doc.key_marks.items()}
    assert at == {
        (): (1, 1),
        ("a",): (1, 4),
        ("runs",): (3, 3),
        ("runs", 0): (3, 5),
        ("runs", 0, "from"): (3, 12),
        ("runs", 0, "to"): (3, 20),
        ("runs", 1): (4, 5),
        ("runs", 1, "to"): (4, 9),
        ("Ω日",): (5, 5),
        ("Ω日", 0): (5, 6),
        ("Ω日", 1): (5, 9),
    }
    assert keys == {
        ("a",): (1, 1),
        ("runs",): (2, 1),
        ("runs", 0, "from"): (3, 6),
        ("runs", 0, "to"): (3, 16),
        ("runs", 1, "to"): (4, 5),
        ("Ω日",): (5, 1),
    }


def test_a_path_that_is_not_there_has_the_position_around_it():
    doc = parse_yaml("a: {b: 1}\n", "f")
    assert doc.position(("a", "c", 3)) == Position("f", 1, 4)
    assert doc.key_position(("a", "b")) == Position("f", 1, 5)
    assert doc.key_position(("a", "c")) == Position("f", 1, 4)
    assert doc.position(("z",)) == Position("f", 1, 1)


WORDS = st.text("abcdefgh_", min_size=1, max_size=6)
TREES = st.recursive(
    st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS, inner, max_size=4),
    max_leaves=20,
)


@given(st.dictionaries(WORDS, TREES, min_size=1), st.booleans())
def test_what_yaml_writes_is_read_back_and_marked(tree, flow):
    text = yaml.safe_dump(tree, allow_unicode=True, default_flow_style=flow, default_style='"')
    doc = parse_yaml(text, "f")
    assert doc.tree == tree
    lines = text.split("\n")
    for path, at in doc.key_marks.items():
        assert lines[at.line - 1][at.column - 1 :].startswith((f'"{path[-1]}"', "? "))
    assert set(doc.key_marks) == {p for p in doc.marks if p and isinstance(p[-1], str)}


def test_an_alias_repeats_a_value_and_its_position():
    doc = parse_yaml("a: &cable {active: 2.5}\nb: *cable\nc: &w x\n*w : y\n", "f")
    assert doc.tree == {"a": {"active": "2.5"}, "b": {"active": "2.5"}, "c": "x", "x": "y"}
    assert doc.marks["b", "active"] == doc.marks["a", "active"]


@pytest.mark.parametrize(
    ("text", "where", "found"),
    [
        ("a: [1, 2", (1, 4), '"[" that opens here is not closed'),
        ("a: [1\nb: 3\n", (1, 4), '"[" that opens here is not closed'),
        ("a:\n  - {b: 1, c: [}\n", (2, 16), "a value is missing before this"),
        ("a: 1\nb: {c: 1\n", (2, 4), '"{" that opens here is not closed'),
        ('a: 1\nb: "x\n', (2, 4), "quote that opens here is never closed"),
        ("a: 'x", (1, 4), "quote that opens here is never closed"),
        ("a: b: c", (1, 5), '":" does not fit'),
        ("a: 1\n b: 2", (2, 3), '":" does not fit'),
        ("A-N:15.3\nb: 1", (2, 2), 'no space after the ":" on the line above'),
        ("a: @x", (1, 4), 'may not begin with "@"'),
        ("a: 1\nb: `x`", (2, 4), 'may not begin with "`"'),
        ("a: 1\n- b", (2, 1), "the block that begins on line 1"),
        ("a:\n  - b\n c: 1", (3, 2), "the block that begins on line 1"),
        ("a: 1\nb\n", (2, 1), 'no ":" after the key'),
        ("a: - b", (1, 4), "may not begin here"),
        ("a: }", (1, 4), "a value is missing before this"),
        ("%YAML 3.0\n---\na: 1", (1, 1), "this is not YAML"),
        ("a: 1\nb: x\x07y", (2, 5), "control character U+0007"),
        ("a: \ud800", (1, 4), "control character U+D800"),
    ],
)
def test_syntax_in_plain_words_at_the_place_to_look(text, where, found):
    problem = only(text)
    assert problem.id == "yaml-syntax"
    assert found in problem.found
    assert place(problem) == where


@pytest.mark.parametrize(
    ("text", "where", "near"),
    [
        ("a: 1\nA-E: >200 Mohm\nb: 2\n", (2, 6), '">200 Mohm"'),
        ("A-E: >200  # over\n", (1, 6), '">200"'),
        ("A-E: >5\nN-E: 3\n", (1, 6), '">5"'),
        ("- {A-E: >200 Mohm, N-E: 3}\n", (1, 9), '">200 Mohm"'),
        ("- {N-E: 3, A-E: > 200}\n", (1, 17), '"> 200"'),
        ("a: |\n", (1, 4), '"|"'),
        ("a: @x", (1, 4), '"@x"'),
    ],
)
def test_a_value_that_must_be_quoted_is_shown_quoted(text, where, near):
    problem = only(text)
    assert (problem.id, place(problem), problem.nearest) == ("yaml-syntax", where, near)
    assert problem.expected == "the value in quotes"


def test_a_smaller_than_sign_needs_no_quotes():
    assert parse_yaml("a: <0.05\nb: {c: < 5}", "f").tree == {"a": "<0.05", "b": {"c": "< 5"}}


def test_an_escape_in_double_quotes():
    problem = only('a: "C:\\q"')
    assert problem.id == "yaml-syntax"
    assert "double quotes" in problem.found
    assert "single quotes" in problem.expected


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("a:\n\tb: 1\n", (2, 1)),
        ("a: x\n\tb: 1\n", (2, 1)),
        ("- a\n\t- b\n", (2, 1)),
        ("a:\n  b: 1\n  \tc: 2\n", (3, 3)),
        ("a: x\n  \ty\n", (2, 3)),
    ],
)
def test_tabs_for_indentation(text, where):
    problem = only(text)
    assert (problem.id, place(problem)) == ("tab-indent", where)
    assert "spaces" in problem.expected


def test_tabs_that_indent_nothing_are_fine():
    assert parse_yaml("a: 1\nb: |\n  x\n  \ty\n", "f").tree == {"a": "1", "b": "x\n\ty\n"}


def test_a_tab_before_a_comment_is_fine_or_is_named():
    """The C parser takes it, the Python parser of PyYAML 6.0 does not."""
    text = "a: 1\t# note\n"
    if composing._LOADER is yaml.BaseLoader:
        assert (only(text).id, place(only(text))) == ("tab-indent", (1, 5))
    else:
        assert parse_yaml(text, "f").tree == {"a": "1"}


def test_all_duplicate_keys_with_both_lines():
    first, second = problems("S1: 1\nb: {x: 1, x: 2}\n\nS1: 2\n")
    assert (first.id, place(first)) == ("duplicate-key", (2, 11))
    assert 'the key "x" is written twice, on line 2' in first.found
    assert (second.id, place(second)) == ("duplicate-key", (4, 1))
    assert 'the key "S1" is written twice, on lines 1 and 4' in second.found


def test_quotes_do_not_make_another_key():
    assert only("a: 1\n'a': 2").id == "duplicate-key"


def test_several_documents():
    problem = only("a: 1\n---\nb: 2\n")
    assert (problem.id, place(problem)) == ("several-documents", (2, 1))
    assert parse_yaml("---\na: 1\n...\n", "f").tree == {"a": "1"}


@pytest.mark.parametrize("text", ["# only a comment\n", "---\n", "\n\n", "", "null"])
def test_a_file_of_nothing(text):
    problem = only(text)
    assert (problem.id, problem.position.line) == ("empty-file", 0)


@pytest.mark.parametrize(
    "text", ["[" * 51 + "]" * 51, "{a: " * 60 + "1" + "}" * 60, "[" * 100_000, "- " * 100_000]
)
def test_too_deep(text):
    problem = only(text)
    assert problem.id == "too-deep"
    assert "50" in problem.found


def test_fifty_levels_are_allowed():
    assert parse_yaml("[" * 49 + "x" + "]" * 49, "f").tree


def test_aliases_that_make_it_too_deep():
    text = "".join(f"a{i}: &a{i} {{x: {f'*a{i - 1}' if i else 1}}}\n" for i in range(60))
    assert only(text).id == "too-deep"


def test_aliases_that_expand_hugely_stop_early():
    text = "a0: &a0 [x, x]\n" + "".join(
        f"a{i}: &a{i} [*a{i - 1}, *a{i - 1}, *a{i - 1}]\n" for i in range(1, 40)
    )
    problem = only(text)
    assert problem.id == "too-many-values"
    assert "200,000" in problem.found


def test_many_values_without_aliases(monkeypatch):
    monkeypatch.setattr(document, "MOST_VALUES", 10)
    assert parse_yaml("[" + "a, " * 9 + "]", "f").tree == ["a"] * 9
    assert only("[" + "a, " * 10 + "]").id == "too-many-values"


@pytest.mark.parametrize("text", ["a: &x [*x]", "&x a: {b: &y {c: *y}}", "&r {a: *r}"])
def test_an_alias_inside_what_it_repeats(text):
    problem = only(text)
    assert problem.id == "recursive-alias"
    assert problem.position.line == 1


def test_an_alias_of_nothing_offers_the_nearest_anchor():
    problem = only("a: &cable 1\nb: *cabel\n")
    assert (problem.id, place(problem), problem.nearest) == ("unknown-alias", (2, 4), "*cable")


def test_all_that_is_odd_is_reported_together():
    found = problems("a: !!int 1\n? [x]\n: 2\n<<: {b: 1}\na: 3\nc: *d\n")
    assert [(p.id, p.position.line) for p in found] == [
        ("yaml-tag", 1),
        ("key-not-text", 2),
        ("merge-key", 4),
        ("duplicate-key", 5),
        ("unknown-alias", 6),
    ]


def test_no_object_is_ever_made(tmp_path):
    proof = tmp_path / "made"
    only(f"a: !!python/object/apply:pathlib.Path.touch [{proof}]")
    assert not proof.exists()


def test_windows_line_ends_and_a_byte_order_mark():
    doc = parse_yaml("\ufeffa: 1\r\nb: |\r\n  x\r\n", "f")
    assert doc.tree == {"a": "1", "b": "x\n"}
    assert doc.marks["a",] == Position("f", 1, 4)


def test_load_yaml_reads_a_file(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("switch: on\n")
    doc = load_yaml(path)
    assert isinstance(doc, Document)
    assert (doc.path, doc.text, doc.tree) == (str(path), "switch: on\n", {"switch": "on"})
    with pytest.raises(BadInput, match="no such file"):
        load_yaml(tmp_path / "b.yaml")


@given(st.text(st.sampled_from("ab:{}[],-&*!|>%@`\"'#? \t\n0\\~<.é"), max_size=40))
def test_any_text_gives_a_tree_or_problems_with_a_place(text):
    try:
        outcome: Document | BadInput = parse_yaml(text, "f")
    except BadInput as error:
        outcome = error
    if isinstance(outcome, Document):
        assert () in outcome.marks
    else:
        last = text.count("\n") + 2  # what is missing at the end is missed on the line after it
        assert all(0 <= p.position.line <= last for p in outcome.problems)
        assert str(outcome)


def test_line_breaks_that_only_yaml_counts_do_not_shift_the_place():
    problem = only("a: 1\u2028b: 2\x85c: >200 Mohm\nd: 1\n")
    assert (place(problem), problem.nearest) == ((3, 4), '">200 Mohm"')
