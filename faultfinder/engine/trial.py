"""Signs tried in a process of their own, before the process of the user trusts them.

The library is C, and a rule that it cannot stand may end the process without a word. Signs that
somebody has just written are therefore run here first. `python -m faultfinder.engine.trial` is
the other side: it reads signs and facts as JSON, runs them, and ends with 0 or with a message.
"""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from faultfinder.engine.compiling import batches
from faultfinder.engine.engine import Engine
from faultfinder.engine.fault import EngineFault
from faultfinder.engine.gate import MOST_FACTS, admit
from faultfinder.rulebook.sign import Fact, Pattern, Sign, Word

# A child that ends of itself says so; the status is none that Python or a signal gives.
_REFUSED = 70
CHILD = (sys.executable, "-m", "faultfinder.engine.trial")


def try_signs(signs: Sequence[Sign], facts: Sequence[Fact], timeout_s: float) -> None:
    """Run the signs on the facts in a child process, and return if it lived.

    Raises `BadSigns` or `BadFacts` without starting one, and `EngineFault` if the child crashed,
    took longer than `timeout_s`, or met a fault.
    """
    batches(signs)
    admit(facts)
    # The child looks for modules where this process does.
    paths = os.pathsep.join(path or str(Path.cwd()) for path in sys.path)
    names = ", ".join(sign.id for sign in signs)
    try:
        done = subprocess.run(  # noqa: S603 - our own module, no shell
            CHILD,
            input=as_json(signs, facts),
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=timeout_s,
            check=False,
            env={**os.environ, "PYTHONPATH": paths, "PYTHONUTF8": "1"},
        )
    except subprocess.TimeoutExpired as error:
        raise EngineFault(
            f"the rule engine did not finish within {timeout_s:g} s on {names}"
        ) from error
    if done.returncode == _REFUSED:
        raise EngineFault(done.stderr.strip())
    if done.returncode:
        ending = (
            signal.strsignal(-done.returncode)
            if done.returncode < 0
            else done.stderr.strip()[-200:]
        )
        raise EngineFault(
            f"the rule engine crashed on {names}: {ending or f'status {done.returncode}'}"
        )


def facts_that_meet(signs: Sequence[Sign]) -> list[Fact]:
    """Return facts among which every pattern of the signs is met by one, absent ones too.

    What a pattern asks of another fact is copied from that one, as far as it says anything.
    """
    facts: list[Fact] = []
    for sign in signs:
        met: dict[str, dict[str, Word]] = {}
        for pattern in sign.patterns:
            words: dict[str, Word] = {field: tried[0] for field, tried in pattern.where}
            for field, other, theirs in pattern.same:
                words[field] = met.get(other, {}).setdefault(theirs, "S1")
            met[pattern.alias] = {"id": f"t{len(facts) + len(met)}", "kind": pattern.kind, **words}
        facts += met.values()
    return facts[:MOST_FACTS]


def as_json(signs: Sequence[Sign], facts: Sequence[Fact]) -> str:
    """Write what the child is told; JSON keeps words, whole numbers and yes/no apart."""
    return json.dumps(
        {"signs": [asdict(sign) for sign in signs], "facts": [dict(fact) for fact in facts]}
    )


def from_json(told: str) -> tuple[list[Sign], list[Fact]]:
    """Read what `as_json` wrote."""
    document = json.loads(told)
    return [
        Sign(sign["id"], tuple(_pattern(pattern) for pattern in sign["patterns"]))
        for sign in document["signs"]
    ], document["facts"]


def _pattern(told: dict[str, Any]) -> Pattern:
    return Pattern(
        alias=told["alias"],
        kind=told["kind"],
        where=tuple((field, tuple(words)) for field, words in told["where"]),
        unless=tuple((field, tuple(words)) for field, words in told["unless"]),
        same=tuple((field, other, other_field) for field, other, other_field in told["same"]),
        absent=told["absent"],
    )


def _child() -> int:
    signs, facts = from_json(sys.stdin.read())
    try:
        Engine(signs).run(facts)
    except EngineFault as fault:
        sys.stderr.write(str(fault))
        return _REFUSED
    return 0


if __name__ == "__main__":
    raise SystemExit(_child())
