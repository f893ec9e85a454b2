"""The command ``cover``: what it prints, draws, and says of mistakes."""

import csv
import io
import json
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner

from faultfinder.cli.main import faultfinder
from faultfinder.source.content import content_folder

DEMO = str(content_folder("cases") / "demo.yaml")


def run(*arguments):
    return CliRunner().invoke(faultfinder, ["cover", *arguments])


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def test_the_text_fits_and_says_what_is_not_found_and_why():
    result = run(DEMO)
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert max(map(len, lines)) <= 80
    assert "what the plan can find" in lines[0]
    said = " ".join(result.output.split())
    assert "% of those without ohms" in said
    assert "With many ohms it takes too little current, beside what the test fits" in said
    assert "in run K5..K6 or in outlet K6: open A, N, E" in said
    assert "The plan reads the same with any of them." in said
    assert lines[-1].startswith("! Dead tests")


def test_the_json_keeps_its_contract():
    found = json.loads(run(DEMO, "--format", "json").output)
    assert {"detected", "isolated", "groups"} <= set(found)
    assert 0.85 < found["detected"] < 0.95
    assert set(found["isolated"]) == {"1", "2", "3"}
    assert found["plan"]["tests"] == ["terminated"]
    priors = sum(one["prior"] for one in found["faults"])
    shares = sum(one["prior"] * one["detected"] for one in found["faults"])
    assert found["detected"] == pytest.approx(shares / priors)
    group = next(g for g in found["groups"] if len(g["places"]) > 1)
    assert {"mode", "conductors", "at", "ohms"} <= set(group["faults"][0])


def test_the_table_has_a_row_a_fault():
    rows = list(csv.DictReader(io.StringIO(run(DEMO, "--format", "csv").output)))
    found = json.loads(run(DEMO, "--format", "json").output)
    assert len(rows) == len(found["faults"])
    joint = next(r for r in rows if (r["mode"], r["conductors"]) == ("high-resistance", "E"))
    assert 0.05 < float(joint["seen_from_ohm"]) < 1


def test_the_picture_is_drawn_whole():
    result = run(DEMO, "--picture", "seen.svg")
    assert result.exit_code == 0
    root = ET.parse("seen.svg").getroot()  # noqa: S314 - our own
    texts = ["".join(t.itertext()) for t in root.iter("{http://www.w3.org/2000/svg}text")]
    assert {"K1..K2", "K6", "transposed", "always"} <= set(texts)
    cells = [t.text for t in root.iter("{http://www.w3.org/2000/svg}title")]
    assert "open at K6: seen 100%, left among 2 places" in cells
    assert float(root.get("width")) <= 430


def test_a_plan_of_its_own(tmp_path):
    plan = tmp_path / "plan.yaml"
    plan.write_text("title: By the board\ntests: [{test: insulation, at: [DB]}]\n", "utf-8")
    said = " ".join(run(DEMO, "--plan", str(plan)).output.split())
    assert "By the board: 4 readings at 1 place, 7 minutes" in said
    assert "switch-bypassed: 1.8% of all faults. Nothing that the plan reads changes with" in said


def test_a_plan_that_comes_with_the_program():
    assert "Polarity, dead: 11 readings" in run(DEMO, "--plan", "polarity").output


def test_a_plan_that_is_misspelt_is_told_the_nearest():
    done = run(DEMO, "--plan", "polarty")
    assert done.exit_code == 2
    assert "neither a file nor a plan of the program" in done.output
    assert "try       polarity" in done.output


COTTAGE = """\
installation: Tern Cottage
supply: {system: TN-C-S, loop: 0.35 ohm}
boards: {DB: {}}
circuits:
  kitchen:
    board: DB
    device: {curve: C, rating: 20, rcd: 30 mA}
    cable: {active: 2.5, earth: 2.5}
    points: {K1: {kind: outlet}}
    runs: [{from: DB, to: K1, length: 14}]
"""


