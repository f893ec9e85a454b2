"""Which facts made which sign fire, in order: for authors of signs."""

from collections.abc import Sequence
from typing import Any

from faultfinder.diagnosis.pointing import Fired
from faultfinder.reporting.layout import WIDTH, Style, paragraph, plain
from faultfinder.rulebook.sign import Fact, Pattern
from faultfinder.source.problem import listed


def trace_text(met: Sequence[Fired], width: int = WIDTH, style: Style = plain) -> str:
    """Return the signs that were met, each with its facts by the names its file gives them."""
    lines = ["", style("TRACE", "heading")]
    if not met:
        lines += paragraph("No sign was met.", width, "  ")
    for number, one in enumerate(met, start=1):
        sign, to = one.pointer.sign, listed(map(str, one.faults), "and") or "no place here"
        lines += paragraph(f"{sign.id} points to {to}", width, f"  {number}. ")
        facts = dict(one.met)
        for pattern in sign.patterns:
            said = f"no {_asked(pattern)}" if pattern.absent else _fact(facts[pattern.alias])
            lines += paragraph(said, width, f"     {pattern.alias}: ", " " * 11)
    return "\n".join(lines)


def trace_json(met: Sequence[Fired]) -> list[dict[str, Any]]:
    """Return the same as objects, in the same order."""
    return [
        {
            "sign": one.pointer.sign.id,
            "points_to": [
                {"mode": f.mode, "conductors": list(f.conductors), "at": f.at, "to": f.to or None}
                for f in one.faults
            ],
            "facts": {alias: dict(fact) for alias, fact in one.met},
            "absent": [
                {"as": pattern.alias, "fact": _asked(pattern)}
                for pattern in one.pointer.sign.patterns
                if pattern.absent
            ],
        }
        for one in met
    ]


def _fact(fact: Fact) -> str:
    """Write a fact as a sign would ask for it."""
    words = ", ".join(f"{key} {word}" for key, word in fact.items() if key not in {"kind", "id"})
    return f"{fact['kind']} {fact['id']}: {words}"


def _asked(pattern: Pattern) -> str:
    """Write what a pattern asks for."""
    asked = [f"{field} {listed(map(str, words))}" for field, words in pattern.where]
    asked += [f"{field} not {listed(map(str, words))}" for field, words in pattern.unless]
    asked += [f"{field} that of {other}'s {theirs}" for field, other, theirs in pattern.same]
    return f"{pattern.kind}: {', '.join(asked)}"
