"""`faultfinder diagnose` and mistakes: told on stderr with exit code 2, and other cases answered."""

# ruff: noqa: E501 - a table reads best with one case a line

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from faultfinder.cli.main import faultfinder

CIRCUIT = """\
circuit:
  board: DB
  device: {curve: C, rating: 20}
  cable: {active: 2.5, earth: 2.5, material: copper}
  points:
    S1: {kind: outlet, switched: true}
    S2: {kind: outlet, switched: false}
  runs:
    - {from: DB, to: S1, length: 14}
    - {from: S1, to: S2, length: 6}
terminators: {active: 10, neutral: 5}
"""
CASE = CIRCUIT + "readings:\n  - {test: terminated, at: S2, A-N: 15.3, A-E: 10.3, N-E: 5.3}\n"


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def diagnose(*arguments: str) -> Result:
    result = CliRunner().invoke(faultfinder, ["diagnose", *arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert "Traceback" not in result.output
    return result


def refused(text: str | bytes) -> str:
    """Return what is said on stderr of a case, after all that goes for every mistake."""
    content = text if isinstance(text, bytes) else text.encode()
    Path("case.yaml").write_bytes(content)
    result = diagnose("case.yaml")
    assert (result.exit_code, result.stdout) == (2, "")
    as_json = diagnose("--format", "json", "case.yaml")
    assert (as_json.exit_code, as_json.stderr) == (2, "")
    (line,) = as_json.stdout.splitlines()
    answer = json.loads(line)
    assert (answer["case"], set(answer)) == ("case.yaml", {"schema", "case", "error"})
    assert answer["error"]
    assert all(problem["found"] in " ".join(result.stderr.split()) for problem in answer["error"])
    return result.stderr


def changed(old: str, new: str) -> str:
    assert old in CASE
    return CASE.replace(old, new, 1)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            changed("switched: true", "swiched: true"),
            ('case.yaml:6:24: error: unknown key "swiched" [unknown-key]\n'
            "   6 |     S1: {kind: outlet, swiched: true}\n"
            "     |                        ^\n"
            "  expected  kind, switched, phase, floor, room or distance\n"
            "  try       switched\n"),
        ),
        (
            changed("A-E: 10.3", "A-E: 0.42 V"),
            ('case.yaml:13:48: error: "V" is a unit of voltage, not of resistance\n'
            "  [impossible-unit]\n"
            "  13 |   - {test: terminated, at: S2, A-N: 15.3, A-E: 0.42 V, N-E: 5.3}\n"
            "     |                                                ^\n"
            "  expected  uohm, mohm, ohm, kohm, Mohm or Gohm\n"),
        ),
        (
            changed("length: 6}", "length: 6}\n    - {from: S2, to: DB, length: 2}"),
            ("case.yaml:11:7: error: this run closes a loop: DB - S1 - S2 - DB [loop]\n"
            "  11 |     - {from: S2, to: DB, length: 2}\n"
            "     |       ^\n"
            "  expected  a radial circuit, each point fed by one run; or kind: ring\n"),
        ),
        (
            changed("active: 2.5", "active: 3"),
            ("case.yaml:4:19: error: unknown size 3 mm² in as-nzs-copper [unknown-value]\n"
            "   4 |   cable: {active: 3, earth: 2.5, material: copper}\n"
            "     |                   ^\n"
            "  expected  1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120 mm²\n"
            "  try       2.5 or 4\n"),
        ),
        (
            CASE + "found: [opne E at S2]\n",
            ('case.yaml:14:9: error: unknown fault mode "opne" [not-a-fault]\n'
            "  14 | found: [opne E at S2]\n"
            "     |         ^\n"
            "  expected  bridged, cross-circuit, high-resistance, link-extra, link-missing,\n"
            "            not-supplied, open, parallel-earth, switch-bypassed,\n"
            "            switch-in-neutral, switch-stuck-off, switch-stuck-on, transposed or\n"
            "            undersized\n"
            "  try       open\n"),
        ),
        (
            changed("length: 6}", "length: 6"),
            ('case.yaml:10:7: error: the "{" that opens here is not closed, or a comma is\n'
            "  missing [yaml-syntax]\n"
            "  10 |     - {from: S1, to: S2, length: 6\n"
            "     |       ^\n"
            '  expected  a comma between entries and "}" at the end\n'),
        ),
        (
            CIRCUIT + "readings: radings.csv\n",
            ('case.yaml:12:11: error: "radings.csv": there is no such file [missing-file]\n'
            "  12 | readings: radings.csv\n"
            "     |           ^\n"
            "  try       readings.csv\n"),
        ),
        (
            CIRCUIT + "readings: wide.csv\n",
            ("wide.csv:2:1: error: 4 cells in this row [wrong-width]\n"
            "   2 | terminated,S2,15,3\n"
            "     | ^\n"
            "  expected  3 cells, as the heading has\n"),
        ),
        (b"", "case.yaml: error: the file is empty [empty-file]\n"),
        (
            b"\0",
            ("case.yaml:1:1: error: this is not a text file: it holds a NUL byte [binary-file]\n"
            "  expected  plain text saved as UTF-8\n"),
        ),
        (
            b"#" * 2_000_001,
            ("case.yaml: error: the file is too big: 2,000,001 bytes [huge-file]\n"
            "  expected  at most 2,000,000 bytes\n"),
        ),
    ],
    ids=["key", "unit", "loop", "size", "found", "yaml", "no table", "width", "empty", "binary", "huge"],
)  # fmt: skip
def test_a_mistake_is_told_in_full_and_nothing_else_is(text, said):
    Path("readings.csv").write_text("test,at\n", "utf-8")
    Path("wide.csv").write_text("test,at,A-N\nterminated,S2,15,3\n", "utf-8")
    assert refused(text) == said


