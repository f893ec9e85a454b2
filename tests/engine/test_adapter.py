"""How the library is used: each trap of durable_rules 2.0.28 that was met, sprung once."""

import shlex
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from faultfinder.engine import Engine, EngineFault, EngineUnavailable, Firing, adapter, gate
from faultfinder.rulebook.sign import Pattern, Sign

READING = Sign("reading", (Pattern("r", "reading"),))
HIGH = Sign("high", (Pattern("r", "reading", where=(("grade", ("high",)),)),))
STATM = Path("/proc/self/statm")


def _rule_set(name):
    """A rule set of our own with one rule, `any`, that every fact of kind 1 meets."""
    return adapter.rule_set(name, {"any": [{"p0": {"k": 1}}]}, {"any": ("p0",)})


@pytest.mark.parametrize("error", [ValueError("spilt"), KeyboardInterrupt()])
def test_what_an_action_raises_is_raised_again(error):
    def spill(match):
        raise error

    expected = EngineFault if isinstance(error, Exception) else KeyboardInterrupt
    rules = _rule_set("raising")
    with pytest.raises(expected) as caught:
        rules.run([{"id": "0", "k": 1}], spill)
    assert caught.value is error or caught.value.__cause__ is error
    found = []
    rules.run([{"id": "7", "k": 1}], found.append)
    assert found == [("any", (7,))]  # and the next run knows nothing of it


def test_an_exception_that_the_library_swallowed_is_raised_from_its_state(monkeypatch):
    def careless(self, rule, aliases):
        def tell(context):
            raise ValueError("swallowed")

        return tell

    monkeypatch.setattr(adapter.RuleSet, "_match", careless)
    rules = _rule_set("swallowing")
    with pytest.raises(EngineFault, match=r"kept an exception.*swallowed"):
        rules.run([{"id": "0", "k": 1}], print)


def test_an_action_that_the_library_would_wait_for_is_a_fault(monkeypatch):
    """A default argument makes it take the action for one that will call back, and wait."""

    def defaulted(self, rule, aliases):
        def tell(context, rule=rule):
            return None

        return tell

    monkeypatch.setattr(adapter.RuleSet, "_match", defaulted)
    rules = _rule_set("waiting")
    rules.run([], print)
    with pytest.raises(EngineFault, match="stopped before"):
        rules.run([{"id": "0", "k": 1}], print)


def test_our_own_actions_take_the_context_and_nothing_else():
    code = _rule_set("closures")._match("any", ("p0",)).__code__
    assert code.co_varnames[: code.co_argcount] == ("context",)


def test_a_fact_no_rule_wants_is_passed_over():
    engine = Engine([HIGH])
    assert engine.run([{"id": "1", "kind": "reading", "grade": "low"}]) == ()
    assert engine.run([{"id": "1", "kind": "unheard-of"}]) == ()


def test_a_repeated_fact_that_gets_past_the_gate_is_a_fault():
    with pytest.raises(EngineFault, match="already been observed"):
        _rule_set("repeating").run([{"id": "0", "k": 1}, {"id": "0", "k": 1}], print)


def test_a_failed_run_leaves_no_state():
    rules = _rule_set("failing")
    for _ in range(3):
        with pytest.raises(EngineFault):
            rules.run([{"id": "0", "k": 1}, {"id": "0", "k": 1}], print)
        with pytest.raises(Exception, match="309"):  # ERR_SID_NOT_FOUND in the library's rules.h
            adapter._host().get_state("failing", adapter.STATE)


def test_a_run_does_not_see_the_facts_of_the_one_before():
    engine = Engine([READING])
    first = [{"id": "1", "kind": "reading"}, {"id": "2", "kind": "reading"}]
    assert len(engine.run(first)) == 2
    assert engine.run([{"id": "3", "kind": "reading"}]) == (Firing("reading", (("r", "3"),)),)
    assert engine.run([]) == ()


