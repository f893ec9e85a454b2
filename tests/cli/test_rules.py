"""``faultfinder rules``, ``--rules`` and the config file: whose rules count, and what is said."""

import json
from pathlib import Path

import pytest
from authoring.small import small_rules
from click.testing import CliRunner

from faultfinder.authoring.kinds import KINDS
from faultfinder.authoring.schemas import files
from faultfinder.cli.main import faultfinder
from faultfinder.source.content import content_folder
from faultfinder.source.shelf import shipped_shelf

DEMO = str((content_folder("cases") / "demo.yaml").resolve())


def run(*arguments):
    return CliRunner().invoke(faultfinder, list(map(str, arguments)))


def suspects(done):
    answer = json.loads(done.stdout)
    return {(f["mode"], tuple(f["conductors"])) for s in answer["suspects"] for f in s["faults"]}


@pytest.fixture
def here(tmp_path, monkeypatch):
    """An empty working folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def small(tmp_path, monkeypatch):
    """A small set of rules in the place of the shipped ones."""
    folder = small_rules(tmp_path / "shipped")
    monkeypatch.setattr("faultfinder.source.shelf.content_folder", lambda _: folder)
    monkeypatch.setattr("faultfinder.rulebook.own.content_folder", lambda _: folder)
    shipped_shelf.cache_clear()
    yield folder
    shipped_shelf.cache_clear()


def own_rule(folder, name, text):
    path = folder / f"{name}.yaml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    return path


def shipped(name):
    return shipped_shelf().path(name).read_text("utf-8")


def test_the_check_of_sound_rules(small, here):
    done = run("rules", "check")
    assert done.exit_code == 0
    assert done.stdout == f"{len(shipped_shelf().files)} rules, nothing wrong found.\n"
    done = run("rules", "check", "--format", "json", "--signs")
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    assert told["findings"] == []
    assert told["signs"]["open-in-run-e"]["right"] > 0
    assert told["signs"]["open-in-run-e"]["mode"] == "open"


def test_findings_as_a_table_and_as_json(small, here):
    path = small / "limits" / "voltage-drop.yaml"
    path.write_text(path.read_text("utf-8").replace(" clause 525", ""), "utf-8")
    shipped_shelf.cache_clear()
    done = run("rules", "check", "--format", "json")
    assert done.exit_code == 1
    (finding,) = json.loads(done.stdout)["findings"]
    line = 1 + path.read_text("utf-8").split("\n").index("source: IEC 60364-5-52")
    assert finding == {
        "file": str(path),
        "line": line,
        "rule": "limits/voltage-drop",
        "problem": "the source names no clause, table, section or page",
    }
    done = run("rules", "check", "--signs")
    assert done.exit_code == 1
    assert done.stdout.startswith("SIGN ")
    assert f"   {line}  the source names no clause" in done.stdout
    lines = [one for one in done.stdout.splitlines() if "/" not in one]
    assert max(map(len, lines)) <= 80


def test_a_rule_that_cannot_be_read_is_a_finding_and_stops_a_diagnosis(here):
    own_rule(here / "mine", "faults/sag", "format: 1\nkind: fault-mode\nid: sag\n")
    done = run("rules", "check", "--rules", "mine", "--format", "json")
    assert done.exit_code == 1
    told = json.loads(done.stdout)["findings"]
    assert {(one["file"], one["rule"]) for one in told} == {("mine/faults/sag.yaml", "faults/sag")}
    assert 'the key "remedy" is missing' in {one["problem"] for one in told}
    done = run("diagnose", DEMO, "--rules", "mine")
    assert done.exit_code == 2
    assert done.stdout == ""
    assert done.stderr.startswith("mine/faults/sag.yaml:1:1: error: the key ")


def test_a_rule_of_ones_own_adds_to_the_programs(here):
    own_rule(here / "mine", "faults/loose", shipped("faults/open").replace("id: open", "id: loose"))
    plain, own = (run("diagnose", DEMO, "--format", "json", *a) for a in ((), ("--rules", "mine")))
    assert suspects(own) > suspects(plain)
    assert ("loose", ("E",)) in suspects(own)


def test_a_rule_of_the_same_id_stands_in_for_the_programs(here):
    text = shipped("faults/open").replace("remedy: ", "remedy: Ask Ann. ")
    own_rule(here / "mine", "faults/open", text)
    done = run("diagnose", DEMO, "--format", "json", "--rules", "mine")
    leader = json.loads(done.stdout)["suspects"][0]
    assert leader["remedy"].startswith("Ask Ann.")
    shown = run("rules", "show", "faults/open", "--rules", "mine").stdout
    assert "mine/faults/open.yaml, instead of" in " ".join(shown.split())
    assert "Ask Ann." in shown
    assert "[mine/faults/open.yaml," in run("rules", "list", "--rules", "mine").stdout


def test_of_two_folders_the_last_is_on_top(here):
    for folder in ("one", "two"):
        text = shipped("faults/open").replace("title: ", f"title: From {folder}, ")
        own_rule(here / folder, "faults/open", text)
    assert "From two" in run("rules", "list", "--rules", "one", "--rules", "two").stdout
    assert "From one" in run("rules", "list", "--rules", "two", "--rules", "one").stdout


def test_the_config_file_of_the_working_folder_adds_and_switches_off(here):
    own_rule(here / "mine", "faults/loose", shipped("faults/open").replace("id: open", "id: loose"))
    Path("faultfinder.yaml").write_text("rules: [mine]\noff: [faults/bridged]\n", "utf-8")
    done = run("diagnose", DEMO, "--format", "json")
    assert ("loose", ("E",)) in suspects(done)
    done = run("expect", DEMO, "--fault", "bridged A-E at K2 1 ohm")
    assert done.exit_code == 2
    assert 'unknown fault mode "bridged"' in done.stderr
    assert "switched off by faultfinder.yaml:2:7" in " ".join(run("rules", "list").stdout.split())


def test_the_users_own_config_file_counts_where_there_is_no_other(here, monkeypatch):
    folder = here / "settings"
    folder.mkdir()
    monkeypatch.setattr("faultfinder.cli.own_rules.click.get_app_dir", lambda _: str(folder))
    (folder / "faultfinder.yaml").write_text("off: [signs/open/open-in-run]\n", "utf-8")
    answer = json.loads(run("diagnose", DEMO, "--format", "json", "--trace").stdout)
    assert answer["trace"] == []
    assert "without open-in-run" in " ".join(run("rules", "list").stdout.split())
    Path("faultfinder.yaml").write_text("rules: []\n", "utf-8")
    answer = json.loads(run("diagnose", DEMO, "--format", "json", "--trace").stdout)
    assert [one["sign"] for one in answer["trace"]] == ["open-in-run-e"]


def test_a_test_switched_off_is_not_asked_for(here):
    Path("faultfinder.yaml").write_text("off: [tests/long-lead]\n", "utf-8")
    answer = json.loads(run("diagnose", DEMO, "--format", "json").stdout)
    assert answer["suspects"][0]["retest"] == ["terminated", "insulation"]
    assert "long-lead" not in {check["test"] for check in answer["next_checks"]}


def test_a_region_of_ones_own(here):
    text = (
        shipped("regions/uk").replace("id: uk", "id: isle").replace("active: line", "active: phase")
    )
    own_rule(here / "mine", "regions/isle", text)
    drawn = Path("drawn.yaml")
    drawn.write_text(CIRCUIT, "utf-8")
    done = run("expect", drawn, "--rules", "mine", "--test", "terminated")
    assert done.exit_code == 0, done.output
    done = run("expect", drawn, "--test", "terminated")
    assert done.exit_code == 2
    assert 'unknown region "isle"' in done.output


CIRCUIT = """\
board: DB
region: isle
device: {curve: C, rating: 20}
cable: {active: 2.5, earth: 2.5}
points: {S1: {kind: outlet}}
runs: [{from: DB, to: S1, length: 9}]
"""


@pytest.mark.parametrize(
    ("config", "said"),
    [
        ("off: [faults/opne]", 'faultfinder.yaml:1:7: error: no rule "faults/opne" to switch off'),
        ("off: [signs/open/open-in-rum]", 'no sign "signs/open/open-in-rum" to switch off'),
        ("rules: [mine]", 'faultfinder.yaml:1:9: error: "mine": no such folder'),
        ("rule: [mine]", 'unknown key "rule"'),
    ],
)
def test_a_mistake_in_the_config_file(here, config, said):
    Path("faultfinder.yaml").write_text(config + "\n", "utf-8")
    done = run("diagnose", DEMO)
    assert done.exit_code == 2
    assert said in done.stderr


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("fault/loose", "no kind of rule is kept in fault/"),
        ("loose", "no kind of rule is kept in loose.yaml"),
    ],
)
def test_a_file_that_would_be_read_by_nobody(here, name, said):
    own_rule(here / "mine", name, "format: 1\n")
    done = run("rules", "check", "--rules", "mine")
    assert done.exit_code == 2
    assert said in done.stderr


def test_a_name_that_ends_in_yml(here):
    own_rule(here / "mine", "faults/loose", "format: 1\n").rename(here / "mine/faults/loose.yml")
    done = run("rules", "list", "--rules", "mine")
    assert done.exit_code == 2
    assert "try       loose.yaml" in done.stderr


def test_a_folder_that_is_not_there(here):
    done = run("diagnose", DEMO, "--rules", "nowhere")
    assert done.exit_code == 2
    assert done.stderr == 'nowhere: error: there is no folder "nowhere" [missing-file]\n'


def test_rules_as_json_say_where_they_are_from(here):
    own_rule(here / "mine", "faults/loose", shipped("faults/open").replace("id: open", "id: loose"))
    done = run("rules", "list", "--rules", "mine", "--format", "json")
    by_name = {row["name"]: row for row in map(json.loads, done.stdout.splitlines())}
    assert by_name["faults/loose"]["is_shipped"] is False
    assert by_name["faults/open"]["is_shipped"] is True
    assert "open-in-run" in by_name["signs/open"]["signs"]
    assert set(by_name) == {*shipped_shelf().files, "faults/loose"}


def test_a_sign_is_shown_by_its_id(here):
    done = run("rules", "show", "open-in-run")
    assert done.exit_code == 0
    assert done.stdout.startswith("signs/open\n")
    assert "- id: open-in-run\n" in done.stdout


def test_an_id_that_several_kinds_have_is_shown_of_all(here):
    shown = run("rules", "show", "open").stdout
    assert shown.startswith("faults/open\n")
    assert "\nsigns/open\n" in shown


def test_a_rule_that_is_not_there(here):
    done = run("rules", "show", "opne")
    assert done.exit_code == 2
    assert 'no rule "opne"' in done.stderr
    assert "try       open" in done.stderr


def test_what_is_begun_passes_the_check_at_once(small, here):
    for kind in ("fault", "sign", "test", "limit", "lesson"):
        done = run("rules", "new", kind, f"my-{kind}")
        assert done.exit_code == 0
        assert "my-rules" in done.stdout
    done = run("rules", "check", "--rules", "my-rules")
    assert (done.exit_code, done.stderr) == (0, ""), done.stdout
    names = sorted(path.stem for path in Path("my-rules").rglob("*.yaml"))
    assert names == ["my-fault", "my-lesson", "my-limit", "my-sign", "my-test"]


def test_nothing_is_written_over(here):
    path = own_rule(here / "my-rules", "faults/loose", "mine")
    done = run("rules", "new", "fault", "loose")
    assert done.exit_code == 2
    assert "this file is there already" in done.stderr
    assert path.read_text("utf-8") == "mine"


def test_an_id_that_cannot_be_one(here):
    done = run("rules", "new", "fault", "Loose_Screw")
    assert done.exit_code == 2
    assert "try       loose-screw" in done.stderr
    assert not Path("my-rules").exists()


def test_a_folder_that_cannot_be_written(here):
    (here / "my-rules").write_text("a file", "utf-8")
    assert run("rules", "new", "fault", "loose").exit_code == 2
    assert run("rules", "schema", "--out", "my-rules").exit_code == 2


def test_schemas_are_printed_or_written(here):
    printed = json.loads(run("rules", "schema").stdout)
    assert set(printed) == {kind.id for kind in KINDS}
    assert run("rules", "schema", "--out", "schemas").exit_code == 0
    assert {p.name: p.read_text("utf-8") for p in Path("schemas").iterdir()} == dict(files())


def test_the_trace_shows_facts_in_words_and_in_order(here):
    text = run("diagnose", DEMO, "--trace").stdout
    trace = " ".join(text.split("TRACE\n")[1].split())
    assert trace.startswith("1. open-in-run-e points to open E at K3..K4 one: reading r")
    assert trace.index("one: reading") < trace.index("two: reading") < trace.index("three: reading")
    assert "grade open" in trace
    assert max(map(len, text.splitlines())) <= 80


def test_a_trace_of_nothing(here):
    sound = content_folder("cases") / "marram-hall" / "sound-kitchen.yaml"
    assert run("diagnose", sound, "--trace").stdout.endswith("TRACE\n  No sign was met.\n")


def test_a_trace_names_what_was_absent(here):
    case = content_folder("cases") / "marram-hall" / "screw-through-core.yaml"
    done = run("diagnose", case, "--trace")
    assert "none-right: no reading: test terminated" in " ".join(done.stdout.split())
    answer = json.loads(run("diagnose", case, "--trace", "--format", "json").stdout)
    absent = [one["absent"] for one in answer["trace"] if one["absent"]]
    assert absent[0][0]["as"] == "none-right"
