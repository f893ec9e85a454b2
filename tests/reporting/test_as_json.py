"""The JSON of a diagnosis: names and types are a contract, so they are written out here again."""

import json
import math
from dataclasses import replace
from functools import cache

import pytest
from modelled import LINE, RULEBOOK, case, expected, readings

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.readings.reading import Reading, Spot
from faultfinder.reporting.as_json import diagnosis_json, error_json, expectation_json
from faultfinder.source.problem import BadInput, Position, Problem
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

NUMBER = (int, float)
NONE = type(None)
TOP = {
    "schema": int,
    "case": str,
    "verdict": str,
    "readings": list,
    "suspects": list,
    "next_checks": list,
    "cautions": list,
    "not_read": list,
    "unseen": float,
    "repeat": list,
    "contrast": (dict, NONE),
    "alike": str,
    "why": list,
}
DECISIVE = {
    "test": str,
    "at": str,
    "switch": (str, NONE),
    "between": str,
    "value": (*NUMBER, str),
    "unit": str,
    "leader": (*NUMBER, str),
    "rival": (*NUMBER, str),
    "rival_off_sd": (*NUMBER, str),
}
WHY = {
    "asked": str,
    "fault": dict,
    "title": str,
    "standing": str,
    "probability": float,
    "prior": float,
    "readings": list,
    "nats_behind": float,
    "check": (dict, NONE),
}
READING = {
    "test": str,
    "at": str,
    "switch": (str, NONE),
    "between": str,
    "value": (*NUMBER, str),
    "unit": str,
    "expected": (*NUMBER, str),
    "low": (*NUMBER, str),
    "high": (*NUMBER, str),
    "standing": str,
    "like": (str, NONE),
    "limit": (*NUMBER, NONE),
    "within_limit": (bool, NONE),
}
SUSPECT = {
    "rank": int,
    "group": int,
    "probability": float,
    "faults": list,
    "ohms_90": list,
    "title": str,
    "supported_by": list,
    "spoken_against_by": list,
    "signs": list,
    "reason": str,
    "look_for": str,
    "remedy": str,
    "retest": list,
    "cautions": list,
    "sunk_by": (dict, NONE),
}
FAULT = {"mode": str, "conductors": list, "at": str, "ohms": (*NUMBER, NONE)}
CHECK = {
    "rank": int,
    "test": str,
    "at": str,
    "switch": (str, NONE),
    "between": (str, NONE),
    "why": str,
    "expects": list,
    "unit": (str, NONE),
    "information_bits": NUMBER,
    "minutes": NUMBER,
    "risk": str,
    "steps": list,
    "cautions": list,
    "parted": (str, NONE),
    "also": list,
}
OUTCOME = {"group": int, "suspects": list, "value": (*NUMBER, str)}
EXPECTED = {
    "test": str,
    "at": str,
    "switch": (str, NONE),
    "between": str,
    "expected": (*NUMBER, str),
    "low": (*NUMBER, str),
    "high": (*NUMBER, str),
    "unit": str,
    "limit": (*NUMBER, NONE),
}
FAULTS = (
    None,
    Fault("open", ("E",), "S1..S2"),
    Fault("high-resistance", ("N",), "S2", 1.5),
    Fault("transposed", ("A", "E", "N"), "S1..S2"),
    Fault("switch-bypassed", (), "S1"),
)


def assert_shape(told, shape):
    assert list(told) == list(shape)
    for name, kinds in shape.items():
        assert isinstance(told[name], kinds), (name, told[name])
        assert not (isinstance(told[name], float) and not math.isfinite(told[name])), name


@cache
def text_of(fault):
    diagnosis = diagnose(case(LINE, [fault] if fault else []), RULEBOOK)
    return json.dumps(diagnosis_json(diagnosis), allow_nan=False)


@pytest.fixture(params=FAULTS, ids=str)
def told(request):
    return json.loads(text_of(request.param))


def test_every_field_has_its_name_and_type(told):
    assert_shape(told, TOP)
    assert told["schema"] == 1
    assert told["verdict"] in {"sound", "fault", "unexplained"}
    for reading in told["readings"]:
        assert_shape(reading, READING)
    for suspect in told["suspects"]:
        assert_shape(suspect, SUSPECT)
        for fault in suspect["faults"]:
            assert_shape(fault, {**FAULT, "set_up": str} if "set_up" in fault else FAULT)
            assert ("set_up" in fault) == (fault["mode"] == "set-up")
        if suspect["sunk_by"]:
            assert_shape(suspect["sunk_by"], DECISIVE)
            assert suspect["group"] != 1
    for check in told["next_checks"]:
        assert_shape(check, CHECK)
        assert check["steps"]
        assert all(isinstance(one, str) for one in (*check["steps"], *check["cautions"]))
        for outcome in check["expects"]:
            assert_shape(outcome, OUTCOME)


def test_probabilities_sum_to_at_most_one_and_the_sound_circuit_is_ranked(told):
    assert sum(suspect["probability"] for suspect in told["suspects"]) <= 1 + 1e-9
    assert sum(suspect["faults"] == [] for suspect in told["suspects"]) == 1
    assert [s["rank"] for s in told["suspects"]] == [*range(1, len(told["suspects"]) + 1)]


