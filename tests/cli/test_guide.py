"""``faultfinder guide``: scripted by standard input, kept on disk after each answer."""

import re
import sys

import pytest
from click.testing import CliRunner

from faultfinder.cli.guide import _Dialogue
from faultfinder.cli.main import faultfinder
from faultfinder.guiding.session import Session
from faultfinder.readings.file import load_case
from faultfinder.rulebook.rulebook import shipped_rulebook

RULEBOOK = shipped_rulebook()
CASE = """\
# my own note: the key hangs behind the door
title: Three in a row
circuit:
  board: DB
  device: {curve: C, rating: 20}
  cable: {active: 2.5, earth: 2.5, material: copper}
  points:
    S1: {kind: outlet, switched: true}
    S2: {kind: outlet}
    S3: {kind: outlet, switched: true}
  runs:
    - {from: DB, to: S1, length: 14}
    - {from: S1, to: S2, length: 6}
    - {from: S2, to: S3, length: 9}
terminators: {active: 10, neutral: 5}
readings:
  - {test: terminated, at: S1, switch: on, A-N: 15.3, A-E: 10.2, N-E: 5.2}
  - {test: terminated, at: S3, switch: on, A-N: 15.4, A-E: open, N-E: open}
"""


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "row.yaml"
    path.write_text(CASE, encoding="utf-8")
    return path


def guide(path, *typed, options=(), columns=80):
    runner = CliRunner(env={"COLUMNS": str(columns)})
    text = "".join(f"{line}\n" for line in typed)
    return runner.invoke(faultfinder, ["guide", str(path), *map(str, options)], input=text)


def kept(path):
    return load_case(path, RULEBOOK.procedures, RULEBOOK.modes, RULEBOOK.set_ups)


def test_a_fault_misspelt_where_one_is_to_be_chosen_leaves_the_choice(path):
    more = (
        "  - {test: terminated, at: S2, A-N: 15.3, A-E: 10.3, N-E: 5.3}\n"
        "  - {test: terminated, at: S3, switch: off, A-N: open, A-E: open, N-E: open}\n"
    )
    path.write_text(CASE + more, encoding="utf-8")
    result = guide(path, "seen", "opne E at S3", "2")
    assert result.exit_code == 1
    assert 'unknown fault "opne"; expected open' in result.output
    assert "FOUND: earth open in outlet S3." in result.output


def test_a_session_ends_with_the_repair_and_what_to_test_again(path):
    result = guide(path, "15.2 open open", "seen", "1")
    assert result.exit_code == 1
    out = " ".join(result.output.split())
    assert "1. Read A-N, A-E and N-E at S2, by the test terminated" in out
    assert "A-E at S2: open, not 10.3 ohm." in out
    assert "Out: S2..S3" in out
    assert "FOUND: earth open in run S1..S2." in out
    assert "REPAIR" in out
    assert "1. long-lead at S2 and S3" in out
    assert "at least 1.00 Mohm" in out
    assert "prove it dead" in out
    saved = kept(path.with_name("row-guided.yaml"))
    assert [str(fault) for fault in saved.found.faults] == ["open E at S1..S2"]
    assert len(saved.readings) == 9


@pytest.mark.parametrize("columns", [40, 80])
def test_it_fits_the_screen(path, columns):
    result = guide(path, "15.2 open open", "why", "help", "seen", "1", columns=columns)
    assert max(map(len, result.output.split("\n"))) <= max(columns, 32 + len(str(path)))


def test_the_users_own_file_is_left_alone(path):
    guide(path, "15.2 open open", "quit")
    assert path.read_text(encoding="utf-8") == CASE


def test_it_goes_on_from_what_was_kept(path):
    save = path.with_name("kept.yaml")
    first = guide(path, "15.2 open open", options=["--save", save])
    assert f"To go on: faultfinder guide {save}" in first.output
    again = guide(save, "seen", "1")
    assert "FOUND" in again.output
    # Into the same file, since guide wrote it.
    assert kept(save).found is not None
    assert not save.with_name("kept-guided.yaml").exists()
    done = guide(save)
    assert "FOUND" in done.output


