"""The gate before the engine: only facts whose meaning survives the passage are let through.

The library compares across types (text with numbers, yes with 1) and refuses or misreads floats;
so the types are settled here, once, and by us.
"""

from collections.abc import Iterator, Sequence

from faultfinder.engine.fault import BadFacts
from faultfinder.rulebook.sign import Fact, is_word

MOST_FACTS = 5_000
"""The library tells facts apart by 32 bits of hash and took fact 46,010 for a known one; up to
this number our ids are proved distinct, by tests/engine/test_adapter.py."""
MOST_FIELDS = 200
"""The library holds 255 properties a fact, and some are its own."""


def admit(facts: Sequence[Fact]) -> None:
    """Let the facts pass or raise `BadFacts` with everything that is wrong with them."""
    if len(facts) > MOST_FACTS:
        raise BadFacts([f"{len(facts)} facts at once; the engine takes {MOST_FACTS}"])
    problems = [problem for place, fact in enumerate(facts) for problem in _problems(place, fact)]
    seen: set[object] = set()
    for fact in facts:
        id_ = fact.get("id")
        if isinstance(id_, str) and id_ in seen:
            problems.append(f'fact "{id_}" is given twice')
        seen.add(id_ if isinstance(id_, str) else None)
    if problems:
        raise BadFacts(problems)


def _problems(place: int, fact: Fact) -> Iterator[str]:
    for own in ("id", "kind"):
        value: object = fact.get(own)
        if not isinstance(value, str) or not value:
            yield f"fact {place + 1} has {value!r} as its {own}; expected a word"
    if len(fact) > MOST_FIELDS:
        yield f"fact {place + 1} has {len(fact)} fields; the engine takes {MOST_FIELDS}"
    for field, value in fact.items():
        if not is_word(value):
            yield (
                f'fact {place + 1} has {value!r} as its "{field}"; '
                "expected a word, a whole number or yes/no"
            )