def test_what_was_not_read_and_what_is_not_seen_are_told():
    taken = [r for r in readings(LINE) if r.spot.at == "S1" and r.spot.switch == "on"]
    told = diagnosis_json(diagnose(case(LINE, taken=taken), RULEBOOK))
    assert told["not_read"] == ["S1 switched off", "S2", "S3"]
    assert sum(s["probability"] for s in told["suspects"]) + told["unseen"] == pytest.approx(1)
    whole = json.loads(text_of(None))
    assert whole["not_read"] == []
    assert 0 <= whole["unseen"] < told["unseen"] < 1


def test_the_truth_is_told_as_a_fault():
    for fault in FAULTS[1:]:
        leading = [
            s["faults"][0] for s in json.loads(text_of(fault))["suspects"] if s["group"] == 1
        ]
        assert (fault.mode, list(fault.conductors), fault.at) in [
            (f["mode"], f["conductors"], f["at"]) for f in leading
        ]


def test_ohms_are_told_where_a_mode_has_them():
    first = json.loads(text_of(FAULTS[2]))["suspects"][0]
    ((low, high),) = first["ohms_90"]
    assert low < first["faults"][0]["ohms"] < high
    for fault in (FAULTS[1], FAULTS[3], FAULTS[4]):
        first = json.loads(text_of(fault))["suspects"][0]
        assert first["ohms_90"] == [None]
        assert first["faults"][0]["ohms"] is None


def test_readings_are_told_as_written():
    spots = [Spot("insulation", "DB", "", pair) for pair in ("A-N", "A-E", "N-E")]
    amounts = (Amount(200.0, ">"), Amount(0.05, "<"), Amount(math.inf, "open"))
    taken = [Reading(s, a, 0.01) for s, a in zip(spots, amounts, strict=True)]
    told = diagnosis_json(diagnose(case(LINE, taken=taken), RULEBOOK))["readings"]
    assert [r["value"] for r in told] == [">200", "<0.05", "open"]
    assert [r["standing"] for r in told] == ["as expected", "conducts", "as expected"]
    assert [r["within_limit"] for r in told] == [True, False, True]
    assert {r["unit"] for r in told} == {"Mohm"}


def test_an_expectation_has_exactly_its_fields():
    every = [*expected(LINE), *expected(LINE, tests=("insulation", "long-lead"))]
    for expectation in every:
        told = expectation_json(expectation)
        assert_shape(told, EXPECTED)
        assert told["expected"] == "open" or isinstance(told["expected"], float)
        assert json.loads(json.dumps(told, allow_nan=False)) == told


def test_figures_are_six():
    told = expectation_json(expected(LINE)[0])
    assert told["expected"] == float(f"{expected(LINE)[0].value:.6g}")


def test_an_error_tells_every_problem():
    problems = [
        Problem(Position("a.yaml", 3, 5), "unknown-key", 'unknown key "x"', "one of y", "y"),
        Problem(Position("a.yaml", 1, 1), "missing-key", "no circuit"),
    ]
    told = error_json("a.yaml", BadInput(problems))
    assert list(told) == ["schema", "case", "error"]
    assert told["error"] == [
        {
            "file": "a.yaml",
            "line": 1,
            "column": 1,
            "id": "missing-key",
            "found": "no circuit",
            "expected": "",
            "nearest": "",
        },
        {
            "file": "a.yaml",
            "line": 3,
            "column": 5,
            "id": "unknown-key",
            "found": 'unknown key "x"',
            "expected": "one of y",
            "nearest": "y",
        },
    ]


def test_the_contrast_is_with_a_rival_outside_the_leading_group(told):
    contrast = told["contrast"]
    if contrast is not None:
        assert told["suspects"][contrast["rival"] - 1]["group"] != 1
        for reading in contrast["readings"]:
            assert_shape(reading, DECISIVE)


def test_what_was_asked_about_has_an_object_each():
    asked = [Fault("open", ("E",), "S3"), Fault("high-resistance", ("A",), "S2")]
    diagnosis = diagnose(case(LINE, [FAULTS[1]]), RULEBOOK, asked)
    told = json.loads(json.dumps(diagnosis_json(diagnosis), allow_nan=False))
    assert [why["asked"] for why in told["why"]] == [str(fault) for fault in asked]
    for why in told["why"]:
        assert_shape(why, WHY)
        assert why["standing"] == "ruled out"
        assert_shape(why["readings"][0], DECISIVE)
        assert_shape(why["check"], CHECK)
    assert told["why"][0]["readings"][0]["rival_off_sd"] == "open"
    assert told["why"][0]["fault"]["ohms"] is None
    assert 0.05 <= told["why"][1]["fault"]["ohms"] <= 2000


def test_a_reading_that_fits_nothing_is_to_be_repeated():
    taken = [
        replace(r, amount=replace(r.amount, value=50.0))
        if (r.spot.at, r.spot.between) == ("S3", "N-E")
        else r
        for r in readings(LINE)
    ]
    told = diagnosis_json(diagnose(case(LINE, taken=taken), RULEBOOK))
    assert [(r["at"], r["between"], r["value"]) for r in told["repeat"]] == [("S3", "N-E", 50.0)]
    first = told["next_checks"][0]
    assert (first["test"], first["at"], first["between"]) == ("terminated", "S3", "N-E")
    assert first["why"].startswith("repeat this reading")