def test_a_session_is_not_begun_over_answers_nor_over_what_a_person_wrote(path):
    guide(path, "15.2 open open", "quit")
    saved = path.with_name("row-guided.yaml")
    answers = saved.read_text(encoding="utf-8")
    again = guide(path, "1 2 3", "quit")
    assert again.exit_code == 2
    assert f"faultfinder guide {saved}" in " ".join(again.output.split())
    assert saved.read_text(encoding="utf-8") == answers
    over = guide(path, "15.2 open open", "quit", options=["--save", path])
    assert over.exit_code == 2
    assert "not written by guide" in over.output
    assert path.read_text(encoding="utf-8") == CASE
    named = guide(path, "can't", "quit", options=["--save", saved])
    assert named.exit_code == 1
    assert kept(saved).cannot == (("terminated", "S2"),)


def test_nothing_is_written_before_an_answer(path):
    result = guide(path, "why", "help", "quit")
    assert "nothing was answered yet" in result.output
    assert [p.name for p in path.parent.iterdir()] == ["row.yaml"]


def test_undo_skip_and_cannot(path):
    saved = path.with_name("row-guided.yaml")
    guide(path, "15.2 open open", "nothing", "undo", "quit")
    assert kept(saved).looked == ()
    assert len(kept(saved).readings) == 9
    saved.unlink()
    result = guide(path, "undo", "skip", "quit")
    assert "Nothing to take back." in result.output
    assert kept(saved).readings == kept(path).readings
    saved.unlink()
    guide(path, "can't", "quit")
    assert kept(saved).cannot == (("terminated", "S2"),)


def test_a_look_and_a_repair_that_found_nothing_are_kept(path):
    guide(path, "15.2 open open", "nothing", "nothing", "still", "quit")
    saved = kept(path.with_name("row-guided.yaml"))
    assert saved.looked[:1] == ("S2",)
    assert len(saved.looked) + len(saved.exchanged) == 3


def test_a_fault_found_instead_is_taken(path):
    result = guide(path, "transposed A-E at S2")
    assert "FOUND: active and earth exchanged in outlet S2." in " ".join(result.output.split())
    assert result.exit_code == 1


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("twelve", '"twelve"'),
        ("1 2", "2 values; expected one value, or 3: A-N, A-E, N-E"),
        ("opne E at S2", 'unknown fault "opne"; expected open'),
        ("open E at S9", "no point or run"),
        ("switch-bypassed at S2", '"switch-bypassed" cannot be at S2'),
    ],
)
def test_what_means_nothing_is_asked_again(path, typed, said):
    result = guide(path, typed, "quit")
    assert said in " ".join(result.output.split())
    assert not path.with_name("row-guided.yaml").exists()


def test_a_look_wants_one_of_its_words(path):
    result = guide(path, "15.2 10.3 5.3", "0.4", "seen", "9", "quit")
    out = " ".join(result.output.split())
    assert '"0.4"; expected nothing or seen' in out
    assert "a number from 1 to" in out


def test_a_circuit_yet_to_be_read_is_read_through(tmp_path):
    path = tmp_path / "new.yaml"
    path.write_text(CASE.split("readings:", maxsplit=1)[0] + "readings: []\n", encoding="utf-8")
    on = {"S1": "15.21 10.21 5.21", "S2": "15.30 10.30 5.30", "S3": "15.43 10.43 5.43"}
    typed = []
    for number in range(5):
        keep = tmp_path / f"{number}.yaml"
        out = guide(path, *typed, "quit", options=["--save", keep]).output
        row = re.findall(
            r"Read A-N, A-E and N-E at (S\d)(?:, switch (on|off))?", out.replace("\n", " ")
        )
        place, switch = row[-1]
        values = on[place]
        typed.append(values if switch != "off" else f"open open {values.split()[-1]}")
    result = guide(path, *typed)
    assert "SOUND" in result.output
    assert result.exit_code == 0