def test_live_tests_of_an_installation():
    Path("cottage.yaml").write_text(COTTAGE, "utf-8")
    result = run("cottage.yaml", "--test", "voltage", "--format", "json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.output)
    by_mode = found["detected_by_mode"]
    assert by_mode["open"] > 0.9
    assert by_mode["high-resistance"] < 0.5
    assert "Live tests" in run("cottage.yaml", "--test", "voltage").output


def test_by_the_signs_alone():
    Path("cottage.yaml").write_text(COTTAGE, "utf-8")
    said = " ".join(run("cottage.yaml", "--rules-only").output.split())
    assert "by the signs alone" in said
    assert "Signs point to it with some of its ohms only." in said
    by_model = run("cottage.yaml").output
    assert run("cottage.yaml", "--model-only").output == by_model != said


def test_the_least_plan_is_shown_and_said_to_be_proved():
    Path("cottage.yaml").write_text(COTTAGE, "utf-8")
    tests = ["--test", "terminated", "--test", "linked-out"]
    said = run("cottage.yaml", "--least", *tests).output
    assert "Least that shows all: 17 minutes" in said
    assert "- linked-out at K1" in said
    assert "gap 0" in said
    found = json.loads(run("cottage.yaml", "--least", *tests, "--format", "json").output)
    assert [plan["proved"] for plan in found["plans"]] == [True, True]
    assert run("cottage.yaml", "--least", "--format", "csv").exit_code == 2
    drawn = run("cottage.yaml", "--least", "--picture", "least.svg")
    assert (drawn.exit_code, Path("least.svg").exists()) == (2, False)


def test_the_least_plan_needs_its_solver(monkeypatch):
    Path("cottage.yaml").write_text(COTTAGE, "utf-8")
    monkeypatch.setitem(sys.modules, "scipy.optimize", None)
    result = run("cottage.yaml", "--least", "--test", "linked-out")
    assert result.exit_code == 3
    assert "faultfinder[least]" in result.output


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--test", "terminatd"], "terminated"),
        (["--test", "loop"], "nothing is known of the supply"),
        (["--test", "ring-ends"], "nothing to read"),
        (["--circuit", "kitchen"], "no installation file"),
        (["--false-alarm", "0"], "0<x<=0.5"),
        (["--plan", "nowhere.yaml"], "nowhere.yaml"),
        (["--plan", "polarty"], "try       polarity"),
        (["--plan", "p.yaml", "--test", "terminated"], "not both"),
        (["--picture", "no/such/folder/seen.svg"], "cannot be written"),
        (["--least", "--rules-only"], "one of them"),
        (["--rules-only", "--model-only"], "one of them"),
        (["--seed", "5"], "--study N beside it"),
        (["--results", "x.sqlite"], "--study N beside it"),
        (["--jobs", "1"], "--study N beside it"),
        (["--dask", "local"], "--study N beside it"),
    ],
)
def test_mistakes_are_told(arguments, said):
    result = run(DEMO, *arguments)
    assert result.exit_code == 2
    assert said in result.output
    assert not Path("seen.svg").exists()


def test_a_fault_without_conductors_has_no_empty_line_for_their_names():
    lines = run(DEMO).output.splitlines()
    assert lines[lines.index("parallel-earth") + 1].startswith("K1 ")


def test_the_legend_is_in_the_words_of_the_region(tmp_path):
    file = tmp_path / "us.yaml"
    file.write_text(
        "board: DB\nregion: us\ndevice: {rating: 20}\ncable: {active: 12 AWG, earth: 12 AWG}\n"
        "points: {S1: {kind: outlet, switched: true}}\nruns: [{from: DB, to: S1, length: 9}]\n",
        "utf-8",
    )
    said = " ".join(run(str(file)).output.split())
    assert "another way to ground beside the ground conductor" in said
    assert "earth conductor" not in said
    assert "another way to earth beside the earth conductor" in " ".join(run(DEMO).output.split())
