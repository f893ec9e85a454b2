"""What is written reads back as the same case, and looks like what a person would write."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from modelled import LINE, RULEBOOK, case, readings
from strategies import circuits, faults, rings

from faultfinder.readings.case import Case, Found
from faultfinder.readings.file import load_case
from faultfinder.readings.reading import Accuracy, Instrument, Reading, Spot, Terminators
from faultfinder.readings.writing import dump, written
from faultfinder.source.content import content_folder
from faultfinder.source.quantity import Amount
from faultfinder.wiring.circuit import Load

WORKED = sorted((content_folder("cases") / "marram-hall").glob("*.yaml"))
KNOWN = RULEBOOK.procedures, RULEBOOK.modes, RULEBOOK.set_ups


def read(text, folder=Path()):
    path = folder / "written.yaml"
    path.write_text(text, "utf-8")
    return load_case(path, *KNOWN, may_be_unread=True)


def runs_by_name(one):
    """Return a case with its runs in an order of their own: a file keeps the board's first."""
    runs = tuple(sorted(one.circuit.runs, key=lambda run: run.name))
    return replace(one, name="", circuit=replace(one.circuit, runs=runs))


@pytest.mark.parametrize("path", WORKED, ids=lambda path: path.stem)
def test_every_worked_case_reads_back(path, tmp_path):
    first = load_case(path, *KNOWN)
    again = read(dump(first, RULEBOOK.procedures, tmp_path), tmp_path)
    kept = Path(first.installation_file), Path(again.installation_file)
    assert kept[0].resolve() == kept[1].resolve()
    assert replace(again, name="", installation_file="") == replace(
        first, name="", installation_file=""
    )


@given(st.data())
def test_any_circuit_reads_back(data):
    circuit = data.draw(circuits() | rings())
    found = data.draw(st.none() | st.lists(faults(circuit), max_size=2).map(tuple))
    first = Case("", "Any: with a colon", circuit, Terminators(10.0, 4.7), Instrument(), ())
    first = replace(first, found=None if found is None else Found(found))
    assert runs_by_name(read(dump(first, RULEBOOK.procedures))) == runs_by_name(first)


UNITS = {"terminated": "A-E", "insulation": "A-E"}


@given(
    st.integers(0, 99_999), st.integers(-3, 5), st.sampled_from("=<>"), st.sampled_from(list(UNITS))
)
def test_a_value_keeps_its_last_digit(digits, power, bound, test):
    assume(digits or bound != "<")
    spot = Spot(test, "S3", "", UNITS[test])
    first = Reading(spot, Amount(float(f"{digits}e{power}"), bound), float(f"1e{power}"))
    (again,) = read(dump(case(LINE, taken=(first,)), RULEBOOK.procedures)).readings
    assert (again.spot, again.amount) == (spot, first.amount)
    assert again.resolution == pytest.approx(first.resolution)


@pytest.mark.parametrize(
    ("amount", "resolution", "unit", "said"),
    [
        (Amount(10.0, "="), 0.01, "ohm", "10.00"),
        (Amount(10.0, "="), 1.0, "ohm", "10"),
        (Amount(1200.0, "="), 100.0, "ohm", "1.2 kohm"),
        (Amount(2e6, "="), 1e5, "ohm", "2.0 Mohm"),
        (Amount(1000.0, ">"), 1000.0, "Mohm", '">1 Gohm"'),
        (Amount(0.05, "<"), 0.01, "ohm", '"<0.05"'),
        (Amount(float("inf"), "open"), 0.0, "ohm", "open"),
        (Amount(10.213456, "="), 0.0, "ohm", "10.213456"),
        (Amount(2e12, "="), 1e12, "Mohm", "2e12"),
    ],
)
def test_values_look_as_people_write_them(amount, resolution, unit, said):
    assert written(amount, resolution, unit) == said


def test_readings_of_one_row_stand_together():
    said = dump(case(LINE), RULEBOOK.procedures)
    assert "  - {test: terminated, at: S1, switch: on, A-N: 15.21, A-E: 10.21, N-E: 5.21}" in said
    assert "    S2: {kind: outlet, switched: both}" in said
    assert "    - {from: DB, to: S1, length: 14}" in said
    assert said == dump(read(said), RULEBOOK.procedures)


def test_the_order_of_readings_is_kept():
    first = case(LINE, taken=tuple(reversed(readings(LINE))))
    again = read(dump(first, RULEBOOK.procedures))
    assert [r.spot for r in again.readings] == [r.spot for r in first.readings]


def test_what_the_leaflet_says_and_notes_are_kept():
    told = Instrument(
        resistance=Accuracy(0.073, 0.02, 2000.0, stated=True),
        insulation=Accuracy(0.05, 0.0, stated=True),
    )
    first = replace(case(LINE, instrument=told), notes='to be "checked": S3\nand S4')
    again = read(dump(first, RULEBOOK.procedures))
    assert (again.instrument, again.notes) == (told, first.notes)


def test_a_load_is_kept_and_one_no_file_can_say_is_refused():
    heater = replace(LINE, loads=(Load("S3", ("A", "N"), 26.45, what="heater", is_fixed=True),))
    assert read(dump(case(heater), RULEBOOK.procedures)).circuit == heater
    motor = replace(LINE, loads=(Load("S3", ("A", "N"), 20.0, 15.0),))
    with pytest.raises(ValueError, match="reactance at S3"):
        dump(case(motor, taken=()), RULEBOOK.procedures)


def test_an_installation_from_no_file_is_refused():
    path = next(path for path in WORKED if "installation:" in path.read_text("utf-8"))
    lost = replace(load_case(path, *KNOWN), installation_file="")
    with pytest.raises(ValueError, match="no file"):
        dump(lost, RULEBOOK.procedures)


def test_a_case_with_nothing_read_yet(tmp_path):
    again = read(dump(case(LINE, taken=()), RULEBOOK.procedures), tmp_path)
    assert again.readings == ()
