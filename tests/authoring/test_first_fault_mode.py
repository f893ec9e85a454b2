"""The fault mode that docs/first-fault-mode.md writes, and nothing else, taken through it all."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from authoring.small import problems, small_rules
from faultfinder.cli.main import faultfinder
from faultfinder.source.content import content_folder

PAGE = Path(__file__).parents[2] / "docs" / "first-fault-mode.md"
DEMO = str(content_folder("cases") / "demo.yaml")
FAULT = "time-switch-in-earth E at K3..K4"
SIGN = "earth-lost-beyond-a-time-switch"


def run(*arguments):
    return CliRunner().invoke(faultfinder, list(map(str, arguments)))


@pytest.fixture
def own(tmp_path):
    """A folder of rules that holds the one file of the page."""
    (text,) = re.findall(r"```yaml\n(format: 1\n.*?)```", PAGE.read_text("utf-8"), re.S)
    folder = tmp_path / "my-rules"
    (folder / "faults").mkdir(parents=True)
    (folder / "faults" / "time-switch-in-earth.yaml").write_text(text, "utf-8")
    return folder


def test_it_is_predicted(own):
    asked = ("--test", "terminated", "--fault", FAULT, "--format", "json")
    done = run("expect", DEMO, "--rules", own, *asked)
    assert done.exit_code == 0
    rows = [json.loads(line) for line in done.stdout.splitlines()]
    read = {(row["at"], row["switch"], row["between"]): row["expected"] for row in rows}
    assert read["K3", "on", "A-E"] == pytest.approx(10.3, abs=0.1)
    assert read["K4", "on", "A-E"] == read["K4", "on", "N-E"] == "open"


def test_it_is_signed_diagnosed_and_advised(own):
    done = run("diagnose", DEMO, "--rules", own, "--format", "json", "--trace")
    assert done.exit_code == 1
    answer = json.loads(done.stdout)
    (suspect,) = [
        s for s in answer["suspects"]
        if [(f["mode"], f["at"]) for f in s["faults"]] == [("time-switch-in-earth", "K3..K4")]
    ]  # fmt: skip
    assert suspect["group"] == 1
    assert suspect["signs"] == [SIGN]
    assert suspect["remedy"].startswith("Join the earth through")
    assert "clock" in " ".join(suspect["cautions"])
    assert suspect["retest"] == ["long-lead", "terminated", "insulation"]
    (traced,) = [one for one in answer["trace"] if one["sign"] == SIGN]
    assert list(traced["facts"]) == ["one", "two", "three"]
    assert traced["facts"]["one"]["between"] == "A-E"
    assert traced["facts"]["one"]["grade"] == "open"


def test_it_is_what_the_report_says(own):
    text = run("diagnose", DEMO, "--rules", own).stdout
    assert "earth switched by a time-switch in run K3..K4" in " ".join(text.split())


def test_the_check_covers_it(own, tmp_path):
    small = small_rules(tmp_path / "rules")
    assert problems(small, own) == []
    path = own / "faults" / "time-switch-in-earth.yaml"
    text = path.read_text("utf-8").replace("[here-and-beyond, ", "[fine, ")
    path.write_text(text.replace("reads_like: [open]", "reads_like: []"), "utf-8")
    told = problems(small, own)
    assert {rule.split("/")[1] for rule, _ in told} == {"time-switch-in-earth"}
    assert any("does not fire" in said for _, said in told)
    assert any("reads_like: [open]" in said for _, said in told)


def test_without_it_the_command_knows_no_such_fault():
    done = run("expect", DEMO, "--fault", FAULT)
    assert done.exit_code == 2
    assert "time-switch-in-earth" in done.output
