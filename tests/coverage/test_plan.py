"""Plan files: what they may say, and what is said of their mistakes."""

from pathlib import Path

import pytest
from modelled import LINE, RING, RULEBOOK

from faultfinder.coverage.plan import load_plan, plan_of
from faultfinder.source.problem import BadInput

PROCEDURES = RULEBOOK.procedures


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def read(text, circuit=LINE):
    Path("plan.yaml").write_text(text, "utf-8")
    return load_plan(Path("plan.yaml"), circuit, PROCEDURES)


def complaints(text):
    with pytest.raises(BadInput) as caught:
        read(text)
    return [f"{p.position.line} {p.id}: {p.found} -> {p.nearest}" for p in caught.value.problems]


def test_a_test_alone_is_taken_wherever_it_is_read():
    assert read("tests:\n  - {test: terminated}\n").spots == (
        plan_of(["terminated"], LINE, PROCEDURES).spots
    )


def test_places_switch_positions_and_pairs_narrow_it():
    plan = read(
        "title: A look\ntests:\n"
        "  - {test: terminated, at: [S1, S3], switch: on, between: A-N}\n"
        "  - {test: insulation, at: DB, between: [A-N, A+N-E]}\n"
    )
    assert plan.title == "A look"
    assert [str(spot) for spot in plan.spots] == [
        "A-N at S1, switch on",
        "A-N at S3",
        "A-N at DB",
        "A+N-E at DB",
    ]


def test_minutes_count_each_set_up_once_and_each_place_once():
    plan = read("tests: [{test: terminated, at: [S1, S2]}, {test: insulation, at: DB}]")
    assert plan.minutes(PROCEDURES) == (8 + 2 * 2) + (5 + 2)


def test_the_same_spot_twice_is_read_once():
    plan = read("tests: [{test: insulation, at: DB}, {test: insulation, at: DB}]")
    assert len(plan.spots) == 4


def test_every_mistake_is_told_with_its_line_and_the_nearest_word():
    assert complaints(
        "tests:\n"
        "  - {test: terminatd}\n"
        "  - {test: terminated, at: [S1, S9]}\n"
        "  - {test: terminated, switch: up}\n"
        "  - {test: terminated, between: [N-A, A-B]}\n"
        "  - {test: loop}\n"
        "  - {test: ring-ends}\n"
    ) == [
        '2 unknown-test: no test "terminatd" in this plan\'s reach -> terminated',
        '3 unknown-place: no place "S9" in this plan\'s reach -> ',
        '4 unknown-switch: no switch position "up" in this plan\'s reach -> ',
        '5 unknown-pair: no pair "A-B" in this plan\'s reach -> A-N',
        "6 missing-key: test loop is live, and nothing is known of the supply -> ",
        "7 impossible-value: test ring-ends reads nothing on this circuit -> ",
    ]
    assert complaints("tests: []\n")
    assert complaints("test: [{test: terminated}]\n")


def test_a_ring_can_be_planned():
    assert read("tests: [{test: ring-ends}]", RING).tests == ("ring-ends",)