def test_all_mistakes_of_a_case_are_told():
    said = refused(changed("A-N: 15.3, A-E: 10.3", "A-N: 15.3 V, A-E: opne"))
    assert [line.split(" error:")[0] for line in said.splitlines() if "error:" in line] == [
        "case.yaml:13:37:",
        "case.yaml:13:50:",
    ]


def test_a_file_that_is_not_there():
    Path("kase.yaml").write_text(CASE, "utf-8")
    result = diagnose("case.yaml")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        "case.yaml: error: there is no such file [missing-file]\n  try       kase.yaml\n"
    )


def test_a_folder():
    result = diagnose(".")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == ".: error: this is a folder [not-a-file]\n  expected  a file\n"


def test_a_sign_that_steers_a_terminal_is_shown_and_not_obeyed():
    Path("case.yaml").write_text(changed("S2: {kind", '"\\e[31mS2": {}\n    S2: {kind'), "utf-8")
    for arguments in ([], ["--format", "json"]):
        assert "\x1b" not in diagnose(*arguments, "case.yaml").output
    assert 'error: "\\x1b[31mS2" cannot be a name' in diagnose("case.yaml").stderr


@pytest.mark.parametrize("order", [("good", "bad"), ("bad", "good"), ("bad", "good", "gone")])
def test_the_other_cases_are_still_answered(order):
    Path("good").write_text(CASE, "utf-8")
    Path("bad").write_text(changed("curve: C", "curve: E"), "utf-8")
    result = diagnose(*order)
    assert result.exit_code == 2
    assert 'unknown tripping curve "E"' in result.stderr
    assert "tripping curve" not in result.stdout
    assert result.stdout
    as_json = diagnose("--format", "json", *order)
    answers = [json.loads(line) for line in as_json.stdout.splitlines()]
    assert (as_json.exit_code, as_json.stderr) == (2, "")
    assert [(answer["case"], "error" in answer) for answer in answers] == [
        (name, name != "good") for name in order
    ]


def test_an_error_in_json_says_where_and_what():
    Path("case.yaml").write_text(changed("to: S2", "to: S22"), "utf-8")
    answer = json.loads(diagnose("--format", "json", "case.yaml").stdout)
    assert answer["error"] == [
        {
            "file": "case.yaml",
            "line": 10,
            "column": 22,
            "id": "missing-point",
            "found": 'no point "S22"',
            "expected": "the board DB or a point: S1 or S2",
            "nearest": "S2",
        }
    ]


def test_a_sound_case_and_a_faulty_one():
    Path("case.yaml").write_text(CASE, "utf-8")
    assert (diagnose("case.yaml").exit_code, diagnose("case.yaml").stderr) == (0, "")
    Path("case.yaml").write_text(changed("A-E: 10.3", "A-E: open"), "utf-8")
    assert (diagnose("case.yaml").exit_code, diagnose("case.yaml").stderr) == (1, "")


def test_no_case_and_an_unknown_option():
    for arguments in ((), ("--frmat", "json", "x")):
        result = diagnose(*arguments)
        assert (result.exit_code, result.stdout) == (2, "")
        assert "Usage:" in result.stderr


def test_a_ring_test_expected_of_a_radial_circuit():
    Path("case.yaml").write_text(CASE, "utf-8")
    result = CliRunner().invoke(faultfinder, ["expect", "case.yaml", "--test", "ring-ends"])
    assert (result.exit_code, result.stdout) == (2, "")
    assert (
        "--test: test ring-ends is for rings, and the circuit is drawn radial\n"
        "  expected  kind: ring in the circuit, or another test\n"
    ) in result.stderr
    unasked = CliRunner().invoke(faultfinder, ["expect", "case.yaml"])
    assert unasked.exit_code == 0
    assert "ring-ends" not in unasked.stdout
