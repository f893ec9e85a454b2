"""Rule files: what is said of each mistake in one, and of rules that do not fit each other."""

# ruff: noqa: E501 - a table reads best with one case a line

import shutil
from pathlib import Path

import pytest

from faultfinder.rulebook.rulebook import load_rulebook, shipped_rulebook
from faultfinder.source.content import content_folder
from faultfinder.source.problem import BadInput


@pytest.fixture
def rules(tmp_path, monkeypatch):
    """Return a copy of the rules, in the folder the test runs in."""
    monkeypatch.chdir(tmp_path)
    shutil.copytree(content_folder("rules"), "rules")
    return Path("rules")


def spoil(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), "utf-8")


def complaints(rules: Path) -> list[str]:
    with pytest.raises(BadInput) as caught:
        load_rulebook(rules)
    assert caught.value.sources
    return [
        " | ".join([f"{p.position} {p.id}", p.found, p.expected, p.nearest])
        for p in caught.value.problems
    ]


MISTAKES = {
    "unknown key": ("faults/open.yaml", "look_for:", "lookfor:"),
    "missing key": ("faults/open.yaml", "remedy:", "# remedy:"),
    "unknown kind": ("faults/open.yaml", "kind: fault-mode", "kind: fault"),
    "id of another name": ("faults/open.yaml", "id: open", "id: opened"),
    "id of no form": ("faults/open.yaml", "id: open", "id: Open"),
    "basis without a source": ("faults/open.yaml", "source: circuit theory; checked in tests/network", "sources: x"),
    "unknown test to take again": ("faults/open.yaml", "retest: [long-lead", "retest: [longlead"),
    "certain prior": ("faults/open.yaml", "per_place: 0.002", "per_place: 1"),
    "unknown blank in what it says": ("faults/open.yaml", "{place}", "{spot}"),
    "unknown step": ("faults/open.yaml", "do: break", "do: brake"),
    "no place": ("faults/open.yaml", "at: [run, outlet]", "at: []"),
    "a bridge of one conductor": ("faults/open.yaml", "do: break", "do: bridge"),
    "an exchange of one conductor": ("faults/open.yaml", "do: break", "do: exchange"),
    "ohms of no range": ("faults/open.yaml", "do: break", "do: add-ohms"),
    "a switch in a run": ("faults/open.yaml", "do: break", "do: unswitch, to: A"),
    "no conductor to break": ("faults/switch-stuck-off.yaml", "do: break, to: switched", "do: break"),
    "a range the wrong way round": ("faults/bridged.yaml", "{from: 0.01 ohm, to: 2 Mohm}", "{from: 2 Mohm, to: 0.01 ohm}"),
    "a limit on what is not read": ("tests/terminated.yaml", "between: A-E", "between: E-A"),
    "a limit of no kind": ("tests/terminated.yaml", "limit: earth-loop", "limit: earthloop"),
    "a fit to an unknown conductor": ("tests/terminated.yaml", "{from: A, to: common", "{from: L, to: common"),
    "a fit to a bar misspelt": ("tests/terminated.yaml", "{from: neutral bar", "{from: nuetral bar"),
    "a fit of unknown ohms": ("tests/terminated.yaml", "ohms: terminators.active", "ohms: terminators.actve"),
    "a pair of unknown conductors": ("tests/terminated.yaml", "pairs: [A-N", "pairs: [L-N"),
    "a pair of one conductor": ("tests/terminated.yaml", "pairs: [A-N", "pairs: [A-A"),
    "half a pair": ("tests/terminated.yaml", "pairs: [A-N", "pairs: [A-"),
    "an effort of no time": ("tests/terminated.yaml", "each: 2", "each: 0"),
    "a scatter of nothing": ("tolerances.yaml", "scatter: [0.3", "scatter: [0"),
    "an inspection without steps": ("inspect.yaml", "steps:\n  - ", "steps: []\nnote:\n  - "),
    "a sign for an unknown mode": ("signs/open.yaml", "{mode: open", "{mode: opne"),
    "a sign for an unknown conductor": ("signs/open.yaml", "{c: E, lost: A-E", "{c: L, lost: A-E"),
    "a sign for conductors the mode cannot have": ("signs/bridged.yaml", 'conductors: ["{first}", "{second}"]', 'conductors: ["{first}"]'),
    "a sign for a conductor twice": ("signs/bridged.yaml", "{c: A-N, first: A, second: N}", "{c: A-N, first: A, second: A}"),
    "a sign for no conductors": ("signs/open.yaml", 'conductors: ["{c}"], ', ""),
    "a sign for conductors of a mode without": ("signs/switch-stuck-on.yaml", "{mode: switch-stuck-on", "{conductors: [A], mode: switch-stuck-on"),
    "a sign that points at no pattern": ("signs/open.yaml", "at: run-to, of: one", "at: run-to, of: on"),
    "a sign that points at what is absent": ("signs/bridged.yaml", "at: outlet, of: one", "at: outlet, of: none-right"),
    "same as no pattern": ("signs/open.yaml", "same: {at: one.at", "same: {at: noe.at"),
    "same as a later pattern": ("signs/open.yaml", "same: {at: one.at", "same: {at: three.at"),
    "same as no field": ("signs/open.yaml", "same: {at: one.at", "same: {at: one"),
    "a pattern named twice": ("signs/open.yaml", "as: two", "as: one"),
    "a word that each does not give": ("signs/open.yaml", '"{lost_too}", grade', '"{lost_to}", grade'),
    "a word that one entry lacks": ("signs/open.yaml", "lost: A-N, lost_too: A-E", "lost: A-N, losttoo: A-E"),
    "a word and no each": ("signs/switch-stuck-on.yaml", "between: A-E, effect", 'between: "{c}", effect'),
    "a word where none fits": ("signs/open.yaml", 'conductors: ["{c}"]', 'conductors: ["{d}"]'),
    "a word with a point": ("signs/open.yaml", "{c: E, lost: A-E", "{c: one.at, lost: A-E"),
    "a blank that nothing fills": ("signs/open.yaml", "from {at} on", "from {place} on"),
    "a brace not closed": ("signs/open.yaml", "from {at} on", "from {at on"),
    "a blank without a name": ("signs/open.yaml", "from {at} on", "from {} on"),
    "an unknown test in a pattern": ("signs/open.yaml", "where: {test: terminated", "where: {test: terminate"),
    "a pair its test does not read": ("signs/open.yaml", "kept: A-N}", "kept: A}"),
    "a fact of no kind": ("signs/open.yaml", "fact: reading", "fact: readings"),
    "absent and not": ("signs/bridged.yaml", "absent: yes", "absent: maybe"),
    "two signs of one name": ("signs/open.yaml", "id: open-in-outlet", "id: open-in-run"),
    "a sign named as in another file": ("signs/transposed.yaml", "id: exchanged-in-run", "id: bridged-near"),
    "two sets of words of one name": ("signs/open.yaml", "[{c: A}, {c: N}, {c: E}]", "[{c: A}, {c: A}]"),
    "no signs": ("signs/open.yaml", "signs:\n", "signs: []\nold:\n"),
}


