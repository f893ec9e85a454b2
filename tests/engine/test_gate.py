"""What may pass to the engine, and that words keep their types on the way."""

import enum
import math

import pytest

from faultfinder.engine import BadFacts, Engine, EngineFault
from faultfinder.engine.gate import MOST_FACTS, MOST_FIELDS
from faultfinder.rulebook.sign import Pattern, Sign


def _engine(*words):
    return Engine([Sign("held", (Pattern("r", "reading", where=(("grade", words),)),))])


def _fact(value, id_="1"):
    return {"id": id_, "kind": "reading", "grade": value}


@pytest.mark.parametrize(
    "value", [0.5, 1.0, 1e-5, 1e16, math.inf, -math.inf, math.nan, None, ["high"], {"m": 1}, b"x"]
)
def test_only_words_whole_numbers_and_yes_or_no_pass(value):
    with pytest.raises(BadFacts) as caught:
        _engine("high").run([_fact(value)])
    (problem,) = caught.value.problems
    assert problem == (
        f'fact 1 has {value!r} as its "grade"; expected a word, a whole number or yes/no'
    )
    assert isinstance(caught.value, EngineFault)


ALIKE = ("1", 1, True, "True", "true", "0", 0, False, "", "2.5", "1e-5", "inf", 10**30)


@pytest.mark.parametrize("asked", ALIKE)
def test_each_word_equals_itself_only(asked):
    engine = _engine(asked)
    firings = engine.run([_fact(value, str(place)) for place, value in enumerate(ALIKE)])
    assert [f.bound for f in firings] == [(("r", str(_place(asked))),)]


def _place(asked):
    """Python's own index takes True for 1: find by type too."""
    return next(i for i, v in enumerate(ALIKE) if v == asked and type(v) is type(asked))


def test_a_join_keeps_types_apart_too():
    pair = (Pattern("a", "reading"), Pattern("b", "switch", same=(("grade", "a", "grade"),)))
    engine = Engine([Sign("joined", pair)])
    switches = [{"id": f"s{n}", "kind": "switch", "grade": v} for n, v in enumerate(ALIKE)]
    for place, value in enumerate(ALIKE):
        (firing,) = engine.run([_fact(value), *switches])
        assert firing.bound == (("a", "1"), ("b", f"s{place}"))


def test_facts_that_python_takes_for_equal_are_not_duplicates():
    every = Engine([Sign("any", (Pattern("r", "reading"),))])
    assert len(every.run([_fact(1, "a"), _fact("1", "b"), _fact(True, "c"), _fact(1, "d")])) == 4


class Grade(enum.StrEnum):
    HIGH = "high"


def test_a_named_word_is_the_word():
    assert len(_engine("high").run([_fact(Grade.HIGH)])) == 1
    assert len(_engine(Grade.HIGH).run([_fact("high")])) == 1


def test_a_repeated_id_is_refused():
    with pytest.raises(BadFacts, match='fact "1" is given twice'):
        _engine("high").run([_fact("high"), _fact("low")])


@pytest.mark.parametrize("own", ["id", "kind"])
@pytest.mark.parametrize("value", [None, "", 7])
def test_every_fact_needs_an_id_and_a_kind(own, value):
    fact = {**_fact("high"), own: value}
    if value is None:
        del fact[own]
    with pytest.raises(BadFacts, match=f"as its {own}; expected a word"):
        _engine("high").run([fact])


def test_every_problem_is_told_at_once():
    with pytest.raises(BadFacts) as caught:
        _engine("high").run([_fact(0.5), _fact("high"), {"id": "2"}])
    assert len(caught.value.problems) == 3


def test_too_many_facts_are_refused_and_the_most_are_taken():
    engine = _engine("high")
    facts = [_fact("high", str(n)) for n in range(MOST_FACTS + 1)]
    with pytest.raises(BadFacts, match="5001 facts at once; the engine takes 5000"):
        engine.run(facts)
    assert len(engine.run(facts[1:])) == MOST_FACTS


def test_too_many_fields_are_refused_and_the_most_are_taken():
    fact = _fact("high") | {f"field {n}": n for n in range(MOST_FIELDS - 3)}
    assert len(_engine("high").run([fact])) == 1
    with pytest.raises(BadFacts, match="201 fields; the engine takes 200"):
        _engine("high").run([{**fact, "more": 1}])
