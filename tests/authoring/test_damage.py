"""Each kind of damage that a rule file can take is reported by the check."""

# ruff: noqa: E501 - a table reads best with one case a line

import sys

import pytest

from authoring.small import problems, small_rules
from faultfinder.authoring.scaffold import begin

OPEN, JOINT = "signs/open.yaml", "signs/high-resistance.yaml"
E_WORDS = "{c: E, lost: A-E, lost_too: N-E, kept: A-N}"
DAMAGE = {
    "a wrong pair": (OPEN, E_WORDS, "{c: E, lost: A-N, lost_too: N-E, kept: A-E}", "signs/open/open-in-run", "sign open-in-run-e does not fire on this example"),
    "a wrong direction": (OPEN, '["{c}"], at: run-to', '["{c}"], at: outlet', "signs/open/open-in-run", "at: run-to, conductors: [E] would have 3 times, and no sign says so"),
    "a wrong conductor": (OPEN, 'conductors: ["{c}"], at: outlet', "conductors: [N], at: outlet", "signs/open/open-in-outlet", "never points to the fault that is there"),
    "a wrong grade": (OPEN, "grade: open, spread: [here-and-beyond", "grade: short, spread: [here-and-beyond", "signs/open/open-in-run", "sign open-in-run-a never fires"),
    "a sign of another mode": (OPEN, "points_to: {mode: open", "points_to: {mode: high-resistance", "signs/open/open-in-run", "sign open-in-run-e fires for open too"),
    "a deleted caution": ("faults/open.yaml", "cautions:", "old:", "faults/open", "the key \"cautions\" is missing"),
    "a deleted remedy": ("faults/open.yaml", "remedy: ", "notes: ", "faults/open", "the key \"remedy\" is missing"),
    "an empty list of tests to repeat": ("faults/open.yaml", "retest: [long-lead, terminated, insulation]", "retest: []", "faults/open", "at least 1"),
    "a dangling test": ("faults/open.yaml", "retest: [long-lead", "retest: [long-led", "faults/open", 'unknown test "long-led"; expected'),
    "a dangling mode": (OPEN, "{mode: open, conductors", "{mode: opne, conductors", "signs/open", 'unknown mode "opne"'),
    "a dangling pair": (OPEN, "lost_too: N-E", "lost_too: B-E", "signs/open", 'unknown pair "B-E"'),
    "a duplicate id": (OPEN, "id: open-in-outlet", "id: open-in-run", "signs/open", "another sign is called"),
    "an id that is not the file's name": ("faults/open.yaml", "id: open", "id: opened", "faults/open", 'id "opened"'),
    "a misspelt key": (JOINT, "points_to:", "point_to:", "signs/high-resistance", 'unknown key "point_to"'),
    "a step that cannot be": ("faults/high-resistance.yaml", "do: add-ohms", "do: bridge", "faults/high-resistance", "do: bridge is between the conductors"),
    "a pattern taken away": (OPEN, '      - {as: two, fact: reading, where: {test: terminated, between: "{lost_too}", grade: open}, same: {at: one.at, switch: one.switch}}\n      - {as: three, fact: reading, where: {test: terminated, between: "{kept}", grade: as-expected}, same: {at: one.at, switch: one.switch}}\n    points_to: {mode: open, conductors: ["{c}"], at: run-to', '    points_to: {mode: open, conductors: ["{c}"], at: run-to', "signs/open/open-in-run", "must not fire on this example"),
    "an example that says another place": (OPEN, "open E at S1..S2", "open E at S2..S3", "signs/open/open-in-run", "points to open E at S1..S2 on this example, not to open E at S2..S3"),
    "an example that cannot be read": (OPEN, "A-E: open, N-E: open", "A-E: opne, N-E: open", "signs/open", "opne"),
    "an example of a place that is not there": (OPEN, "wrong:\n      - {at: [S2, S3]", "wrong:\n      - {at: [S2, S9]", "signs/open", 'no point "S9"'),
    "examples of one sign taken away": (OPEN, "    fires: {open-in-run-e: open E at S1..S2}\n", "", "signs/open/open-in-run", "sign open-in-run-e has no example: one that must make it fire"),
    "modes that do not read alike": ("faults/open.yaml", "basis:", "reads_like: [high-resistance]\nbasis:", "faults/open", "no sign of high-resistance fires for open"),
}  # fmt: skip
# These keep no rule from being read or tried.
TOGETHER = {
    "a limit without provenance": ("limits/internal-loop.yaml", "provenance: memory\n", "", "limits/internal-loop", 'the key "provenance" is missing'),
    "a limit without a clause": ("limits/voltage-drop.yaml", "source: IEC 60364-5-52 clause 525", "source: IEC 60364-5-52", "limits/voltage-drop", "the source names no clause"),
    "a limit without an edition": ("limits/voltage-drop.yaml", "edition:", "edition: \"\"  #", "limits/voltage-drop", "no edition"),
    "a region's table that is not there": ("regions/uk.yaml", "copper: iec-60228-copper-class-2", "copper: iec-60228-copper-class-3", "regions/uk", 'no file "iec-60228-copper-class-3"'),
    "a claim without a source": ("tests/terminated.yaml", "basis:\n", "basis: []\n#", "tests/terminated", "no basis"),
}  # fmt: skip


