"""``faultfinder diagnose``: what is printed, in which order, and with which exit code.

Mistakes in files have tests of their own, in test_bad_input.
"""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from faultfinder.cli.main import faultfinder
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.source.content import content_folder

CASES = content_folder("cases")
HALL = CASES / "marram-hall"
SOUND, FAULTY = HALL / "sound-kitchen.yaml", HALL / "earth-open-in-branch.yaml"
LONG = """\
circuit:
  board: DB
  device: {curve: C, rating: 20}
  cable: {active: 2.5, earth: 2.5, material: copper}
  points: {S1: {kind: outlet}}
  runs: [{from: DB, to: S1, length: 400}]
readings:
  - {test: linked-out, at: S1, A-E: 5.93}
"""
DIAGNOSES = 15
MOST_GROWTH_KB = 7_000
GROWTH = """
import sys
from pathlib import Path
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.readings.file import load_case
from faultfinder.rulebook.rulebook import shipped_rulebook

def resident_kb():
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS"))

rulebook = shipped_rulebook()
case = load_case(Path(sys.argv[1]), rulebook.procedures)
for _ in range(5):
    diagnose(case, rulebook)
before = resident_kb()
for _ in range(int(sys.argv[2])):
    diagnose(case, rulebook)
print(resident_kb() - before)
"""


def run(*arguments, **options):
    return CliRunner().invoke(faultfinder, ["diagnose", *map(str, arguments)], **options)


@pytest.fixture
def bad(tmp_path):
    path = tmp_path / "bad.yaml"
    path.write_text("circuit: {}\n", "utf-8")
    return path


def test_text_says_the_verdict_first_and_nothing_on_stderr():
    result = run(FAULTY)
    assert (result.exit_code, result.stderr) == (1, "")
    assert result.stdout.startswith("FAULT: earth open in run J1..H4.\n")
    assert run(SOUND).stdout.startswith("SOUND: ")


def test_several_cases_are_told_one_after_the_other_with_a_line_between():
    result = run(SOUND, FAULTY)
    one, two = run(SOUND).stdout, run(FAULTY).stdout
    assert result.stdout == f"{one}\n{two}"


def test_every_reading_is_listed_if_asked():
    assert "READINGS THAT ARE OFF" in run(FAULTY).stdout
    every = run("--readings", FAULTY).stdout
    assert "READINGS THAT ARE OFF" not in every
    assert every.count("; should be") > run(FAULTY).stdout.count("; should be")


@pytest.mark.parametrize("columns", [32, 40, 79, 80, 200])
def test_text_fits_the_terminal_and_never_over_80(columns):
    result = run(FAULTY, env={"COLUMNS": str(columns)})
    assert max(len(line) for line in result.stdout.split("\n")) <= min(columns, 80)


def test_colour_only_adds():
    dressed = run(FAULTY, color=True).stdout
    assert "\x1b[" in dressed
    assert re.sub(r"\x1b\[[0-9;]*m", "", dressed) == run(FAULTY).stdout
    assert "\x1b" not in run(FAULTY).stdout
    assert "\x1b" not in run("--format", "json", FAULTY, color=True).stdout


def test_json_is_one_object_a_line_in_the_order_given(bad):
    order = [FAULTY, bad, SOUND]
    result = run("--format", "json", *order)
    told = [json.loads(line) for line in result.stdout.splitlines()]
    assert [one["case"] for one in told] == [str(path) for path in order]
    assert [one.get("verdict", "error") for one in told] == ["fault", "error", "sound"]
    assert result.exit_code == 2
    assert result.stderr == ""


def test_a_bad_case_is_told_on_stderr_and_the_others_on_stdout(bad):
    result = run(bad, SOUND)
    assert result.exit_code == 2
    assert "bad.yaml" in result.stderr
    assert "bad.yaml" not in result.stdout
    assert "SOUND: " in result.stdout


def test_exit_codes(bad, tmp_path):
    assert run(SOUND).exit_code == 0
    assert run(FAULTY).exit_code == 1
    assert run(SOUND, FAULTY, SOUND).exit_code == 1
    assert run(FAULTY, bad).exit_code == 2
    assert run(bad, FAULTY).exit_code == 2
    long = tmp_path / "long.yaml"
    long.write_text(LONG, "utf-8")
    outside = run("--format", "json", long)
    assert json.loads(outside.stdout)["verdict"] == "sound"
    assert outside.exit_code == 1  # a reading outside its limit


@pytest.mark.parametrize("readings", ["", "readings:\n", "readings: []\n", "readings: r.csv\n"])
def test_a_case_without_readings_is_sent_to_expect(tmp_path, readings):
    (tmp_path / "r.csv").write_text("test,at\n", "utf-8")
    path = tmp_path / "empty.yaml"
    path.write_text(LONG.split("readings:", maxsplit=1)[0] + readings, "utf-8")
    result = run(path)
    assert (result.exit_code, result.stdout) == (2, "")
    words = " ".join(result.stderr.split())
    assert "error: no readings yet [no-readings]" in words
    assert '"faultfinder expect" on this file shows what to read' in words
    (problem,) = json.loads(run("--format", "json", path).stdout)["error"]
    assert problem["id"] == "no-readings"


