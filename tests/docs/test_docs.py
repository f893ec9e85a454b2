"""What the docs say is true of the program."""

import json
import re
import shlex
from dataclasses import replace
from pathlib import Path
from typing import get_args

import click
import pytest
import yaml
from click.testing import CliRunner
from picture import PICTURE, ROOT, demo_text, picture

from faultfinder.authoring.circuits import ExampleCircuits
from faultfinder.authoring.examples import examples_checked
from faultfinder.authoring.reference import reference_page
from faultfinder.cli.main import faultfinder
from faultfinder.readings.file import CaseFile
from faultfinder.rulebook.rulebook import rulebook_of
from faultfinder.rulebook.setups import Act
from faultfinder.rulebook.vocabulary import FIELDS
from faultfinder.source.shelf import open_shelf
from faultfinder.wiring.file import CircuitFile

README = (ROOT / "README.md").read_text(encoding="utf-8")


def commands(group: click.Group = faultfinder) -> list[str]:
    return sorted(group.commands)


def test_the_picture_shows_what_the_demo_prints():
    assert PICTURE.read_text(encoding="utf-8") == picture(demo_text()), (
        "draw it anew: python tests/docs/picture.py"
    )


@pytest.mark.parametrize("columns", [48, 80])
def test_the_demo_fits_the_screen_and_says_the_verdict_first(columns: int):
    lines = demo_text(columns).split("\n")
    assert max(len(line) for line in lines) <= columns
    assert lines[0].startswith("FAULT: ")


def test_the_readme_has_exactly_two_commands_to_copy():
    blocks = re.findall(r"^```sh\n(.*?)^```$", README, re.DOTALL | re.MULTILINE)
    assert len(blocks) == 2
    assert all(block.count("\n") == 1 for block in blocks)


def test_the_readmes_case_is_diagnosed_as_the_readme_implies(tmp_path: Path):
    (block,) = re.findall(r"^```yaml\n(.*?)^```$", README, re.DOTALL | re.MULTILINE)
    case = tmp_path / "my-case.yaml"
    case.write_text(block, encoding="utf-8")
    result = CliRunner().invoke(faultfinder, ["diagnose", "--format", "json", str(case)])
    answer = json.loads(result.output)
    assert answer["verdict"] == "fault"
    leading = [s["faults"][0] for s in answer["suspects"] if s["group"] == 1]
    assert {(f["mode"], *f["conductors"], f["at"]) for f in leading} == {
        ("open", "E", "S1..S2"),
        ("open", "E", "S2"),
    }


@pytest.mark.parametrize("command", commands())
def test_every_command_has_help_with_an_example_and_stands_in_the_readme(command: str):
    result = CliRunner().invoke(faultfinder, [command, "--help"])
    assert result.exit_code == 0
    assert f"faultfinder {command} " in result.output.split("Example:")[1]
    assert max(len(line) for line in result.output.split("\n")) <= 80
    assert f"faultfinder {command} " in README


@pytest.mark.parametrize("command", [None, *commands()])
def test_help_keeps_the_lines_of_its_examples(command: str | None):
    arguments = [command, "--help"] if command else ["--help"]
    output = CliRunner().invoke(faultfinder, arguments).output
    assert "\\b" not in output
    assert output.isprintable() or set(filter(lambda c: not c.isprintable(), output)) == {"\n"}
    block = output.split("Example:  ")[1].split("\n\n")[0].split("\n")
    assert all(line.strip().startswith("faultfinder ") for line in block[: 2 if command else 1])
    if not command:
        assert block[1:] == [
            "  Exit codes: 0 nothing wrong found, 1 a fault or a reading outside its limit,",
            "              2 bad input or usage, 3 faultfinder itself failed.",
        ]


@pytest.mark.parametrize("command", commands())
def test_every_example_of_the_help_is_a_command_that_is_understood(command: str):
    output = CliRunner().invoke(faultfinder, [command, "--help"]).output
    for line in output.split("Example:")[1].split("\n\n")[0].strip().split("\n"):
        program, name, *arguments = shlex.split(line)
        assert (program, name) == ("faultfinder", command)
        faultfinder.commands[command].make_context(command, arguments)