def spoil(folder, name, old, new):
    path = folder / name
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")


@pytest.fixture
def rules(tmp_path):
    return small_rules(tmp_path / "rules")


def test_the_small_set_is_sound(rules):
    assert problems(rules) == []


@pytest.mark.parametrize("kind", DAMAGE)
def test_each_kind_of_damage_is_reported(rules, kind):
    name, old, new, rule, said = DAMAGE[kind]
    spoil(rules, name, old, new)
    told = problems(rules)
    assert any(r.startswith(rule) and said in text for r, text in told), told


def test_what_is_wrong_in_several_places_is_all_reported(rules):
    for name, old, new, _, _ in TOGETHER.values():
        spoil(rules, name, old, new)
    told = problems(rules)
    for kind, (*_, rule, said) in TOGETHER.items():
        assert any(r.startswith(rule) and said in text for r, text in told), (kind, told)
    assert len(told) == len(TOGETHER)


def test_a_mode_without_signs(rules):
    (rules / "signs" / "open.yaml").unlink()
    assert ("faults/open", "fault mode open has no sign") in problems(rules)


def test_a_sign_that_adds_nothing(rules):
    text = (rules / "signs" / "open.yaml").read_text("utf-8").replace("id: open", "id: again")
    text = (
        text.replace("{open-", "{again-")
        .replace("[open-", "[again-")
        .replace(", open-", ", again-")
    )
    (rules / "signs" / "again.yaml").write_text(text, "utf-8")
    told = problems(rules)
    assert ("signs/again/again-end-to-end", "sign again-end-to-end-e is shadowed: whenever it fires, open-end-to-end-e points to the same fault") in told  # fmt: skip


def test_a_file_no_kind_of_rule_has(rules):
    (rules / "sings").mkdir()
    (rules / "sings" / "open.yaml").write_text("", "utf-8")
    with pytest.raises(Exception, match="no kind of rule is kept in sings/"):
        problems(rules)


def test_a_sign_that_the_engine_cannot_hold(rules):
    pattern = "{as: p%d, fact: reading, where: {test: [terminated, long-lead], switch: [on, none], grade: [open, high]}}"
    many = "\n".join("      - " + pattern % number for number in range(12))
    spoil(rules, OPEN, "    when:\n", f"    when:\n{many}\n")
    told = problems(rules)
    assert any(
        rule == "signs/open/open-in-run" and "the engine takes" in said for rule, said in told
    ), told


def test_a_sign_that_ends_the_process_is_told_by_the_check(rules, tmp_path, monkeypatch):
    begin("sign", "own", tmp_path / "own")
    crash = (sys.executable, "-c", "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)")
    monkeypatch.setattr("faultfinder.engine.trial.CHILD", crash)
    (told,) = problems(rules, tmp_path / "own")
    assert told[0] == "signs"
    assert told[1].startswith("the rule engine crashed on own-earth")
