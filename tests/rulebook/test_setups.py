"""Set-up mistakes as rule files: what is shipped, and what is refused."""

import pytest
import yaml

from faultfinder.rulebook.folder import load_rule
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.rulebook.setups import SetUp
from faultfinder.source.content import content_folder
from faultfinder.source.problem import BadInput
from faultfinder.wiring.fault import Fault

RULEBOOK = shipped_rulebook()
SOURCE = yaml.safe_load(
    (content_folder("rules") / "set-ups" / "terminator-missing.yaml").read_text("utf-8")
)


@pytest.mark.parametrize("set_up", RULEBOOK.set_ups.values(), ids=lambda one: one.id)
def test_each_shipped_mistake_says_where_it_is_from_and_costs_less_than_opening(set_up):
    assert set_up.basis
    assert "published" in set_up.prior.why
    inspection = RULEBOOK.inspection.minutes
    assert set_up.check.minutes < inspection.set_up + inspection.each


def test_the_rule_of_a_fault_is_its_mode_or_its_mistake():
    assert RULEBOOK.rule_of(Fault("open", ("E",), "S1")) is RULEBOOK.modes["open"]
    mistake = Fault("set-up", (), "DB", set_up="link-out")
    assert RULEBOOK.rule_of(mistake) is RULEBOOK.set_ups["link-out"]


def test_what_is_left_out_is_taken_out_of_what_is_fitted():
    terminated = RULEBOOK.procedures["terminated"]
    left = RULEBOOK.set_ups["other-circuit"].refit(terminated, ("A", "N"))
    gone = {(fit.start, fit.end) for fit in terminated.fit} - {(fit.start, fit.end) for fit in left}
    assert gone == {("A", "common"), ("N", "common")}


def refused(tmp_path, **changes):
    path = tmp_path / "terminator-missing.yaml"
    path.write_text(yaml.safe_dump({**SOURCE, **changes}), encoding="utf-8")
    with pytest.raises(BadInput) as bad:
        load_rule(path, SetUp)
    return [problem.found for problem in bad.value.problems]


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"does": [{"do": "leave-out"}]}, "do: leave-out without from and to"),
        (
            {"does": [{"do": "turn-switch", "from": "A", "to": "N"}]},
            "do: turn-switch with from or to",
        ),
        ({"does": [{"do": "join", "from": "A", "to": "common"}]}, "do: join A and common"),
        ({"does": [{"do": "exchange-rows"}]}, "do: exchange-rows at: test"),
        ({"at": "outlet"}, "do: leave-out at: outlet"),
        (
            {"at": "outlet", "does": [{"do": "turn-switch"}], "conductors": [[]]},
            "do: turn-switch at: outlet",
        ),
        ({"does": [{"do": "exchange-columns"}]}, "do: exchange-columns of fewer than two"),
        (
            {"does": [{"do": "leave-out", "from": "E", "to": "earth bar", "when": ["E"]}]},
            "no choice of conductors has E",
        ),
        ({"does": [{"do": "add-to-leads"}]}, "do: add-to-leads needs ohms"),
        ({"says": "left off at {here}"}, "no word for {here}"),
        (
            {"check": {"look_at": "look at {this", "minutes": 1}},
            "a brace in this text begins no blank",
        ),
    ],
)
def test_a_mistake_that_cannot_be_made_is_refused(tmp_path, changes, found):
    assert found in refused(tmp_path, **changes)