@pytest.mark.parametrize("case", MISTAKES)
def test_each_mistake_is_told_in_full(rules, case):
    file, old, new, said = MISTAKES[case]
    spoil(rules / file, old, new)
    assert complaints(rules) == said


def test_the_rules_that_come_with_the_program_fit_each_other(rules):
    assert load_rulebook(rules) == shipped_rulebook()


def test_mistakes_in_several_files_of_a_folder_come_at_once(rules):
    spoil(rules / "faults/open.yaml", "do: break", "do: brake")
    spoil(rules / "faults/transposed.yaml", "remedy:", "remdy:")
    assert [line.split(" | ")[0] for line in complaints(rules)] == [
        "rules/faults/open.yaml:7:37 unknown-value",
        "rules/faults/transposed.yaml:1:1 missing-key",
        "rules/faults/transposed.yaml:13:1 unknown-key",
    ]


def test_clashes_in_several_files_come_at_once_with_their_lines(rules):
    spoil(rules / "faults/open.yaml", "retest: [long-lead", "retest: [longlead")
    spoil(rules / "signs/open.yaml", "{mode: open", "{mode: opne")
    with pytest.raises(BadInput) as caught:
        load_rulebook(rules)
    first, second = str(caught.value).split("rules/signs")
    assert first.splitlines()[0] == (
        'rules/faults/open.yaml:17:10: error: unknown test "longlead" [unknown-test]'
    )
    assert "  17 | retest: [longlead, terminated, insulation]" in first
    assert second.splitlines()[0] == '/open.yaml:14:23: error: unknown mode "opne" [unknown-mode]'


def test_a_mode_taken_away_is_missed_by_its_signs(rules):
    (rules / "faults/transposed.yaml").unlink()
    said = complaints(rules)
    assert len(said) == len(load_rulebook_signs(rules))
    assert all('unknown mode "transposed"' in line for line in said)


def load_rulebook_signs(rules: Path) -> list[str]:
    text = (rules / "signs/transposed.yaml").read_text("utf-8")
    return [line for line in text.splitlines() if line.startswith("  - id:")]


def test_a_test_taken_away_is_missed_by_modes_and_signs(rules):
    (rules / "tests/long-lead.yaml").unlink()
    files = {line.split(":")[0] for line in complaints(rules)}
    assert files == {
        "rules/faults/high-resistance.yaml",
        "rules/faults/open.yaml",
        "rules/faults/transposed.yaml",
        "rules/signs/high-resistance.yaml",
        "rules/signs/open.yaml",
    }


def test_a_folder_without_rules():
    with pytest.raises(BadInput) as caught:
        load_rulebook(Path("nowhere"))
    assert str(caught.value) == (
        'nowhere/inspect.yaml: error: there is no folder "nowhere" [missing-file]'
    )


def test_a_sign_is_written_out_once_for_each_set_of_words(rules):
    spoil(rules / "signs/open.yaml", "[{c: A}, {c: N}, {c: E}]", "[{c: A}, {c: E}]")
    pointers = {pointer.sign.id: pointer for pointer in load_rulebook(rules).pointers}
    assert {id_ for id_ in pointers if id_.startswith("open-end-to-end")} == {
        "open-end-to-end-a",
        "open-end-to-end-e",
    }
    pointer = pointers["open-in-run-n"]
    one, two, three = pointer.sign.patterns
    assert dict(one.where)["between"] == ("A-N",)
    assert dict(two.where)["between"] == ("N-E",)
    assert dict(three.where)["between"] == ("A-E",)
    assert two.same == (("at", "one", "at"), ("switch", "one", "switch"))
    assert (pointer.target.conductors, pointer.target.at) == (("N",), "run-to")
    assert pointer.says.startswith("A-N and N-E are lost from {at} on and A-E is right")
