"""What all commands share: help, exit codes, and the program's own failure."""

import os
import shutil
import subprocess
import sys

import pytest

from faultfinder import __version__
from faultfinder.cli.exits import ExitCode
from faultfinder.cli.main import main
from faultfinder.engine.fault import BadSigns, EngineUnavailable
from faultfinder.source.content import content_folder
from faultfinder.source.shelf import shipped_shelf

DEMO = str(content_folder("cases") / "demo.yaml")


def code_of(*arguments):
    with pytest.raises(SystemExit) as leaving:
        main(arguments)
    return leaving.value.code


@pytest.fixture
def failing(monkeypatch):
    """Make diagnosing raise."""

    def fail_with(error):
        def fail(*_):
            raise error

        monkeypatch.delenv("FAULTFINDER_TRACE", raising=False)
        monkeypatch.setattr("faultfinder.diagnosis.diagnose.diagnose", fail)

    return fail_with


def test_the_exit_codes_are_those_that_scripts_rely_on():
    assert [(code.name, int(code)) for code in ExitCode] == [
        ("FINE", 0),
        ("FOUND", 1),
        ("BAD_INPUT", 2),
        ("FAILED", 3),
    ]


@pytest.mark.parametrize("arguments", [("--help",), ("-h",), ("diagnose", "-h"), ("expect", "-h")])
def test_help_is_80_columns_and_no_failure(arguments, capsys):
    assert code_of(*arguments) == 0
    told = capsys.readouterr()
    assert "Example:" in told.out
    assert max(len(line) for line in told.out.split("\n")) <= 80
    assert told.err == ""


def test_the_version(capsys):
    assert code_of("--version") == 0
    assert capsys.readouterr().out == f"faultfinder, version {__version__}\n"


@pytest.mark.parametrize(
    "arguments", [("diagnoze", DEMO), ("diagnose",), ("diagnose", "--nonsense", DEMO), ("expect",)]
)
def test_wrong_usage_is_2(arguments, capsys):
    assert code_of(*arguments) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "Usage:" in told.err


def test_what_a_command_returns_is_the_exit_code(capsys):
    assert code_of("diagnose", DEMO) == 1
    assert not code_of("expect", DEMO, "--test", "long-lead")  # None or 0: both are success
    assert capsys.readouterr().err == ""


def test_a_failure_of_its_own_is_3_and_one_sentence(failing, capsys):
    failing(RuntimeError("the dog ate it"))
    assert code_of("diagnose", DEMO) == 3
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == (
        f"faultfinder itself failed on {DEMO}: the dog ate it\n"
        "Set FAULTFINDER_TRACE=1 and run again to see where, and report it with the case file.\n"
    )


def test_a_failure_without_words_is_named(failing, capsys):
    failing(ZeroDivisionError())
    assert code_of("diagnose", DEMO) == 3
    assert f"itself failed on {DEMO}: ZeroDivisionError\n" in capsys.readouterr().err


def test_a_failure_can_be_traced(failing, monkeypatch):
    failing(RuntimeError("the dog ate it"))
    monkeypatch.setenv("FAULTFINDER_TRACE", "1")
    with pytest.raises(RuntimeError, match="the dog ate it"):
        main(["diagnose", DEMO])


def test_without_the_rule_engine_it_says_how_to_get_it(failing, capsys):
    failing(EngineUnavailable("durable-rules 2.0.28 cannot be loaded; build it so: …"))
    for arguments in ((DEMO,), (DEMO, DEMO), ("--format", "json", DEMO)):
        assert code_of("diagnose", *arguments) == 3
        told = capsys.readouterr()
        assert told.out == ""
        assert told.err == "durable-rules 2.0.28 cannot be loaded; build it so: …\n"


def test_signs_the_engine_cannot_hold_are_a_mistake_of_their_author(failing, capsys):
    failing(BadSigns(['sign "long" makes 70 tests; the engine takes 60']))
    assert code_of("diagnose", DEMO) == 2
    told = capsys.readouterr()
    assert (told.out, told.err) == ("", 'sign "long" makes 70 tests; the engine takes 60\n')


@pytest.fixture
def own_rules(tmp_path, monkeypatch):
    """Return a copy of the rules that the commands read instead."""
    folder = tmp_path / "rules"
    shutil.copytree(content_folder("rules"), folder)
    monkeypatch.setattr("faultfinder.source.shelf.content_folder", lambda _: folder)
    shipped_shelf.cache_clear()
    yield folder
    shipped_shelf.cache_clear()


@pytest.mark.parametrize("command", ["diagnose", "expect"])
@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("signs/open.yaml", "grade: open", "grade: opne", 'unknown grade "opne" [unknown-grade]'),
        ("faults/open.yaml", "do: break", "do: brake", 'unknown do "brake" [unknown-value]'),
        ("limits/internal-loop.yaml", "format: 1", "formt: 1", 'unknown key "formt"'),
    ],
)
def test_a_mistake_in_a_rule_is_bad_input_and_told_alone(
    own_rules, command, file, old, new, said, capsys
):
    path = own_rules / file
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    assert code_of(command, DEMO) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert said in told.err
    assert "itself failed" not in told.err
    assert all(line.startswith((str(path), "  ")) for line in told.err.splitlines())


def test_an_interrupt_is_no_success(failing, capsys):
    failing(KeyboardInterrupt())
    assert code_of("diagnose", DEMO) != 0
    assert "Traceback" not in capsys.readouterr().err


def test_help_does_not_wait_for_numpy_or_networkx():
    look = (
        "import sys, faultfinder.cli.main; "
        "print(sorted({'numpy', 'networkx', 'pydantic', 'durable'} & set(sys.modules)))"
    )
    done = subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "-c", look],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert done.stdout == "[]\n"


def test_python_dash_m_is_the_same_command():
    done = subprocess.run(
        [sys.executable, "-m", "faultfinder", "--version"],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert done.stdout == f"faultfinder, version {__version__}\n"
