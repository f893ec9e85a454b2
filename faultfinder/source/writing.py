"""YAML as people write it: one line a row, numbers in full, quotes only where they are needed."""

import json
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal

# Reads as itself wherever it stands, in a block or between braces.
_PLAIN = re.compile(r"[^\W_]([\w .'/+-]*[\w'/+-])?")
_LONG = 25  # characters
_NOTHING = frozenset({"null", "~"})  # reads as nothing at all, see composing.py


def text(value: str) -> str:
    """Return a text as a value or key, in double quotes if it would not read as itself."""
    if _PLAIN.fullmatch(value) and value.casefold() not in _NOTHING:
        return value
    quoted = json.dumps(value, ensure_ascii=False)
    # YAML ends a line at more signs than JSON does.
    return "".join(c if c.isprintable() else f"\\U{ord(c):08X}" for c in quoted)


def number(value: float) -> str:
    """Return the shortest text that reads as this number; an exponent only where it is long."""
    written = format(Decimal(repr(float(value))), "f")
    return written.removesuffix(".0") if len(written) < _LONG else repr(float(value))


def mapping(entries: Mapping[str, str]) -> str:
    """Return keys and written values between braces: ``{from: DB, to: S1, length: 14}``."""
    return "{" + ", ".join(f"{text(key)}: {value}" for key, value in entries.items()) + "}"


def sequence(values: Sequence[str]) -> str:
    """Return written values between brackets: ``[A, S, E]``."""
    return "[" + ", ".join(values) + "]"