@pytest.fixture
def fragile(monkeypatch):
    """Make diagnosing fail on the kitchen, and leave the rest as it is."""

    def judge(case, rulebook, asked):
        if case.name == str(SOUND):
            raise ZeroDivisionError
        return diagnose(case, rulebook)

    monkeypatch.delenv("FAULTFINDER_TRACE", raising=False)
    monkeypatch.setattr("faultfinder.diagnosis.diagnose.diagnose", judge)


@pytest.mark.usefixtures("fragile")
def test_a_failure_inside_one_case_leaves_the_others_answered(bad):
    result = run(SOUND, bad, FAULTY)
    assert result.exit_code == 3
    assert result.stdout.strip().startswith("FAULT: ")
    assert result.stderr.startswith(
        f"faultfinder itself failed on {SOUND}: ZeroDivisionError\n"
        "Set FAULTFINDER_TRACE=1 and run again to see where, and report it with the case file.\n"
    )
    assert "bad.yaml" in result.stderr
    assert run(FAULTY, SOUND).stdout.startswith("FAULT: ")


@pytest.mark.usefixtures("fragile")
def test_a_failure_inside_one_case_is_an_error_in_json(bad):
    order = [SOUND, bad, FAULTY]
    result = run("--format", "json", *order)
    told = [json.loads(line) for line in result.stdout.splitlines()]
    assert (result.exit_code, result.stderr) == (3, "")
    assert [one["case"] for one in told] == [str(path) for path in order]
    assert [one.get("verdict", "error") for one in told] == ["error", "error", "fault"]
    assert told[0]["error"] == [
        {
            "file": str(SOUND),
            "line": 0,
            "column": 0,
            "id": "program-failed",
            "found": f"faultfinder itself failed on {SOUND}: ZeroDivisionError",
            "expected": "",
            "nearest": "",
        }
    ]


@pytest.mark.usefixtures("fragile")
def test_a_failure_inside_one_case_can_be_traced(monkeypatch):
    monkeypatch.setenv("FAULTFINDER_TRACE", "1")
    assert isinstance(run(SOUND, FAULTY).exception, ZeroDivisionError)


def test_a_dead_short_of_insulation_is_answered_whatever_the_leaflet_says(tmp_path):
    path = tmp_path / "short.yaml"
    circuit = LONG.split("readings:", maxsplit=1)[0]
    path.write_text(
        f"{circuit}instrument: {{insulation: {{percent: 5}}}}\n"
        "readings:\n  - {test: insulation, at: DB, A-E: 0}\n",
        "utf-8",
    )
    result = run("--format", "json", path)
    told = json.loads(result.stdout, parse_constant=pytest.fail)
    # One figure without decimals may be half a megohm: a fault, or a slip, but never sound.
    assert (told["verdict"] != "sound", result.exit_code, result.stderr) == (True, 1, "")


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no /proc to read memory from")
def test_many_diagnoses_keep_the_memory_they_have():
    """A host or a state of the rule engine left behind each time would show here."""
    case = CASES / "demo.yaml"
    done = subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "-c", GROWTH, str(case), str(DIAGNOSES)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert int(done.stdout) < MOST_GROWTH_KB


def test_why_answers_for_each_fault_that_is_named_and_changes_nothing_else():
    plain = json.loads(run("--format", "json", FAULTY).stdout)
    result = run("--format", "json", "--why", "open E at H5", "--why", "link-out", FAULTY)
    told = json.loads(result.stdout)
    assert [why["fault"]["mode"] for why in told["why"]] == ["open", "set-up"]
    assert [why["standing"] for why in told["why"]] == ["ruled out", "ruled out"]
    assert told["why"][1]["fault"]["set_up"] == "link-out"
    assert {**told, "why": []} == plain
    assert result.exit_code == 1


def test_why_in_words_has_numbers_and_what_would_tell():
    said = " ".join(run("--why", "open E at H5", FAULTY).stdout.split())
    answer = said.split("WHY NOT ")[1]
    assert answer.startswith("earth open in outlet H5: ruled out, all but impossible.")
    assert re.search(r"reads open, with it [0-9.]+ ohm\.", answer)
    assert "What would tell: " in answer


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("open E at Q9", "no point or run"),
        ("opne E at H1", 'unknown fault "opne"'),
        ("switch-bypassed at DB..H1", "cannot be at"),
        ("arrester-left-in", "has no place in these readings"),
        ("link-out at H1, Q9", 'no point "Q9"'),
    ],
)
def test_a_fault_that_cannot_be_asked_about_is_bad_input_of_its_case_alone(asked, found):
    result = run("--format", "json", "--why", asked, FAULTY)
    (line,) = result.stdout.splitlines()
    (error,) = json.loads(line)["error"]
    assert error["id"] == "not-a-fault"
    assert found in error["found"]
    assert result.exit_code == 2


def test_a_misspelt_fault_is_answered_by_the_nearest_and_not_by_all():
    said = run("--why", "opne E at H1", FAULTY).stderr
    assert said.endswith("  expected  a fault mode or a mistake in the test\n  try       open\n")
    assert "terminators-exchanged" in run("--why", "xyzzy E at H1", FAULTY).stderr
