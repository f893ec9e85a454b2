"""Case files: everything one may say, and the values it is read as."""

# ruff: noqa: E501 - a table reads best with one case a line

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from faultfinder.readings.case import Found
from faultfinder.readings.file import load_circuit
from faultfinder.readings.reading import Accuracy, Instrument, Reading, Spot, Terminators
from faultfinder.readings.setting import load_setting
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.source.problem import BadInput
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault
from readings.written import CASE, CIRCUIT, READINGS, TERMINATORS, changed, complaints, read


def exactly(value: float) -> Amount:
    return Amount(value, "=")


def the_reading(row: str) -> Reading:
    (reading,) = read(CIRCUIT + TERMINATORS + f"readings:\n  - {row}\n").readings
    return reading


def test_the_least_a_case_says():
    case = read(CASE)
    assert (case.name, case.title, case.found) == ("case.yaml", "", None)
    assert case.terminators == Terminators(10.0, 5.0)
    assert case.instrument == Instrument()
    on, off = (
        (lambda pair: Spot("terminated", "S1", "on", pair)),
        (lambda pair: Spot("terminated", "S1", "off", pair)),
    )
    assert case.readings == (
        Reading(on("A-N"), exactly(15.3), 0.1),
        Reading(on("A-E"), exactly(10.2), 0.1),
        Reading(on("N-E"), exactly(5.2), 0.1),
        Reading(off("A-N"), Amount(math.inf, "open"), 0.0),
        Reading(off("A-E"), Amount(math.inf, "open"), 0.0),
        Reading(off("N-E"), exactly(5.2), 0.1),
    )


def test_the_most_a_case_says():
    case = read(
        CIRCUIT
        + """\
format: 1
title: A case
notes: |
  Written on site.
  Copied at home.
terminators: {active: 0.01 kohm, neutral: 5 ohm}
instrument:
  resistance: {percent: 2 %, plus: 0.02, range: 2000}
  insulation: {percent: 0}
readings:
  - {test: linked-out, at: J1, A-E: 0.2, note: at the lid}
found: ["open E at S2..S1", "Bridged E-A in run DB..S1 20 kohm", "transposed N-E-A at S2", switch-stuck-on at S1]
"""
    )
    assert case.title == "A case"
    assert case.terminators == Terminators(10.0, 5.0)
    assert case.instrument == Instrument(
        Accuracy(0.02, 0.02, 2000.0, stated=True), Accuracy(0.001, 0.0, None, stated=True)
    )
    assert case.instrument.accuracy("insulation").share == 0.001
    assert case.readings == (Reading(Spot("linked-out", "J1", "", "A-E"), exactly(0.2), 0.1),)
    assert case.found == Found(
        (
            Fault("open", ("E",), "S1..S2"),
            Fault("bridged", ("A", "E"), "DB..S1", 20_000.0),
            Fault("transposed", ("A", "N", "E"), "S2"),
            Fault("switch-stuck-on", (), "S1"),
        )
    )


def test_nothing_found_is_not_the_same_as_not_known():
    assert read(CASE + "found: []\n").found == Found(())


NOTHING_READ = ["", "readings: []\n", "readings:\n", "readings: r.csv\n", "readings: blank.csv\n"]


@pytest.mark.parametrize("readings", NOTHING_READ)
def test_without_a_reading_there_is_no_case_but_a_setting(readings):
    Path("r.csv").write_text("test,at,A-N\nterminated,S1,\n", "utf-8")
    Path("blank.csv").write_text("\n", "utf-8")
    instrument = "instrument: {resistance: {percent: 2}}\n"
    said = complaints(CIRCUIT + TERMINATORS + instrument + readings)
    assert [line.split(" | ")[0].split()[1] for line in said] == ["no-readings"]
    assert '"faultfinder expect"' in said[0]
    setting = load_setting(Path("case.yaml"), shipped_rulebook().procedures)
    assert setting.terminators == Terminators(10.0, 5.0)
    assert setting.instrument.resistance.share == 0.02


def test_a_setting_is_checked_like_a_case():
    Path("case.yaml").write_text(
        CIRCUIT + "readings: [{test: long-lead, at: S9, A: 1}]\nfound: [opne E at S2]\n", "utf-8"
    )
    rulebook = shipped_rulebook()
    with pytest.raises(BadInput) as caught:
        load_setting(Path("case.yaml"), rulebook.procedures, rulebook.modes)
    assert [p.id for p in caught.value.problems] == ["missing-point", "not-a-fault"]


def test_units_of_an_instrument():
    instrument = read(
        CASE
        + "instrument:\n"
        + "  resistance: {percent: 1, plus: 10 mohm, range: 20 Mohm}\n"
        + "  insulation: {percent: 5, plus: 50 kohm, range: 2 Gohm}\n"
    ).instrument
    assert instrument.resistance == Accuracy(0.01, 0.01, 2e7, stated=True)
    assert instrument.insulation == Accuracy(0.05, 0.05, 2000.0, stated=True)


