"""YAML written reads back as itself."""

from hypothesis import given
from hypothesis import strategies as st

from faultfinder.source.document import parse_yaml
from faultfinder.source.writing import mapping, number, sequence, text

_SIGNS = """aS1 .:,"#{}[]'-~&*?|>@`%\\é漢\u2028"""
WORDS = st.text(_SIGNS, max_size=9) | st.sampled_from(["null", "on", "~", "1e3"])


@given(WORDS, WORDS, st.lists(WORDS, max_size=3))
def test_any_text_reads_back(key, value, several):
    line = mapping({key: text(value), f"{key}-s": sequence([text(one) for one in several])})
    tree = parse_yaml(f"- {line}\n", "written.yaml").tree
    assert tree == [{key: value, f"{key}-s": several}]


@given(st.floats(-1e12, 1e12))
def test_a_number_reads_back(value):
    assert float(number(value)) == value
    assert len(number(value)) <= 25


def test_quotes_stand_only_where_they_are_needed():
    assert [text(t) for t in ("S1", "open E at S3..S4", "null", "a: b", "on")] == [
        "S1",
        "open E at S3..S4",
        '"null"',
        '"a: b"',
        "on",
    ]
    assert [number(n) for n in (14.0, 0.42, 1e-7, 2e6, 1e-99)] == [
        "14",
        "0.42",
        "0.0000001",
        "2000000",
        "1e-99",
    ]
