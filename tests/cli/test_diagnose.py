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
DIAGNOSES = 100
MOST_GROWTH_KB = 20_000
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
for _ in range(10):
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


def test_a_case_without_readings_is_answered(tmp_path):
    path = tmp_path / "empty.yaml"
    path.write_text(LONG.split("readings:", maxsplit=1)[0] + "readings: []\n", "utf-8")
    result = run(path)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("NOTHING READ: ")
    assert json.loads(run("--format", "json", path).stdout)["readings"] == []


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
    assert (told["verdict"], result.exit_code, result.stderr) == ("fault", 1, "")


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no /proc to read memory from")
def test_a_hundred_diagnoses_keep_the_memory_they_have():
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