def test_a_set_up_in_order_is_not_asked_again(path):
    path.write_text(CASE.replace("15.3, A-E: 10.2, N-E: 5.2", "15.3, A-E: open, N-E: open"))
    result = guide(path, "0.4", "ok", "quit")
    out = " ".join(result.output.split())
    assert '"0.4"; expected ok or so' in out
    assert kept(path.with_name("row-guided.yaml")).in_order[0] == ("link-out", "DB")
    found = guide(path, "so", options=["--save", path.with_name("anew.yaml")])
    assert "FOUND: the neutral-earth link out" in " ".join(found.output.split())
    end = found.output.partition("FOUND")[2]
    assert "\nCORRECT THE TEST and read again\n  Join the common to the bar" in end
    assert "\nREAD AGAIN\n  1. terminated" in end
    assert "REPAIR" not in end


def test_what_was_found_before_is_not_where_a_session_begins(path):
    """A worked case says what is wrong with it; guided, it is found anew."""
    path.write_text(CASE + 'found: ["open E at S2..S3"]\n', encoding="utf-8")
    result = guide(path, "15.2 10.3 5.3", "quit")
    assert "1. Read A-N, A-E and N-E at S2" in " ".join(result.output.split())


def test_the_plan_is_printed_and_drawn(path):
    drawing = path.with_name("plan.svg")
    result = guide(path, options=["--plan", "--svg", drawing])
    assert result.output.startswith("PLAN: Three in a row")
    assert drawing.read_text(encoding="utf-8").startswith("<svg ")
    assert result.exit_code == 1


def test_what_cannot_be_done_is_told(path, tmp_path):
    assert guide(tmp_path / "none.yaml").exit_code == 2
    alone = guide(path, options=["--svg", tmp_path / "a.svg"])
    assert (alone.exit_code, "--plan" in alone.output) == (2, True)
    nowhere = guide(path, "15.2 open open", options=["--save", tmp_path / "no" / "x.yaml"])
    assert nowhere.exit_code == 2
    assert "cannot be written" in nowhere.output


def test_an_interrupt_keeps_what_was_answered(path, monkeypatch):
    class Typed:
        def readline(self):
            raise KeyboardInterrupt

        def isatty(self):
            return True

    monkeypatch.setattr(sys, "stdin", Typed())
    session = Session(load_case(path, RULEBOOK.procedures), RULEBOOK)
    assert _Dialogue(session, path.with_name("x.yaml")).run() == 1


def test_an_outcome_that_leaves_the_circuit_sound_says_so_in_words(path):
    one = CASE.replace("A-N: 15.4, A-E: open, N-E: open", "A-N: open").split("readings:")
    rows = [line for line in one[1].splitlines() if "S3" in line]
    path.write_text(one[0] + "readings:\n" + "\n".join(rows) + "\n", encoding="utf-8")
    said = " ".join(guide(path, "skip").output.split())
    assert "; or sound" in said
    assert "no place" not in said


def test_a_plan_says_chances_as_people_do_and_what_wrong_is(path):
    one = CASE.replace("A-N: 15.4, A-E: open, N-E: open", "A-N: open").split("readings:")
    rows = [line for line in one[1].splitlines() if "S3" in line]
    path.write_text(one[0] + "readings:\n" + "\n".join(rows) + "\n", encoding="utf-8")
    said = " ".join(guide(path, options=["--plan"]).output.split())
    assert "(very unlikely)" in said
    assert "in 10 of all)" in said
    assert "it is wrong, as suspected" in said


def test_a_fault_said_that_the_readings_rule_out_is_not_taken_for_all(path):
    said = " ".join(guide(path, "open N at S2..S3").output.split())
    assert "FOUND: neutral open in run S2..S3." in said
    assert "NOT ALL EXPLAINED" in said
    assert "A-E at S3, switch on reads open, with it 10.4 ohm" in said
    fitting = guide(path, "open E at S2..S3", options=("--save", path.with_name("b.yaml")))
    assert "NOT ALL" not in fitting.output