@pytest.mark.parametrize("file", ["circuit.yaml", "sub/circuit.yaml", "../circuit.yaml"])
@pytest.mark.parametrize("alone", [True, False])
def test_a_circuit_may_be_a_file_beside_the_case_or_in_another_case(file, alone):
    Path(file).parent.mkdir(exist_ok=True)
    inner = "\n".join(line[2:] for line in CIRCUIT.splitlines()[1:])
    Path(file).write_text(inner if alone else CASE, "utf-8")
    assert read(f"circuit: {file}\n" + TERMINATORS + READINGS) == read(CASE)


def test_a_circuit_is_read_from_its_file_from_a_case_and_through_a_case():
    circuit = read(CASE).circuit
    Path("alone.yaml").write_text("\n".join(x[2:] for x in CIRCUIT.splitlines()[1:]), "utf-8")
    Path("names.yaml").write_text("circuit: alone.yaml\nreadings: []\n", "utf-8")
    for name in ("case.yaml", "alone.yaml", "names.yaml"):
        assert load_circuit(Path(name)) == circuit


def test_a_circuit_that_is_named_nowhere():
    Path("names.yaml").write_text("circuit: alone.yaml\n", "utf-8")
    with pytest.raises(BadInput) as caught:
        load_circuit(Path("names.yaml"))
    assert str(caught.value) == (
        'names.yaml:1:10: error: "alone.yaml": there is no such file [missing-file]\n'
        "   1 | circuit: alone.yaml\n"
        "     |          ^"
    )


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "case.yaml empty-file | the file is empty |  | "),
        (b"# nothing yet\n", "case.yaml empty-file | the file holds nothing but comments |  | "),
        (b"\0\0\0", "case.yaml:1:1 binary-file | this is not a text file: it holds a NUL byte | plain text saved as UTF-8 | "),
        (b"a: \xff\n", "case.yaml:1:4 binary-file | this is not a text file: it holds byte 0xff, which is not UTF-8 | plain text saved as UTF-8 | "),
        (b"#" * 2_000_001, "case.yaml huge-file | the file is too big: 2,000,001 bytes | at most 2,000,000 bytes | "),
        (b"readings: [\n" + b"  x,\n" * 200_001 + b"]\n", "case.yaml:200000:3 too-many-values | more than 200,000 values, aliases written out |  | "),
        (b"[" * 100, "case.yaml:1:51 too-deep | more than 50 levels deep |  | "),
    ],
    ids=["empty", "comments", "binary", "not UTF-8", "huge", "long", "deep"],
)  # fmt: skip
def test_a_file_that_is_no_case(content, said):
    assert complaints(content) == [said]


def test_a_missing_file():
    Path("kase.yaml").write_text(CASE, "utf-8")
    with pytest.raises(BadInput) as caught:
        load_circuit(Path("case.yaml"))
    assert str(caught.value) == (
        "case.yaml: error: there is no such file [missing-file]\n  try       kase.yaml"
    )


def test_the_circuit_comes_first_for_readings_mean_nothing_without_it():
    text = changed(("curve: C", "curve: E"), ("A-N: 15.3", "A-N: 15.3 V"))
    assert [line.split(" | ")[1] for line in complaints(text)] == ['unknown tripping curve "E"']


def test_all_mistakes_of_readings_and_of_what_was_found_come_at_once():
    text = changed(
        ("A-N: 15.3, A-E: 10.2", "A-N: 15.3 V, A-E: 10.2 s"),
        ("test: terminated, at: S1, switch: off", "test: terminted, at: S9, switch: of"),
    )
    assert [line.split(" | ")[0] for line in complaints(text + "found: [x, y]\n")] == [
        "case.yaml:15:50 impossible-unit",
        "case.yaml:15:63 impossible-unit",
        "case.yaml:16:12 unknown-test",
        "case.yaml:16:27 missing-point",
        "case.yaml:16:39 unknown-value",
        "case.yaml:17:9 not-a-fault",
        "case.yaml:17:12 not-a-fault",
    ]


@pytest.mark.parametrize("word", ["on", '"on"', "'on'", "ON", "true", "yes"])
def test_switch_on(word):
    assert the_reading(f"{{test: terminated, at: S1, switch: {word}, A-E: 1}}").spot.switch == "on"


@pytest.mark.parametrize("word", ["off", '"off"', "'off'", "Off", "false", "no"])
def test_switch_off(word):
    row = f"{{test: terminated, at: S1, switch: {word}, A-E: open}}"
    assert the_reading(row).spot.switch == "off"


