"""Signs as rules: what can be said to the library at all, and the limits kept from it."""

import json

import pytest

from faultfinder.engine import BadSigns, Engine
from faultfinder.engine.compiling import MOST_BOUND, MOST_TESTS, batches
from faultfinder.rulebook.sign import Pattern, Sign

from . import generated


def _said(value):
    """Every key in a rule with what it holds."""
    if isinstance(value, dict):
        for key, held in value.items():
            yield key, held
            yield from _said(held)
    elif isinstance(value, list):
        for held in value:
            yield from _said(held)


def test_no_other_operator_and_no_comparison_between_facts_is_ever_said():
    """Two rules that compare two facts in opposite senses crash the library (its issue 381)."""
    joins = 0
    for seed in range(200):
        for batch in batches(generated.signs(generated.seeded(seed), 5)):
            rules = batch.rules()
            json.dumps(rules, allow_nan=False)
            for key, held in _said(rules):
                if key.startswith("$"):
                    assert key in {"$and", "$or", "$neq"}
                if key == "$neq":
                    (number,) = held.values()
                    assert type(number) is int
                if key[0] == "f" and isinstance(held, dict):
                    # Equality, the library's meaning of a field without an operator.
                    ((alias, field),) = held.items()
                    assert (alias[0], field[0]) == ("p", "f")
                    joins += 1
    assert joins > 100


def test_batches_stay_below_what_the_library_can_hold_waiting():
    """Without batches, 200 alternatives that share a word would overflow its stack of 64."""
    signs = [
        Sign(f"s{n}", (Pattern("r", "reading", where=(("grade", ("high", n)),)),))
        for n in range(200)
    ]
    assert len(batches(signs)) > 3
    assert len(Engine(signs).run([{"id": "1", "kind": "reading", "grade": "high"}])) == 200


def test_the_same_signs_have_the_same_name_and_others_another():
    def name(word):
        (batch,) = batches([Sign("s", (Pattern("r", "reading", where=(("grade", (word,)),)),))])
        return batch.name

    assert name(1) == name(1)
    assert len({name(word) for word in (1, True, "1")}) == 3


def test_the_largest_signs_are_matched_and_larger_ones_refused():
    at = (("at", "p0", "at"),)
    chain = [Pattern(f"p{n}", f"k{n}", same=at if n else ()) for n in range(MOST_BOUND + 1)]
    facts = [{"id": f"f{n}", "kind": f"k{n}", "at": "P1"} for n in range(MOST_BOUND)]
    assert len(Engine([Sign("long", tuple(chain[:-1]))]).run(facts)) == 1
    with pytest.raises(BadSigns, match='sign "long" binds 16 facts; the engine takes 15'):
        Engine([Sign("long", tuple(chain))])


def test_the_most_tests_are_matched_and_more_refused():
    fact = {"id": "1", "kind": "reading", "grade": "high"}
    barred = tuple(range(MOST_TESTS - 1))
    engine = Engine([Sign("wide", (Pattern("r", "reading", unless=(("grade", barred),)),))])
    assert len(engine.run([fact])) == 1
    with pytest.raises(BadSigns, match='sign "wide" makes 61 tests; the engine takes 60'):
        Engine([Sign("wide", (Pattern("r", "reading", unless=(("grade", (*barred, "x")),)),))])


@pytest.mark.parametrize("choices", [0, 14])
def test_the_most_conditions_of_a_pattern_are_matched_and_more_refused(choices):
    joins = 29 - 2 * choices
    fields = [f"f{n}" for n in range(joins + choices)]
    same = tuple((field, "a", field) for field in fields[:joins])
    where = tuple((field, ("x", "y")) for field in fields[joins:])
    last = Pattern("b", "switch", where=where, same=same)
    engine = Engine([Sign("deep", (Pattern("a", "reading"), last))])
    words = dict.fromkeys(fields, "x")
    reading = {"id": "1", "kind": "reading", **words}
    assert len(engine.run([reading, {"id": "2", "kind": "switch", **words}])) == 1
    assert engine.run([reading, {"id": "2", "kind": "switch", **words, "f0": "y"}]) == ()
    more = Pattern("b", "switch", where=where, same=(*same, ("g", "a", "g")))
    with pytest.raises(BadSigns, match='pattern "b" has too many conditions'):
        Engine([Sign("deep", (Pattern("a", "reading"), more))])


@pytest.mark.parametrize(
    ("patterns", "flaw"),
    [
        ((), "it has no pattern"),
        ((Pattern("a", "x"), Pattern("a", "y")), 'two patterns are called "a"'),
        ((Pattern("a", "x", where=(("f", ()),)),), 'pattern "a" lists no word for "f"'),
        (
            (Pattern("a", "x", unless=(("f", (0.5,)),)),),
            'pattern "a" compares "f" with 0.5, which is not a word',
        ),
        (
            (Pattern("a", "x", same=(("f", "b", "f"),)), Pattern("b", "x")),
            'pattern "a" refers to "b", which no earlier pattern binds',
        ),
        (
            (Pattern("a", "x", absent=True), Pattern("b", "x", same=(("f", "a", "f"),))),
            'pattern "b" refers to "a", which no earlier pattern binds',
        ),
    ],
)
def test_signs_that_mean_nothing_are_refused(patterns, flaw):
    with pytest.raises(BadSigns) as caught:
        Engine([Sign("odd", patterns), Sign("twice", patterns), Sign("twice", ())])
    assert f'sign "odd": {flaw}' in caught.value.problems
    assert 'more than one sign is called "twice"' in caught.value.problems


def test_no_signs_never_fire():
    assert Engine([]).run([{"id": "1", "kind": "reading"}]) == ()
