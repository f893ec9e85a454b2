"""The command ``cover --study``."""

import json
import sqlite3
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner

from faultfinder.cli.main import faultfinder


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("family.yaml").write_text("title: Sheds\noutlets: [1, 1]\n", "utf-8")


def run(*arguments):
    return CliRunner().invoke(faultfinder, ["cover", "family.yaml", "--jobs", "1", *arguments])


def test_a_study_says_its_figures_and_keeps_its_marks():
    result = run("--study", "12", "--picture", "calibration.svg")
    assert result.exit_code == 0, result.output
    assert "Sheds: 12 made-up cases" in result.output
    assert "probabilities off by 0." in result.output
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert Path("family.sqlite").exists()
    circles = ET.parse("calibration.svg").getroot().iter("{http://www.w3.org/2000/svg}circle")  # noqa: S314 - our own
    assert len(list(circles)) == 1
    again = run("--study", "12", "--format", "json")
    found = json.loads(again.stdout)
    assert (found["cases"], found["family"]) == (12, "Sheds")
    assert 0 < found["off"] < 1
    assert 0 < found["by_chance"] < 1
    assert sum(one["weight"] for one in found["calibration"]) == pytest.approx(1)


@pytest.mark.parametrize(("share", "kind"), [("0", "sound"), ("1", "faulty")])
def test_a_study_of_one_kind_alone_does_not_judge_probabilities(share, kind):
    Path("family.yaml").write_text(f"outlets: [1, 1]\nfaulty: {share}\n", "utf-8")
    result = run("--study", "3", "--picture", "calibration.svg")
    assert result.exit_code == 0, result.output
    said = f"all cases are {kind}, so whether probabilities are honest cannot be said"
    assert said in " ".join(result.stdout.split())
    assert f"all cases are {kind}" in Path("calibration.svg").read_text("utf-8")
    found = json.loads(run("--study", "3", "--format", "json").stdout)
    assert (found["off"], found["by_chance"], found["calibration"]) == (None, None, [])


def test_results_of_marks_without_a_weight_are_refused():
    assert run("--study", "1").exit_code == 0
    with sqlite3.connect("family.sqlite") as base:
        base.execute("ALTER TABLE marks DROP COLUMN weight")
    before = Path("family.sqlite").read_bytes()
    result = run("--study", "2", "--picture", "calibration.svg")
    assert result.exit_code == 2
    assert "--results" in result.output
    assert "not of this version of faultfinder" in result.output
    assert "Traceback" not in result.output
    assert Path("family.sqlite").read_bytes() == before
    assert not Path("calibration.svg").exists()


def test_mistakes_of_a_study_are_told():
    assert run("--study", "1").exit_code == 0
    other = run("--study", "1", "--seed", "2")
    assert other.exit_code == 2
    assert "a study of another seed" in other.output
    Path("family.yaml").write_text("outlets: [0, 1]\n", "utf-8")
    assert run("--study", "1").exit_code == 2
    assert run("--study", "0").exit_code == 2


@pytest.mark.parametrize(
    "more",
    [
        ["--jobs", "0"],
        ["--seed", "-1"],
        ["--plan", "polarity"],
        ["--test", "insulation"],
        ["--least"],
        ["--rules-only"],
        ["--circuit", "kitchen"],
        ["--false-alarm", "0.05"],
    ],
    ids=lambda more: more[0],
)
def test_what_a_study_has_no_use_for_is_refused(more):
    result = run("--study", "1", *more)
    assert result.exit_code == 2, result.output
    assert "xpected" in result.output or "not in the range" in result.output
    assert not Path("family.sqlite").exists()


def test_without_the_extra_dask_is_asked_for_in_words(monkeypatch):
    import builtins

    real = builtins.__import__

    def without(name, *rest, **more):
        if name.startswith("dask"):
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    result = run("--study", "1", "--dask", "local")
    assert result.exit_code == 3
    assert "faultfinder[dask]" in result.output