@pytest.mark.parametrize(
    ("row", "switch"),
    [
        ("{test: terminated, at: S1, A-E: 1}", "on"),
        ("{test: terminated, at: S2, A-E: 1}", ""),
        ("{test: terminated, at: S2, switch: on, A-E: 1}", ""),
        ("{test: insulation, at: DB, A-E: 1}", ""),
        ("{test: insulation, at: J1, switch: on, A-E: 1}", ""),
    ],
)
def test_a_switch_counts_where_there_is_one_and_is_on_unless_noted(row, switch):
    assert the_reading(row).spot.switch == switch


@pytest.mark.parametrize(
    ("test", "key", "between"),
    [
        ("terminated", "E-A", "A-E"),
        ("terminated", "n-a", "A-N"),
        ("terminated", "N - E", "N-E"),
        ("insulation", "E-N+A", "A+N-E"),
        ("insulation", "N+A-E", "A+N-E"),
        ("long-lead", "e", "E"),
    ],
)
def test_a_pair_may_be_written_in_either_order(test, key, between):
    assert the_reading(f"{{test: {test}, at: S1, {key}: 1}}").spot.between == between


@pytest.mark.parametrize(
    ("test", "written", "value", "bound", "resolution"),
    [
        ("terminated", "10", 10, "=", 1),
        ("terminated", "10.", 10, "=", 1),
        ("terminated", "10.0", 10, "=", 0.1),
        ("terminated", "10.00", 10, "=", 0.01),
        ("terminated", ".5", 0.5, "=", 0.1),
        ("terminated", "0", 0, "=", 1),
        ("terminated", "0.00", 0, "=", 0.01),
        ("terminated", "1.2k", 1200, "=", 100),
        ("terminated", "1.20 kohm", 1200, "=", 10),
        ("terminated", "420 mohm", 0.42, "=", 0.001),
        ("terminated", "0.42 ohm", 0.42, "=", 0.01),
        ("terminated", "0.42 Ω", 0.42, "=", 0.01),
        ("terminated", "1.2 Mohm", 1.2e6, "=", 1e5),
        ("terminated", "1.50e3", 1500, "=", 10),
        ("terminated", "010", 10, "=", 1),
        ("terminated", "open", math.inf, "open", 0),
        ("terminated", "OL", math.inf, "open", 0),
        ("terminated", '">2.0 kohm"', 2000, ">", 100),
        ("terminated", "<0.01", 0.01, "<", 0.01),
        ("insulation", "500", 500, "=", 1),
        ("insulation", "0.5", 0.5, "=", 0.1),
        ("insulation", "0 kohm", 0, "=", 0.001),
        ("insulation", "50 kohm", 0.05, "=", 0.001),
        ("insulation", '">200 Mohm"', 200, ">", 1),
        ("insulation", '">1 Gohm"', 1000, ">", 1000),
        ("insulation", "0e400", 0, "=", 0),
    ],
)
def test_a_value_its_unit_and_its_last_digit(test, written, value, bound, resolution):
    row = f"{{test: {test}, at: S1, A-N: {written}}}"
    reading = the_reading(row)
    assert reading.amount == Amount(value, bound)
    assert reading.resolution == pytest.approx(resolution, rel=1e-12, abs=0)


@pytest.mark.parametrize("again", ["A-E: 10.2", "E-A: 10.20", "A-E: 10200 mohm"])
def test_a_reading_written_twice_counts_once(again):
    row = f"  - {{test: terminated, at: S1, {again}}}\n"
    assert read(CASE + row) == read(CASE)


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["A-N", "A-E", "N-E"]),
            st.sampled_from(["on", "off"]),
            st.one_of(
                st.tuples(st.floats(0, 1e12).map(lambda x: x + 0.0), st.just("=")),
                st.tuples(st.floats(1e-3, 1e12), st.sampled_from("<>")),
                st.just((math.inf, "open")),
            ),
        ),
        min_size=1,
        unique_by=lambda entry: entry[:2],
    ),
    st.floats(0.01, 10_000),
    st.sampled_from(["open E at S1", "bridged A-N at S1..S2 0.1 ohm", "switch-stuck-on at S1"]),
)
def test_a_case_written_down_is_read_back_equal(entries, ohms, found):
    text = CIRCUIT + f"terminators: {{active: {ohms!r}, neutral: 5}}\nfound: [{found}]\nreadings:"
    for between, switch, (value, bound) in entries:
        written = "open" if bound == "open" else f"'{bound.strip('=')}{value!r}'"
        text += f"\n- test: terminated\n  at: S1\n  switch: {switch}\n  {between}: {written}"
    case = read(text)
    assert case.terminators == Terminators(ohms, 5.0)
    assert case.found is not None
    assert [str(fault) for fault in case.found.faults] == [found]
    assert [(reading.spot, reading.amount) for reading in case.readings] == [
        (Spot("terminated", "S1", switch, between), Amount(value, bound))
        for between, switch, (value, bound) in entries
    ]
