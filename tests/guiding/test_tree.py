"""The decision tree: it is whole, and whoever follows it comes to the truth."""

import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import pytest
from modelled import LINE, RULEBOOK, case, readings

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.guiding.tree import decision_tree, numbered, steps_of
from faultfinder.readings.reading import Reading
from faultfinder.reporting.plan import plan_svg, plan_text
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

OVER = Amount(200.0, ">")
OPEN_EARTH = Fault("open", ("E",), "S1..S2")


def tree_of(*where, fault=OPEN_EARTH):
    taken = [r for r in readings(LINE, [fault]) if r.spot.at in where]
    return decision_tree(diagnose(case(LINE, taken=taken), RULEBOOK))


@pytest.fixture(scope="module")
def tree():
    return tree_of("S3")


def test_every_step_has_its_number_and_every_branch_a_step_or_an_end(tree):
    numbers = numbered(tree)
    steps = steps_of(tree)
    assert [numbers[id(node)] for node in steps] == list(range(1, len(steps) + 1))
    for node in steps:
        for branch in node.branches:
            assert branch.then is None or numbers[id(branch.then)] > numbers[id(node)]


def test_chances_of_the_branches_are_those_of_the_step(tree):
    def share(node):
        return sum(branch.share for branch in node.branches)

    assert share(tree) == pytest.approx(1.0, abs=0.02)
    for node in steps_of(tree):
        for branch in node.branches:
            if branch.then is not None and branch.then.branches:
                assert share(branch.then) == pytest.approx(branch.share, abs=0.02)


def test_the_leaves_mend_every_suspected_place(tree):
    ends = " ".join(node.task for node in steps_of(tree) if not node.risk)
    ends += " ".join(b.outcome for node in steps_of(tree) for b in node.branches)
    for place in ("DB..S1", "S1..S2", "S2..S3"):
        assert place in ends


def test_to_look_into_a_board_is_to_mind_what_is_live_there():
    """An open earth in the first run is seen at its far end, or at the board."""
    first = Fault("open", ("E",), "DB..S1")
    taken = readings(LINE, [first])
    right = tuple((mistake, "DB") for mistake in RULEBOOK.set_ups)
    shut = replace(case(LINE, taken=taken), cannot=(("inspect", "S1"),), in_order=right)
    diagnosis = diagnose(shut, RULEBOOK)
    steps = steps_of(decision_tree(diagnosis))
    (look,) = [check for check in diagnosis.next_checks if check.spot.at == "DB"]
    board = RULEBOOK.inspection.board
    assert (look.test, look.risk) == ("inspect", "dead with supply nearby")
    assert look.steps == board.steps
    assert look.cautions[: len(board.cautions)] == board.cautions
    mended = [node for node in steps if "mend DB..S1" in node.task]
    assert mended
    assert all({*board.cautions} <= {*node.cautions} for node in mended)


def test_no_step_of_it_is_live(tree):
    assert {node.risk for node in steps_of(tree)} <= {"", "dead", "dead with supply nearby"}


def test_where_nothing_is_wrong_it_lists_what_to_read():
    found = decision_tree(diagnose(case(LINE, taken=[]), RULEBOOK))
    assert found.task.startswith("Read")
    whole = decision_tree(diagnose(case(LINE), RULEBOOK))
    assert whole is None
    assert plan_text(whole, "x") == "Nothing is to be checked."
    assert "Nothing is to be checked." in plan_svg(whole, "x")


def test_the_drawing_has_the_cautions_too(tree):
    root = ET.fromstring(plan_svg(tree, "a kitchen"))  # noqa: S314 - our own
    said = " ".join(
        "".join(text.itertext()) for text in root.iter("{http://www.w3.org/2000/svg}text")
    )
    for node in steps_of(tree):
        for caution in node.cautions:
            assert f"! {caution}" in said
    lowest = max(float(t.get("y")) for t in root.iter("{http://www.w3.org/2000/svg}text"))
    assert lowest < float(root.get("height"))


@pytest.mark.parametrize("width", [40, 80])
def test_the_text_fits_and_leads_on(tree, width):
    text = plan_text(tree, "a kitchen", width)
    assert max(map(len, text.split("\n"))) <= width
    assert "1. Read" in text
    assert "go to 2" in " ".join(text.split())
    assert "prove it dead" in " ".join(text.split())
    for node in steps_of(tree):
        for caution in node.cautions:
            assert caution in " ".join(text.replace("\n", " ").split()).replace("! ", "")


def test_the_drawing_is_well_formed_and_holds_every_step(tree):
    drawn = ET.fromstring(plan_svg(tree, "a <kitchen> & hall"))  # noqa: S314 - our own
    texts = [e.text for e in drawn.iter("{http://www.w3.org/2000/svg}text")]
    for number in range(1, len(steps_of(tree)) + 1):
        assert any(text.startswith(f"{number}. ") for text in texts)
    boxes = [e for e in drawn.iter("{http://www.w3.org/2000/svg}rect") if e.get("class")]
    assert len(boxes) == len(steps_of(tree))
    spans = sorted((float(b.get("x")), float(b.get("y")), float(b.get("height"))) for b in boxes)
    for (x1, y1, h1), (x2, y2, _) in pairwise(spans):
        assert x1 != x2 or y1 + h1 <= y2, "two boxes overlap"


def test_looks_set_ups_and_partings_stand_in_it_too():
    """An earth open from the first run on: the link may be out as well; and a leak, halved."""
    found = tree_of("S1", fault=Fault("open", ("E",), "DB..S1"))
    tasks = [node.task for node in steps_of(found)]
    assert any(task.startswith("Check at the board") for task in tasks)
    assert any("Put the set-up right" in task for task in tasks)
    outcomes = {b.outcome for node in steps_of(found) for b in node.branches}
    assert {"it is wrong, as suspected", "it is in order"} <= outcomes

    spots = [s for s in spots_of(RULEBOOK.procedures["insulation"], LINE) if s.at == "DB"]
    leak = [
        Reading(
            spot, Amount(0.2, "=") if "A" in spot.between and "E" in spot.between else OVER, 0.01
        )
        for spot in spots
    ]
    halved = decision_tree(diagnose(case(LINE, taken=leak), RULEBOOK))
    tasks = [node.task for node in steps_of(halved)]
    assert any(task.startswith("Part ") for task in tasks)
    looked = [node for node in steps_of(halved) if "look at its terminals" in node.task]
    for node in looked:
        assert any(branch.outcome.startswith("seen: ") for branch in node.branches)


def test_every_repair_says_what_is_tested_again_a_dead_test_first(tree):
    repairs = [node for node in steps_of(tree) if not node.risk]
    assert repairs
    numbers, text = numbered(tree), " ".join(plan_text(tree, "a plan").split())
    for node in repairs:
        test, _, places = node.again[0].partition(" at ")
        assert not RULEBOOK.procedures[test].is_live
        assert places
        assert f"- after {numbers[id(node)]}: {'; '.join(node.again)}" in text