def test_rules_that_the_library_refuses_are_a_fault():
    with pytest.raises(EngineFault, match="refused its rules"):
        adapter.rule_set("refused", {"any": [{"p0": {"$like": {"k": 1}}}]}, {"any": ("p0",)})


def test_hosts_and_threads_do_not_grow():
    before = threading.active_count()
    engine = Engine([READING, HIGH])
    for number in range(200):
        engine.run([{"id": str(number), "kind": "reading", "grade": "high"}])
    assert threading.active_count() == before
    assert len(adapter._hosts) == 1
    registered = len(adapter._registered)
    again = Engine([READING, HIGH])
    assert again._ready[0][1] is engine._ready[0][1]
    assert len(adapter._registered) == registered


def test_threads_may_share_an_engine():
    engine = Engine([HIGH])
    facts = [{"id": f"{n}", "kind": "reading", "grade": "high"} for n in range(20)]
    results = []
    threads = [
        threading.Thread(target=lambda: results.extend(engine.run(facts) for _ in range(20)))
        for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(results) == 80
    assert {len(found) for found in results} == {20}


def _fnv_1a(text):
    """The library's hash (its state.c): names and ids that share it are one to it."""
    value = 2166136261
    for byte in text.encode():
        value = (value ^ byte) * 16777619 % 2**32
    return value


def test_no_two_ids_and_no_two_fields_share_the_librarys_hash():
    ids = [str(place) for place in range(gate.MOST_FACTS)]
    ids += ["begin", "go", f"sid-{adapter.STATE}", "$pulse"]
    fields = [f"f{column}" for column in range(gate.MOST_FIELDS)]
    fields += ["id", "sid", "k", "step", "exception", "$s", "$forward", "$time"]
    for names in (ids, fields):
        assert len({_fnv_1a(name) for name in names}) == len(names)


def test_without_the_library_one_sentence_says_how_to_get_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "durable", None)
    monkeypatch.setattr(adapter, "_hosts", [])
    monkeypatch.setattr(adapter, "_registered", {})
    with pytest.raises(EngineUnavailable) as caught:
        Engine([HIGH])
    message = str(caught.value)
    assert "durable-rules 2.0.28 cannot be loaded" in message
    pip = f"{shlex.quote(sys.executable)} -m pip install"
    assert f"CPPFLAGS=-DPyEval_CallObject=PyObject_CallObject {pip}" in message
    assert "--no-cache-dir --no-binary durable-rules durable-rules==2.0.28" in message
    assert "\n" not in message


def test_importing_the_engine_loads_no_library_and_makes_no_host():
    script = (
        "import faultfinder.engine.adapter as a, sys, threading;"
        "assert 'durable' not in sys.modules and not a._hosts;"
        "assert threading.active_count() == 1"
    )
    subprocess.run([sys.executable, "-c", script], check=True)  # noqa: S603


MEMORY = """
from pathlib import Path
from faultfinder.engine import Engine
from faultfinder.rulebook.sign import Pattern, Sign
at = (("at", "a", "at"),)
signs = [
    Sign(f"s{n}", (
        Pattern("a", "reading", where=(("grade", ("high", "open")), ("pair", (n % 3,)))),
        Pattern("b", "reading", where=(("grade", ("ok",)), ("pair", (n % 3,))), same=at),
        Pattern("c", "reading", where=(("grade", ("short",)), ("pair", (n,))), same=at,
                absent=True),
    ))
    for n in range(60)
]
facts = [
    {"id": f"f{n}", "kind": "reading", "grade": ("high", "ok", "open", "low")[n % 4],
     "pair": n % 3, "at": f"P{n // 6}"}
    for n in range(60)
]
engine = Engine(signs)
def resident_mb():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 1e6
assert len(engine.run(facts)) > 50
before = resident_mb()
for _ in range(100):
    engine.run(facts)
print(resident_mb() - before)
"""


@pytest.mark.skipif(not STATM.exists(), reason="memory is read from /proc")
def test_a_hundred_runs_keep_the_memory_flat():
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-c", MEMORY], check=True, capture_output=True, text=True
    )
    assert float(done.stdout) <= 7
