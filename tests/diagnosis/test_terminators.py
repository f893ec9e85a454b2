"""Which resistors keep faults furthest apart."""

import json
from dataclasses import replace

import pytest
from click.testing import CliRunner
from modelled import LINE, RULEBOOK, TERMINATORS

from faultfinder.cli.main import faultfinder
from faultfinder.diagnosis.terminators import VALUES, _Signatures, choose_terminators
from faultfinder.readings.reading import Accuracy, Instrument, Terminators
from faultfinder.readings.setting import Setting

TWO = replace(LINE, points=LINE.points[:2], runs=LINE.runs[:2])
SETTING = Setting(TWO, TERMINATORS, Instrument())


def test_the_values_are_the_e12_series():
    """IEC 60063 (from memory): twelve steps a decade, each about 10^(1/12) of the last."""
    assert len(VALUES) == 25
    for step, value in enumerate(VALUES):
        assert value == pytest.approx(10 ** (step / 12), rel=0.06)


def test_the_choice_tells_at_least_as_many_faults_apart_as_what_is_fitted():
    choice = choose_terminators(SETTING, RULEBOOK)
    assert choice.fitted.terminators == TERMINATORS
    assert choice.best.told >= choice.fitted.told
    assert all(choice.best.told >= one.told for one in choice.next_best)
    best = choice.best.terminators
    assert {best.active_ohm, best.neutral_ohm} <= set(VALUES)
    assert best.active_ohm != best.neutral_ohm


def test_alike_resistors_hide_exchanged_conductors():
    signatures = _Signatures(SETTING, RULEBOOK)
    alike = signatures.rated(Terminators(10.0, 10.0))
    assert alike.told < signatures.rated(Terminators(10.0, 4.7)).told


def test_a_coarser_instrument_tells_less_apart():
    coarse = replace(SETTING, instrument=Instrument(resistance=Accuracy(0.05, 0.2, stated=True)))
    fine = _Signatures(SETTING, RULEBOOK).rated(TERMINATORS)
    assert _Signatures(coarse, RULEBOOK).rated(TERMINATORS).told < fine.told


def test_large_resistors_hide_poor_joints():
    signatures = _Signatures(SETTING, RULEBOOK)
    large = signatures.rated(Terminators(100.0, 47.0))
    assert large.told < signatures.rated(Terminators(4.7, 2.2)).told


CASE = """\
circuit:
  board: DB
  device: {curve: C, rating: 20}
  cable: {active: 2.5, earth: 2.5}
  points:
    S1: {kind: outlet, switched: true}
  runs:
    - {from: DB, to: S1, length: 14}
terminators: {active: 10, neutral: 5}
readings: []
"""


def test_the_command_says_which_and_why(tmp_path):
    path = tmp_path / "one.yaml"
    path.write_text(CASE, encoding="utf-8")
    run = CliRunner().invoke(faultfinder, ["expect", str(path), "--choose-terminators"])
    assert run.exit_code == 0
    assert run.output.startswith("Fit ")
    assert "With 10 ohm on active and 5 ohm on neutral" in " ".join(run.output.split())
    assert max(map(len, run.output.split("\n"))) <= 80
    path.write_text(CASE.replace("circuit:", "circuit:\n  region: uk"), encoding="utf-8")
    british = CliRunner().invoke(faultfinder, ["expect", str(path), "--choose-terminators"]).output
    assert "With 10 ohm on line and 5 ohm on neutral" in " ".join(british.split())
    assert "active" not in british
    asked = ["expect", str(path), "--choose-terminators", "--terminators", "22,10"]
    told = json.loads(CliRunner().invoke(faultfinder, [*asked, "--format", "json"]).output)
    assert (told["fitted"]["active"], told["fitted"]["neutral"]) == (22, 10)
    assert told["best"]["told_apart"] >= told["fitted"]["told_apart"]
    assert len(told["best"]["closest"]) == 2
