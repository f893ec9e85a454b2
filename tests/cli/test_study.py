"""The command ``cover --study``."""

import json
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
    result = run("--study", "4", "--picture", "calibration.svg")
    assert result.exit_code == 0, result.output
    assert "Sheds: 4 made-up cases" in result.output
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert Path("family.sqlite").exists()
    circles = ET.parse("calibration.svg").getroot().iter("{http://www.w3.org/2000/svg}circle")  # noqa: S314 - our own
    assert len(list(circles)) == 1
    again = run("--study", "4", "--format", "json")
    found = json.loads(again.stdout)
    assert (found["cases"], found["family"]) == (4, "Sheds")


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
