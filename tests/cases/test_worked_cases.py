"""Every worked case comes out as it was found, by the command that people run."""

import json
import re

import pytest
from click.testing import CliRunner

from faultfinder.cli.main import faultfinder
from faultfinder.readings.file import load_case
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.source.content import content_folder
from faultfinder.source.document import load_yaml

CASES = content_folder("cases")
FILES = sorted(path for path in CASES.rglob("*.yaml") if path.parent.name != "circuits")

# Where the readings of a case cannot tell the fault from others: the most suspects that may share
# the leading group, and why. Everywhere else it is one.
MOST_LEADING = {
    # A bridge in the first or the last half metre of the cables at K3 moves readings by 0.01 ohm.
    "screw-through-core": 3,
    # A single-pole switch that is bypassed and one that is welded are the same closed path.
    "switch-bypassed": 2,
    # Milliohms of cable do not show beside megohms: five outlets and six runs read alike.
    # Or an arrester was left connected.
    "damp-porch-by-insulation": 12,
    # Five runs between the two outlets that were read, and the inside of the second.
    "partly-read": 6,
    # Which of four other neutrals it is does not show: all of them are on one bar.
    "neutral-borrowed": 4,
    # One conductor of two ends: at either switch, in the cable between them, or landed on the
    # terminal of the common at either.
    "lights-from-one-end-only": 5,
    # Active and neutral crossed in the first run read the same.
    "terminators-exchanged": 2,
    # Bridged or linked, in the outlet or a hand's breadth before it: to 0.1 ohm they are one.
    "link-left-in-a-socket": 3,
    # Or the active open before the first outlet.
    "nothing-anywhere": 2,
    # Or forty ohm in the earth before the first outlet.
    "link-left-out": 2,
}


def named(path):
    return path.relative_to(CASES).with_suffix("").as_posix()


@pytest.fixture(scope="module", params=FILES, ids=named)
def path(request):
    return request.param


@pytest.fixture(scope="module")
def case(path):
    rulebook = shipped_rulebook()
    return load_case(path, rulebook.procedures, rulebook.modes, rulebook.set_ups)


@pytest.fixture(scope="module")
def outcome(path):
    return CliRunner().invoke(faultfinder, ["diagnose", "--format", "json", str(path)])


@pytest.fixture(scope="module")
def diagnosis(outcome):
    return json.loads(outcome.stdout)


def leading(diagnosis):
    """Return the suspects of the leading group, each as a set of (mode, conductors, place)."""
    return [
        {
            (fault.get("set_up") or fault["mode"], tuple(fault["conductors"]), fault["at"])
            for fault in suspect["faults"]
        }
        for suspect in diagnosis["suspects"]
        if suspect["group"] == 1
    ]


def was_found(case):
    return {(fault.set_up or fault.mode, fault.conductors, fault.at) for fault in case.found.faults}


def test_the_verdict_and_the_exit_code_agree_with_what_was_found(case, outcome, diagnosis):
    expected = ("fault", 1) if case.found.faults else ("sound", 0)
    assert (diagnosis["verdict"], outcome.exit_code) == expected, outcome.stdout


def test_what_was_found_is_in_the_leading_group(case, diagnosis):
    assert was_found(case) in leading(diagnosis)


def test_the_leading_group_is_no_larger_than_the_readings_make_it(case, path, diagnosis):
    if case.found.faults:
        assert len(leading(diagnosis)) <= MOST_LEADING.get(path.stem, 1)
    else:
        # A bridge of many kilohms is always in a sound circuit's group, and always far behind.
        assert leading(diagnosis)[0] == set()
        assert diagnosis["suspects"][0]["probability"] > 0.95


def test_it_can_be_read_without_the_program(path):
    tree = load_yaml(path).tree
    assert tree["title"].strip()
    assert len(tree["notes"].split()) >= 15
    assert "found" in tree


def test_the_exceptions_belong_to_cases_that_exist():
    assert MOST_LEADING.keys() <= {path.stem for path in FILES}


def test_every_mode_of_fault_has_a_case():
    rulebook = shipped_rulebook()
    found = [
        load_case(path, rulebook.procedures, rulebook.modes, rulebook.set_ups).found
        for path in FILES
    ]
    modes = {f.mode for each in found if each for f in each.faults if not f.set_up}
    assert modes == set(rulebook.modes)
    assert any(each is not None and not each.faults for each in found)


def test_the_table_lists_exactly_the_cases():
    table = re.findall(
        r"^\| \[(.+?)\]\((.+?)\) \|", (CASES / "README.md").read_text("utf-8"), re.MULTILINE
    )
    assert sorted(link for _, link in table) == [
        path.relative_to(CASES).as_posix() for path in sorted(FILES, key=named)
    ]
    assert [label for label, _ in table] == [link.split("/")[-1][:-5] for _, link in table]


def test_the_plan_draws_every_point_in_80_columns():
    plan = (CASES / "marram-hall" / "plan.md").read_text("utf-8")
    drawing = "".join(plan.split("```")[1::2])
    assert max(map(len, drawing.splitlines())) <= 80
    for circuit in sorted((CASES / "marram-hall" / "circuits").glob("*.yaml")):
        tree = load_yaml(circuit).tree
        if "installation" in tree:
            continue
        assert set(tree["points"]) <= set(re.findall(r"\w+", drawing)), circuit.name
        lengths = [run["length"].removesuffix(" m") for run in tree["runs"]]
        drawn = re.findall(r"-(\d+(?:\.\d+)?)-", drawing)
        assert all(drawn.count(length) >= lengths.count(length) for length in lengths), circuit.name
