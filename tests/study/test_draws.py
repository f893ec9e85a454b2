"""Conditions, draws by the priors, and marks of ohms, checked."""

import math
import random

import numpy as np
import pytest
import yaml
from drawing import Fault
from ohms import by_hand, estimate, lines
from options import parser_of, settings_of
from priors import ohms, weights
from simulator import Case, Settings, as_built, as_yaml, cases, random_circuit


def test_hard_conditions_are_those_asked_for():
    settings = settings_of(parser_of(None, 1).parse_args(["--hard", "--stated"]))
    assert (settings.error_share, settings.error_ohm, settings.errors) == (0.02, 0.02, "uniform")
    rng = random.Random(1)
    drawn = random_circuit(rng, settings)
    built = [as_built(drawn, rng, settings) for _ in range(300)]
    degrees = [circuit.temperature_c for circuit in built]
    assert 5 <= min(degrees) < 7
    assert 38 < max(degrees) <= 40
    off = [circuit.runs[0].length_m / drawn.runs[0].length_m - 1 for circuit in built]
    assert -0.15 <= min(off) < -0.14
    assert 0.14 < max(off) <= 0.15
    (case,) = cases(1, 1, settings, faulty=True)
    said = yaml.safe_load(as_yaml(case))["instrument"]["resistance"]
    assert said == {"percent": 2, "plus": "0.02 ohm"}


def test_weights_are_the_chances_of_the_rule_files():
    settings = Settings(in_runs=True, behind_switches=True)
    circuit = random_circuit(random.Random(3), settings)
    faults = settings.faults_of(circuit)
    found = dict.fromkeys(((f.mode, f.at) for f in faults), 0.0)
    for fault, weight in zip(faults, weights(circuit, faults), strict=True):
        found[fault.mode, fault.at] += weight
    run = circuit.runs[0].name
    assert found["open", run] == pytest.approx(0.006)
    assert found["bridged", run] == pytest.approx(0.0015)
    assert all(found["bridged", outlet] == pytest.approx(0.003) for outlet in circuit.outlets)
    assert ohms("bridged") == (0.01, 2e6)


def test_ohms_are_marked():
    settings = Settings(outlets=(3, 3), error_share=0.0, error_ohm=0.0)
    circuit = random_circuit(random.Random(1), settings)
    fault = Fault("high-resistance", ("E",), circuit.runs[0].name, 2.0)
    from resistances import readings

    case = Case("x", circuit, fault, circuit.keys(), readings(circuit, fault, circuit.keys()))
    assert by_hand(case) == pytest.approx(2.0)
    said = {"mode": "high-resistance", "conductors": ["E"], "at": fault.at, "ohms": 2.2}
    suspect = {"rank": 1, "group": 1, "probability": 1.0, "faults": [said], "ohms_90": [[1.9, 2.1]]}
    one = estimate(case, {"suspects": [suspect]})
    assert (one.true, one.said, one.low, one.high) == (2.0, 2.2, 1.9, 2.1)
    other = estimate(case, {"suspects": [suspect | {"faults": []}]})
    assert math.isnan(other.said)
    row = next(line for line in lines([one, one, other]) if "1 to 3" in line).split()
    assert row[-4:] == ["66.7%", "0.095", "100.0%", f"{abs(np.log(by_hand(case) / 2)):.3f}"]
