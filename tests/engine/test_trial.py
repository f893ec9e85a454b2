"""Signs of users are tried in a process that may crash or hang without harm to this one."""

import sys
import time

import pytest

from faultfinder.engine import BadFacts, BadSigns, Engine, EngineFault, trial
from faultfinder.rulebook.sign import Pattern, Sign

SIGN = Sign(
    "open-earth",
    (
        Pattern("r", "reading", where=(("grade", ("open", 1, True)),)),
        Pattern("n", "switch", unless=(("state", ("off",)),), same=(("at", "r", "at"),)),
        Pattern("o", "reading", absent=True),
    ),
)
FACTS = [
    {"id": "é", "kind": "reading", "grade": True, "at": "P1"},
    {"id": "2", "kind": "switch", "at": "P1"},
]
CRASH = "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)"
HANG = "import time; time.sleep(60)"
FAIL = "import sys; sys.exit('no memory left')"


def test_sound_signs_pass():
    trial.try_signs([SIGN], FACTS, timeout_s=30)


def test_what_is_told_to_the_child_arrives_whole():
    told = trial.as_json([SIGN], FACTS)
    assert repr(trial.from_json(told)) == repr(([SIGN], FACTS))


@pytest.mark.skipif(sys.platform == "win32", reason="signals end a process on POSIX only")
def test_a_crash_is_a_fault_here_and_a_crash_there_only(monkeypatch):
    monkeypatch.setattr(trial, "CHILD", (sys.executable, "-c", CRASH))
    with pytest.raises(EngineFault, match="crashed on open-earth: Segmentation fault"):
        trial.try_signs([SIGN], FACTS, timeout_s=30)


def test_a_child_that_hangs_is_ended(monkeypatch):
    monkeypatch.setattr(trial, "CHILD", (sys.executable, "-c", HANG))
    begun = time.monotonic()
    with pytest.raises(EngineFault, match=r"did not finish within 0\.3 s on open-earth"):
        trial.try_signs([SIGN], FACTS, timeout_s=0.3)
    assert time.monotonic() - begun < 20


def test_a_child_that_fails_says_why(monkeypatch):
    monkeypatch.setattr(trial, "CHILD", (sys.executable, "-c", FAIL))
    with pytest.raises(EngineFault, match="crashed on open-earth: no memory left"):
        trial.try_signs([SIGN], FACTS, timeout_s=30)


def test_a_fault_of_the_child_is_told_as_its_own(monkeypatch):
    """Here: a child that cannot load the library."""
    blocked = "import sys; sys.modules['durable'] = None; import runpy; runpy.run_module"
    script = f"{blocked}('faultfinder.engine.trial', run_name='__main__')"
    monkeypatch.setattr(trial, "CHILD", (sys.executable, "-c", script))
    with pytest.raises(EngineFault, match=r"^durable-rules 2\.0\.28 cannot be loaded"):
        trial.try_signs([SIGN], FACTS, timeout_s=30)


def test_what_the_gate_refuses_starts_no_child(monkeypatch):
    monkeypatch.setattr(trial, "CHILD", (sys.executable, "-c", HANG))
    with pytest.raises(BadSigns):
        trial.try_signs([Sign("empty", ())], FACTS, timeout_s=30)
    with pytest.raises(BadFacts):
        trial.try_signs([SIGN], [{"id": "1", "kind": 0.5}], timeout_s=30)


def test_facts_that_meet_every_pattern_of_a_sign():
    sign = Sign(
        "one",
        (
            Pattern("a", "reading", where=(("grade", ("open", "high")),)),
            Pattern("b", "reading", same=(("at", "a", "at"),)),
        ),
    )
    facts = trial.facts_that_meet([sign])
    assert [firing.sign for firing in Engine([sign]).run(facts)] == ["one"]
    trial.try_signs([sign], facts, timeout_s=60)
