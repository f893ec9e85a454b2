"""From text with positions to models, and pydantic's errors in our own words."""

# ruff: noqa: E501 - a table reads best with one case a line

from enum import Enum
from typing import Annotated, Literal

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from pydantic import (
    AliasChoices,
    BaseModel,
    Discriminator,
    Field,
    RootModel,
    Tag,
    ValidationError,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from faultfinder.source.decode import Schema, YesNo, decode
from faultfinder.source.document import parse_yaml
from faultfinder.source.problem import BadInput, Problem
from faultfinder.source.quantity import Metre, Ohm, QuantityError


class Material(Enum):
    COPPER = "copper"
    ALUMINIUM = "aluminium"


class Outlet(Schema):
    kind: Literal["outlet"]
    switched: YesNo = True


class Switch(Schema):
    kind: Literal["switch"]
    gangs: int = 1


class Run(Schema):
    from_: str = Field(alias="from")
    to: str
    length: Metre


class Joint(Schema):
    ohms: Ohm


class Leaf(Schema):
    reading: str
    grade: Literal["high", "low"]


class Every(Schema):
    every: list["Leaf | Every | Either"]


class Either(Schema):
    either: list["Leaf | Every | Either"]


class Names(RootModel[dict[str, Joint]]):
    pass


def by_shape(value: object) -> str:
    return "one" if isinstance(value, str) else "many"


class Case(Schema):
    title: str = ""
    material: Material = Material.COPPER
    count: Annotated[int, Field(ge=1, lt=10)] = 1
    share: Annotated[float, Field(gt=0, le=1)] = 1.0
    flag: bool = False
    conductors: Annotated[list[str], Field(min_length=1, max_length=3)] = Field(
        default_factory=lambda: ["A"]
    )
    pair: tuple[int, Joint] | None = None
    points: dict[str, Annotated[Outlet | Switch, Field(discriminator="kind")]] = Field(
        default_factory=dict
    )
    runs: tuple[Run, ...] = ()
    circuit: str | Joint = ""
    value: Ohm | Literal["open"] = "open"
    plain: float | None = None
    by_test: dict[Literal["loop", "voltage"], int] = Field(default_factory=dict)
    when: Leaf | Every | Either | None = None
    names: Names | None = None
    board: str = Field("DB", validation_alias=AliasChoices("board", "switchboard"))
    shaped: Annotated[
        Annotated[str, Tag("one")] | Annotated[list[Joint], Tag("many")], Discriminator(by_shape)
    ] = ""
    code: Annotated[str, Field(min_length=2, max_length=4, pattern="^[a-z-]*$")] = "ab"

    @field_validator("title")
    @classmethod
    def check_title(cls, title: str) -> str:
        if title == "plain":
            raise ValueError("a plain refusal")
        if title == "own":
            raise PydanticCustomError(
                "own-id", "{found}", {"found": "odd", "expected": "even", "nearest": "evn"}
            )
        if title == "bare":
            raise PydanticCustomError("bare-id", "only a message")
        if title == "quantity":
            raise QuantityError("unknown-unit", "unknown unit", "ohm", "1 ohm")
        return title

    @model_validator(mode="after")
    def check_runs(self) -> "Case":
        for i, run in enumerate(self.runs):
            if run.to == "nowhere":
                raise PydanticCustomError(
                    "unknown-point", "{found}", {"found": "no such point", "at": ("runs", i, "to")}
                )
        return self


def problems(text: str, model: type[BaseModel] = Case) -> list[Problem]:
    document = parse_yaml(text, "f.yaml")
    with pytest.raises(BadInput) as caught:
        decode(document, model)
    assert caught.value.sources == {"f.yaml": text}
    found = list(caught.value.problems)
    for problem in found:
        words = f"{problem.found} {problem.expected}"
        for leak in (
            "Input should",
            "pydantic",
            "dictionary",
            "Enum",
            "Joint",
            "Outlet",
            "Extra in",
        ):
            assert leak not in words
    return found


def only(text: str, model: type[BaseModel] = Case) -> Problem:
    (problem,) = problems(text, model)
    return problem


def pointed_at(problem: Problem, text: str) -> str:
    """Return the source text from the problem's position on."""
    return text.split("\n")[problem.position.line - 1][problem.position.column - 1 :]


def test_a_good_file():
    text = (
        "points: {S1: {kind: outlet, switched: off}, S2: {kind: switch, gangs: 010}}\n"
        "runs: [{from: DB, to: S1, length: 1200 mm}]\nmaterial: aluminium\nvalue: 2 kohm\n"
        "circuit: {ohms: 3}\nconductors: [A, N]\nflag: no\nplain: 1e-3\nby_test: {loop: 1}\n"
        "when: {every: [{reading: x, grade: high}, {either: []}]}\nnames: {a: {ohms: 1}}\n"
        "switchboard: MSB\nshaped: [{ohms: 1}]\npair: [1, {ohms: 2}]\n"
    )
    case = decode(parse_yaml(text, "f"), Case)
    assert case.points == {
        "S1": Outlet(kind="outlet", switched=False),
        "S2": Switch(kind="switch", gangs=10),
    }
    assert case.runs == (Run(from_="DB", to="S1", length=1.2),)
    assert (case.material, case.value, case.plain) == (Material.ALUMINIUM, 2000.0, 0.001)
    assert (case.circuit, case.flag, case.board) == (Joint(ohms=3), False, "MSB")


@pytest.mark.parametrize(
    "case",
    [
        ("titel: x", "unknown-key", "titel", 'unknown key "titel"', "title, material,", "title"),
        ("titel: x", "unknown-key", "titel", "", "board, shaped or code", "title"),
        ("points: {S1: {kind: outlet, swiched: on}}", "unknown-key", "swiched", "", "kind or switched", "switched"),
        ("{count:3}", "unknown-key", "count:3", 'unknown key "count:3"', "", "count: 3"),
        ("points: {S1: {switched: on}}", "missing-key", "{switched", '"kind" is missing', "", ""),
        ("points: {S1: {kind: outlte}}", "unknown-value", "outlte", 'unknown kind "outlte"', "outlet or switch", "outlet"),
        ("points: {S1: outlet}", "wrong-kind", "outlet", '"outlet" stands here', 'a block of "key: value" lines', ""),
        ("points: [1]", "wrong-kind", "[1]", "a list stands here", 'a block of "key: value" lines', ""),
        ("points:", "wrong-kind", "", "nothing is written here", "", ""),
        ("runs: [{from: DB, length: 3}]", "missing-key", "{from", '"to" is missing', "", ""),
        ("runs: [{from_: [], to: S1, length: 3}]", "wrong-kind", "[], to", "a list stands here", "text", ""),
        ("runs: [{from: DB, to: S1, length: 14 ohm}]", "impossible-unit", "14 ohm", "not of length", "mm, cm, m or km", ""),
        ('runs: [{from: DB, to: S1, length: "2,5"}]', "decimal-comma", '"2,5"', "ambiguous", "", "2.5"),
        ("runs: [{from: DB, to: S1, length: 0}]", "out-of-range", "0}", "too small", "more than 0 m", ""),
        ("runs: {a: 1}", "wrong-kind", "{a", 'a block of "key: value" lines stands here', "a list", ""),
        ("material: coper", "unknown-value", "coper", 'unknown material "coper"', "copper or aluminium", "copper"),
        ("material: [a]", "wrong-kind", "[a]", "a list stands here", "copper or aluminium", ""),
        ("count: two", "not-a-number", "two", '"two" is not a whole number', "a whole number", ""),
        ("count: 2.5", "not-a-number", "2.5", '"2.5" is not a whole number', "", ""),
        ("count:", "not-a-number", "", "nothing is written here", "a whole number", ""),
        ("count: [1]", "wrong-kind", "[1]", "a list stands here", "a whole number", ""),
        ("count: 0", "out-of-range", "0", '"0" is too small', "at least 1", ""),
        ("count: 10", "out-of-range", "10", '"10" is too large', "less than 10", ""),
        ("share: 0", "out-of-range", "0", "too small", "more than 0", ""),
        ("share: 1.5", "out-of-range", "1.5", "too large", "at most 1", ""),
        ("share: nan", "not-a-number", "nan", '"nan" is not a number', "a number", ""),
        ("share: inf", "not-a-number", "inf", '"inf" is not a number', "a number", ""),
        ("share: 0,5", "not-a-number", "0,5", "", "a number", "0.5"),
        ("plain: 1,200", "not-a-number", "1,200", "", "a number", ""),
        ("flag: maybe", "not-yes-or-no", "maybe", "neither yes nor no", "yes or no", ""),
        ("flag:", "not-yes-or-no", "", "nothing is written here", "yes or no", ""),
        ("flag: [a]", "wrong-kind", "[a]", "a list stands here", "yes or no", ""),
        ("conductors: A", "wrong-kind", "A", '"A" stands here', "a list", "[A]"),
        ("conductors: []", "out-of-range", "[]", "too few entries", "at least 1", ""),
        ("conductors: [a, b, c, d]", "out-of-range", "[a", "too many entries", "at most 3", ""),
        ("conductors: [a, [b]]", "wrong-kind", "[b]", "a list stands here", "text", ""),
        ("pair: [1, {ohm: 1, ohms: 2}]", "unknown-key", "ohm: 1", "", "ohms", "ohms"),
        ("circuit: []", "wrong-kind", "[]", "a list stands here", 'text, or a block of "key: value" lines', ""),
        ("circuit: {ohms: x}", "not-a-number", "x}", '"x" is not a number', "a number in ohm", ""),
        ("value: opne", "not-a-number", "opne", '"opne" is not a number', '"open"', "open"),
        ("value: 3 V", "impossible-unit", "3 V", "not of resistance", "open", ""),
        ("by_test: {lop: 1}", "unknown-key", "lop", 'unknown key "lop"', "loop or voltage", "loop"),
        ("by_test: {loop: x}", "not-a-number", "x}", "", "", ""),
        ("names: {a: {ohm: 1, ohms: 1}}", "unknown-key", "ohm: 1", "", "ohms", "ohms"),
        ("switchboard: []", "wrong-kind", "[]", "", "text", ""),
        ("shaped: [{ohm: 1, ohms: 1}]", "unknown-key", "ohm: 1", "", "ohms", "ohms"),
        ("title: plain", "bad-value", "plain", "a plain refusal", "", ""),
        ("title: own", "own-id", "own", "odd", "even", "evn"),
        ("title: bare", "bare-id", "bare", "only a message", "", ""),
        ("title: quantity", "unknown-unit", "quantity", "unknown unit", "ohm", "1 ohm"),
        ("code: a", "out-of-range", "a", "too few characters", "at least 2", ""),
        ("code: abcde", "out-of-range", "abcde", "too many characters", "at most 4", ""),
        ("code:", "empty-value", "", "nothing is written here", "", ""),
        ("code: A1", "bad-value", "A1", '"A1" does not fit here', "pattern", ""),
        ("- a", "wrong-kind", "- a", "a list stands here", 'a block of "key: value" lines', ""),
        ("words", "wrong-kind", "words", '"words" stands here', "", ""),
    ],
)  # fmt: skip
def test_each_error_has_its_id_place_and_words(case):
    text, id_, at, found, expected, near = case
    problem = only(text)
    assert problem.id == id_
    assert pointed_at(problem, text).startswith(at)
    assert found in problem.found
    assert expected in problem.expected
    assert problem.nearest == near


def test_all_errors_come_at_once_in_the_order_of_the_file():
    text = "titel: x\ncount: two\nruns:\n  - {form: DB, to: S1, length: 3}\nflag: maybe\n"
    assert [(p.id, p.position.line, p.position.column) for p in problems(text)] == [
        ("unknown-key", 1, 1),
        ("not-a-number", 2, 8),
        ("missing-key", 4, 5),
        ("unknown-key", 4, 6),
        ("not-yes-or-no", 5, 7),
    ]


def test_of_a_union_only_the_branch_that_was_meant_is_reported():
    text = (
        "when: {every: [{raeding: x, grade: high}, {either: [{reading: x, grade: hihg}]}]}\n"
        "circuit: {ohm: 1}"
    )
    assert [(p.id, p.position.line, p.position.column, p.nearest) for p in problems(text)] == [
        ("missing-key", 1, 16, ""),
        ("unknown-key", 1, 17, "reading"),
        ("unknown-value", 1, 73, "high"),
        ("missing-key", 2, 10, ""),
        ("unknown-key", 2, 11, "ohms"),
    ]


def test_a_union_of_blocks_that_is_no_block():
    problem = only("when: x")
    assert (problem.id, problem.expected) == ("wrong-kind", 'a block of "key: value" lines')


def test_a_validator_may_point_at_the_culprit():
    text = (
        "title: x\nruns:\n- {from: DB, to: S1, length: 3}\n- {from: S1, to: nowhere, length: 3}\n"
    )
    problem = only(text)
    assert problem.id == "unknown-point"
    assert pointed_at(problem, text).startswith("nowhere")


def test_a_part_of_a_document():
    document = parse_yaml("a:\n  b:\n    - {ohms: 5}\n    - {ohms: 5 V}\n", "f")
    assert decode(document, Joint, at=("a", "b", 0)) == Joint(ohms=5)
    with pytest.raises(BadInput) as caught:
        decode(document, Joint, at=("a", "b", 1))
    (problem,) = caught.value.problems
    assert (problem.position.line, problem.position.column) == (4, 14)


@pytest.mark.parametrize(("at", "name"), [(("c",), "c"), (("a", "b"), "b"), (("l", 3), "3")])
def test_a_part_that_is_not_there(at, name):
    document = parse_yaml("a: text\nl: [x]\n", "f")
    with pytest.raises(BadInput) as caught:
        decode(document, Joint, at=at)
    (problem,) = caught.value.problems
    assert problem.id == "missing-key"
    assert f'"{name}"' in problem.found


@pytest.mark.parametrize("word", ["yes", "Yes", "true", "TRUE", "on", "ON"])
def test_yes(word):
    assert decode(parse_yaml(f"{{kind: outlet, switched: {word}}}", "f"), Outlet).switched is True


@pytest.mark.parametrize("word", ["no", "false", "off", "Off"])
def test_no(word):
    assert decode(parse_yaml(f"{{kind: outlet, switched: {word}}}", "f"), Outlet).switched is False


@pytest.mark.parametrize(("word", "near"), [("1", ""), ("y", ""), ("yse", "yes"), ("''", "")])
def test_neither_yes_nor_no(word, near):
    problem = only(f"{{kind: outlet, switched: {word}}}", Outlet)
    assert (problem.id, problem.nearest) == ("not-yes-or-no", near)


def test_yes_and_no_in_python():
    assert Outlet(kind="outlet", switched=False).switched is False
    assert only("{kind: outlet, switched: [on]}", Outlet).id == "wrong-kind"


def test_a_schema_is_frozen_and_strict():
    with pytest.raises(ValidationError, match="frozen"):
        Joint(ohms=1).ohms = 2
    with pytest.raises(ValidationError, match="Extra"):
        Joint(ohms=1, mohms=2)
    assert Run(from_="a", to="b", length=1) == Run.model_validate(
        {"from": "a", "to": "b", "length": 1}
    )


def test_the_whole_message():
    text = "points:\n  S1: {kind: outlet, swiched: on}\n"
    with pytest.raises(BadInput) as caught:
        decode(parse_yaml(text, "case.yaml"), Case)
    assert str(caught.value) == (
        'case.yaml:2:22: error: unknown key "swiched" [unknown-key]\n'
        "   2 |   S1: {kind: outlet, swiched: on}\n"
        "     |                      ^\n"
        "  expected  kind or switched\n"
        "  try       switched"
    )


VALUES = st.sampled_from(["", "x", "1", "-1", "2,5", "on", "open", "high", "outlet", "3 V", "nan"])
WORDS = [
    *Case.model_fields,
    "from",
    "to",
    "length",
    "kind",
    "ohms",
    "reading",
    "every",
    "S1",
    "odd",
]
TREES = st.recursive(
    VALUES,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(WORDS), inner, max_size=4)
    ),
    max_leaves=15,
)


@given(st.dictionaries(st.sampled_from(WORDS), TREES, min_size=1, max_size=5))
def test_any_tree_is_a_case_or_problems_with_a_place(tree):
    text = yaml.safe_dump(tree, default_style='"')
    try:
        outcome: Case | BadInput = decode(parse_yaml(text, "f"), Case)
    except BadInput as error:
        outcome = error
    if isinstance(outcome, BadInput):
        lines = text.count("\n") + 1
        assert all(1 <= p.position.line <= lines for p in outcome.problems)
        assert all(p.id and p.found for p in outcome.problems)
    else:
        assert set(tree) <= {*Case.model_fields, "switchboard"}
