"""The public strategies: what they draw is valid, and shrinks to what a person can read."""

import builtins
import importlib
import re
import sys
from pathlib import Path

import pytest
from examples import slow
from hypothesis import find, given, settings
from hypothesis import strategies as st
from modelled import RULEBOOK

from faultfinder import strategies
from faultfinder.readings.writing import dump
from faultfinder.strategies import cases, circuits, faults, installations, instruments, rings

QUICK = settings(max_examples=200, database=None)


def test_a_circuit_shrinks_to_few_points_and_round_numbers():
    small = find(circuits(max_points=2), lambda circuit: len(circuit.points) >= 2, settings=QUICK)
    assert [point.name for point in small.points] == ["S1", "S2"]
    assert [(run.upstream, run.downstream, run.length_m) for run in small.runs] == [
        ("DB", "S1", 1.0),
        ("DB", "S2", 1.0),
    ]


def test_a_case_shrinks_to_one_outlet_and_one_row():
    small = find(cases(max_points=2), lambda case: bool(case.found.faults), settings=QUICK)
    assert len(small.circuit.points) == 1
    assert len(dump(small, RULEBOOK.procedures).splitlines()) < 25


@slow(30)
@given(cases(tests=("terminated", "linked-out")))
def test_readings_are_what_a_person_could_have_written(case):
    assert case.readings
    for reading in case.readings:
        amount = reading.amount
        assert amount.bound in {"=", "open"}
        if amount.bound == "=":
            steps = amount.value / reading.resolution
            assert steps == pytest.approx(round(steps), abs=1e-6)


@slow(30)
@given(st.data())
def test_a_fault_can_be_where_it_is_drawn(data):
    circuit = data.draw(circuits() | rings())
    fault = data.draw(faults(circuit))
    mode = RULEBOOK.modes[fault.mode]
    assert mode.ways_at(circuit, fault.at)
    assert (fault.r_ohm is None) == (mode.ohms is None)


@slow(20)
@given(installations())
def test_names_in_an_installation_are_its_own(installation):
    names = [point.name for circuit in installation.circuits for point in circuit.points]
    assert len(names) == len(set(names))


@given(instruments())
def test_an_instrument_is_of_the_trade(instrument):
    assert 0.001 < instrument.resistance.share <= 0.05


def test_without_the_extra_it_is_asked_for_in_words(monkeypatch):
    real = builtins.__import__

    def without(name, *rest, **more):
        if name.startswith("hypothesis"):
            raise ImportError(name)
        return real(name, *rest, **more)

    kept = sys.modules.pop("faultfinder.strategies")
    monkeypatch.setattr(builtins, "__import__", without)
    try:
        with pytest.raises(ImportError, match=r"faultfinder\[strategies\]"):
            importlib.import_module("faultfinder.strategies")
    finally:
        monkeypatch.undo()
        sys.modules["faultfinder.strategies"] = kept
    assert strategies.cases is cases


def test_the_example_of_the_page_runs(tmp_path, monkeypatch):
    page = Path(__file__).parents[1] / "docs" / "coverage.md"
    (example,) = re.findall(r"```python\n(.*?)```", page.read_text("utf-8"), re.DOTALL)
    monkeypatch.chdir(tmp_path)
    Path("my-rules").mkdir()
    names: dict[str, object] = {}
    exec(compile(example, str(page), "exec"), names)  # noqa: S102 - our own page
    test = names["test_a_sound_circuit_is_never_blamed"]
    settings(max_examples=2)(test)()