@pytest.mark.parametrize("model", [CaseFile, CircuitFile])
def test_every_key_of_a_file_is_in_its_page(model):
    page = (ROOT / "docs" / "files.md").read_text(encoding="utf-8")
    for name, field in model.model_fields.items():
        assert f"`{field.alias or name}`" in page


RULES_PAGE = (ROOT / "docs" / "rules.md").read_text(encoding="utf-8")


def section(heading: str) -> str:
    """Return the part of the rules page under a heading."""
    return RULES_PAGE.split(f"\n## {heading}\n")[1].split("\n## ")[0]


def test_the_reference_of_keys_is_what_the_models_say():
    page = (ROOT / "docs" / "reference" / "rules.md").read_text(encoding="utf-8")
    assert page == reference_page(), "faultfinder rules reference > docs/reference/rules.md"


def test_each_thing_a_sign_can_say_has_an_example_that_holds(tmp_path: Path):
    parts = re.findall(r"```yaml\n(signs:.*?)```", section("A sign"), re.DOTALL)
    assert len(parts) == 8
    for number, part in enumerate(parts):
        folder = tmp_path / str(number)
        (folder / "signs").mkdir(parents=True)
        head = "format: 1\nkind: signs\nid: shown\ntitle: Shown\nbasis: []\n"
        (folder / "signs" / "shown.yaml").write_text(head + part, encoding="utf-8")
        rulebook = rulebook_of(open_shelf([ROOT / "rules", folder]))
        own = replace(rulebook, bearers={"signs/shown": rulebook.bearers["signs/shown"]})
        assert list(examples_checked(own, ExampleCircuits(rulebook))) == []


def test_every_action_of_a_set_up_mistake_is_in_its_table():
    part = section("A set-up mistake")
    for arranging_or_noting in get_args(Act.model_fields["do"].annotation):
        for action in get_args(arranging_or_noting) or (arranging_or_noting,):
            assert f"| `{action}` |" in part


def test_every_field_and_word_of_a_fact_is_in_the_rules_page():
    part = section("A sign")
    for fields in FIELDS.values():
        for field, words in fields.items():
            for word in (field, *(words or ())):
                assert f"`{word}`" in part, word


@pytest.mark.parametrize(
    "page", [ROOT / "README.md", ROOT / "DEVELOPERS.md", *ROOT.glob("docs/**/*.md")]
)
def test_links_between_pages_lead_somewhere(page: Path):
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\((?!https?:)([^)#]+)\)", text):
        assert (page.parent / target).exists(), target


def test_every_rule_file_is_named_after_its_id_and_says_what_it_rests_on():
    for path in sorted((ROOT / "rules").rglob("*.yaml")):
        if path.stem == "example":  # an installation
            continue
        rule = yaml.safe_load(path.read_text(encoding="utf-8"))
        assert rule["id"] == path.stem
        assert rule["kind"]


PLACES = {
    "test": "the test",
    "outlet": "an outlet",
    "switched-outlet": "a switched outlet",
    "two-outlets": "two outlets",
}


def test_the_table_of_priors_is_that_of_the_rule_files():
    """A prior is changed in its rule file, and said so here."""
    part = section("How often each is met")
    rows = [
        [cell.strip() for cell in row.split("|")[1:-1]] for row in part.split("\n") if "`" in row
    ]
    said = {cells[0].strip("`"): cells[1:] for cells in rows if cells and cells[0][0] == "`"}
    there = {}
    for folder, keys in (("faults", ("run", "outlet", "board")), ("set-ups", ("at", "chance"))):
        for path in (ROOT / "rules" / folder).glob("*.yaml"):
            rule = yaml.safe_load(path.read_text(encoding="utf-8"))
            rule["prior"]["at"] = PLACES.get(rule.get("at"))
            there[rule["id"]] = [str(rule["prior"].get(key, "none")) for key in keys]
    assert said == there
