"""``faultfinder expect``: what is printed for a circuit, and how options are refused."""

import json
import re

import pytest
from click.testing import CliRunner

from faultfinder.cli.main import faultfinder
from faultfinder.source.content import content_folder

HALL = content_folder("cases") / "marram-hall"
KITCHEN = HALL / "circuits" / "kitchen.yaml"
FIELDS = ["test", "at", "switch", "between", "expected", "low", "high", "unit", "limit"]


def run(*arguments, **options):
    return CliRunner().invoke(faultfinder, ["expect", *map(str, arguments)], **options)


def told(*arguments):
    """Return the lines of JSON by test, place, switch and pair."""
    result = run("--format", "json", *arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    lines = [json.loads(line) for line in result.stdout.splitlines()]
    return {(o["test"], o["at"], o["switch"], o["between"]): o for o in lines}


def terminated(at, switch, *arguments):
    """Return the three values of one place, rounded to the ohm; open as it is."""
    found = told(KITCHEN, "--test", "terminated", *arguments)
    values = [found["terminated", at, switch, p]["expected"] for p in ("A-N", "A-E", "N-E")]
    return [v if v == "open" else round(v) for v in values]


def test_json_is_one_object_a_line_with_exactly_its_fields():
    result = run("--format", "json", KITCHEN)
    for line in result.stdout.splitlines():
        one = json.loads(line)
        assert list(one) == FIELDS
        assert one["switch"] in ("on", "off", None)
        assert one["unit"] in ("ohm", "Mohm")
        for name in ("expected", "low", "high"):
            assert one[name] == "open" or isinstance(one[name], float)
        assert one["limit"] is None or isinstance(one["limit"], float)
        assert one["expected"] != "open" or one["high"] == "open"


def test_every_test_is_told_or_those_asked_for():
    assert {key[0] for key in told(KITCHEN)} == {
        "terminated",
        "long-lead",
        "linked-out",
        "insulation",
    }
    asked = told(KITCHEN, "--test", "long-lead", "--test", "insulation")
    assert list(dict.fromkeys(key[0] for key in asked)) == ["long-lead", "insulation"]


def test_insulation_at_another_voltage_is_told_when_asked_for():
    asked = told(KITCHEN, "--test", "insulation-250", "--test", "insulation-1000")
    assert {key[0] for key in asked} == {"insulation-250", "insulation-1000"}
    limits = {(key[0], key[3]): one["limit"] for key, one in asked.items()}
    assert limits["insulation-250", "A-E"] == 1.0
    assert limits["insulation-250", "A-N"] is None
    assert limits["insulation-1000", "A-E"] is None


def test_limits_of_live_tests_are_told_with_them():
    hall = HALL / "circuits" / "marram-hall.yaml"
    found = told(hall, "--circuit", "kitchen", "--test", "loop", "--test", "voltage-drop")
    held = {key[0]: one["limit"] for key, one in found.items() if key[1] == "K1" and one["limit"]}
    assert held["loop"] == pytest.approx(1.53, abs=0.005)
    assert held["voltage-drop"] > 11.5


def test_what_electricians_know():
    assert terminated("K2", "on") == [15, 10, 5]
    assert terminated("K2", "off") == ["open", "open", 5]
    exchanged = ("--fault", "transposed A-N at K1..K2")
    assert terminated("K1", "on", *exchanged) == [15, 10, 5]
    assert terminated("K2", "on", *exchanged) == [15, 5, 10]
    assert terminated("K3", "on", *exchanged) == [15, 5, 10]


def test_terminators_can_be_chosen():
    assert terminated("K1", "on", "--terminators", "20,8") == [28, 20, 8]
    assert terminated("K1", "on", "--terminators", "0.02 kohm, 8") == [28, 20, 8]


def test_a_case_brings_its_own_terminators():
    found = told(HALL / "earth-open-in-branch.yaml", "--test", "terminated")
    assert round(found["terminated", "H1", "on", "N-E"]["expected"], 1) == 3.5


def test_several_faults_at_once():
    both = ("--fault", "open E at K3", "--fault", "transposed A-N at K1..K2")
    assert terminated("K3", "on", *both) == [15, "open", "open"]
    assert terminated("K4", "on", *both) == [15, 5, 10]


def test_ohms_are_read_with_any_unit_and_faults_as_they_are_said():
    one = terminated("K2", "on", "--fault", "high-resistance A at K2 2.5 ohm")
    assert one == terminated("K2", "on", "--fault", "HIGH-RESISTANCE a in K2 2500 mohm")
    assert one == [18, 13, 5]


@pytest.mark.parametrize("ohms", ["0", "0 ohm", "0.0 mohm"])
def test_a_dead_short_is_a_fault_too(ohms):
    short = ("--fault", f"bridged A-N at K2 {ohms}")
    found = told(KITCHEN, "--test", "terminated", "--test", "insulation", *short)
    assert found["insulation", "K2", "on", "A-N"]["expected"] == pytest.approx(0, abs=1e-6)
    assert found["terminated", "K2", "on", "A-N"]["expected"] == pytest.approx(0, abs=0.05)
    assert "K2" in run(KITCHEN, *short).stdout


@pytest.mark.parametrize("readings", ["", "readings:\n", "readings: []\n", "readings: r.csv\n"])
def test_a_case_without_readings_tells_what_to_read(tmp_path, readings):
    (tmp_path / "r.csv").write_text("", "utf-8")
    case = tmp_path / "case.yaml"
    case.write_text(f"circuit: {KITCHEN}\nterminators: {{active: 20, neutral: 8}}\n{readings}")
    found = told(case, "--test", "terminated")
    assert round(found["terminated", "K1", "on", "A-N"]["expected"]) == 28


def test_what_was_found_is_checked_too(tmp_path):
    case = tmp_path / "case.yaml"
    case.write_text(f"circuit: {KITCHEN}\nfound: [opne E at K2]\n")
    result = run(case)
    assert (result.exit_code, result.stdout) == (2, "")
    assert 'unknown fault mode "opne"' in result.stderr


@pytest.mark.parametrize("columns", [40, 80])
def test_text_fits_the_terminal(columns):
    faults = ("--fault", "bridged A-E at K2 0.1 Mohm", "--fault", "open N at K4..K5")
    for arguments in ((), faults):
        result = run(KITCHEN, *arguments, env={"COLUMNS": str(columns)})
        assert (result.exit_code, result.stderr) == (0, "")
        assert max(len(line) for line in result.stdout.split("\n")) <= columns


def test_text_says_what_it_is_of_first():
    assert run(KITCHEN).stdout.startswith("Kitchen outlets, board DB, C20: sound, as drawn\n")
    faulty = run(KITCHEN, "--fault", "open E at K3..K4").stdout
    assert faulty.startswith("Kitchen outlets, board DB, C20, with: earth open in run K3..K4\n")


def test_colour_only_adds():
    plain, dressed = run(KITCHEN).stdout, run(KITCHEN, color=True).stdout
    assert "\x1b[" in dressed
    assert re.sub(r"\x1b\[[0-9;]*m", "", dressed) == plain


@pytest.mark.parametrize(
    ("arguments", "said", "near"),
    [
        (("--fault", "opn E at K3"), 'unknown fault mode "opn"', "open"),
        (("--fault", "open E at K3..K5"), 'no point or run "K3..K5"', "K3..K4"),
        (("--fault", "open X at K3"), 'unknown conductor "X"', ""),
        (("--fault", "open A-A at K3"), '"A-A" names a conductor twice', ""),
        (("--fault", "open the earth"), '"open the earth" is not a fault', ""),
        (("--fault", "open neutral at K3"), "is not a fault", "try open N at K3"),
        (("--fault", "bridged Active-Earth in K3 1 ohm"), "is not a fault", ""),
        (("--fault", "bridged Active-Earth at K3 1 ohm"), "", "try bridged A-E at K3 1 ohm"),
        (("--fault", ""), "nothing is written here", ""),
        (("--fault", "open A-E at K3"), '"open A-E" does not fit', ""),
        (("--fault", "open E at K3 2 ohm"), '"open" has no ohms', ""),
        (
            ("--fault", "bridged A-E at K3"),
            '"bridged A-E at K3" without ohms',
            'its ohms, such as "bridged A-E at K3 2.5 ohm"',
        ),
        (("--fault", "bridged A-E at K3 2 V"), '"V" is a unit of voltage', ""),
        (("--fault", "bridged A-E at K3 open"), '"open" is not one resistance', ""),
        (("--fault", "switch-stuck-on at K5"), '"switch-stuck-on" cannot be at K5', ""),
        (
            ("--fault", "switch-stuck-on at K1..K2"),
            "cannot be at K1..K2",
            "switch or switched outlet",
        ),
        (("--test", "terminatd"), 'unknown test "terminatd"', "terminated"),
        (("--terminators", "10"), '"10" is not two resistors', "two, such as 10,5"),
        (("--terminators", "10,0"), '"10,0" is no pair of resistors', "ohms above zero"),
        (("--terminators", "10,5,3"), '"10,5,3" is not two resistors', ""),
        (("--terminators", "ten,5"), '"ten" is not a number', ""),
    ],
)
def test_a_wrong_option_is_refused_with_what_would_be_right(arguments, said, near):
    result = run(KITCHEN, *arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    words = " ".join(result.stderr.split())
    assert said in words
    assert "expected" in words
    assert near in words
    assert all(len(line) <= 80 for line in result.stderr.splitlines() if "expected" in line)


def test_the_nearest_spelling_is_offered():
    assert "try       open\n" in run(KITCHEN, "--fault", "opn E at K3").stderr
    assert "try       K3\n" in run(KITCHEN, "--fault", "open E at k3").stderr
    assert "try       terminated\n" in run(KITCHEN, "--test", "terminatd").stderr


def test_a_file_that_is_not_there():
    result = run(HALL / "circuits" / "kitchn.yaml")
    assert (result.exit_code, result.stdout) == (2, "")
    # Where a checkout lies decides where the line wraps.
    assert "there is no such file" in " ".join(result.stderr.split())


# -- installations ---------------------------------------------------------------------------------

SITE = HALL / "circuits" / "marram-hall.yaml"


def test_an_installation_has_live_tests_too():
    result = run(
        "--circuit",
        "kitchen",
        "--test",
        "loop",
        "--test",
        "residual-test",
        "--format",
        "json",
        SITE,
    )
    lines = [json.loads(line) for line in result.stdout.splitlines()]
    assert {line["unit"] for line in lines if line["test"] == "loop"} == {"ohm"}
    (first, *_) = (line for line in lines if line["test"] == "residual-test")
    assert list(first) == [*FIELDS, "devices"]
    assert first["devices"][0]["trips"] == "must"
    (way,) = first["devices"][0]["ways"]
    assert way["by"] == "the test's own load"
    assert way["ma"] == pytest.approx(30.0, rel=1e-3)


def test_what_trips_and_why_is_said_under_the_table():
    said = ("--fault", "cross-circuit N at K4 to annexe 0.4 ohm", "--test", "residual")
    words = " ".join(run("--circuit", "kitchen", *said, SITE).stdout.split())
    assert "device of kitchen trips" in words
    assert "device of annexe trips" in words
    assert "leaves by the joint of N to circuit annexe at K4" in words
    assert "Live tests: licensed work under local rules" in words
    assert "Dead tests: isolate" not in words


def test_a_circuit_that_cannot_be_named_is_not_offered_again():
    assert "try" not in run(KITCHEN, "--circuit", "kitchen").stderr.split("Error")[1]


@pytest.mark.parametrize(
    ("arguments", "said", "near"),
    [
        ((SITE,), "which circuit is meant?", "kitchen, hall, stage, annexe, lights or workshop"),
        ((SITE, "--circuit", "kichen"), 'no circuit "kichen"', "try kitchen"),
        ((KITCHEN, "--circuit", "kitchen"), 'no circuit "kitchen"', "no installation file"),
        ((KITCHEN, "--test", "loop"), "test loop is live", "an installation file"),
        (
            (SITE, "--circuit", "kitchen", "--fault", "cross-circuit N at K4 1 ohm"),
            "no other circuit",
            "to hall",
        ),
        (
            (SITE, "--circuit", "kitchen", "--fault", "cross-circuit N at K4 to anexe 1 ohm"),
            'no other circuit "anexe"',
            "try annexe",
        ),
        (
            (SITE, "--circuit", "kitchen", "--fault", "open N at K4 to annexe"),
            '"to annexe"',
            "no circuit",
        ),
        (
            (KITCHEN, "--fault", "cross-circuit N at K4 to annexe 1 ohm"),
            'no other circuit "annexe"',
            "an installation with several",
        ),
    ],
)
def test_what_an_installation_cannot_be_asked(arguments, said, near):
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    words = " ".join(result.stderr.split())
    assert said in words
    assert near in words
