"""A sign as data: the patterns of facts that, met together, point to a fault.

A fact is a mapping of field to word with two fields of its own: `kind` and a unique `id`. Facts
hold words, whole numbers and yes/no; never measured values, which become grades before.

What a match is:

- `where`: the fact has the field, and it is one of the words. `unless`: the field is none of the
  words, which a fact without the field satisfies. `same`: both facts have the field, with the
  same word in it.
- Words of different types differ: `1`, `"1"` and `True` are three words.
- The patterns of one sign are met by different facts; an absent pattern says that no fact beyond
  those bound meets it.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

Word = str | int | bool
Fact = Mapping[str, Word]
Test = tuple[str, tuple[Word, ...]]
"""A field and the words that it is tried against."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """What one fact must look like; with `absent`, what no other fact may look like."""

    alias: str
    kind: str
    where: tuple[Test, ...] = ()
    unless: tuple[Test, ...] = ()
    same: tuple[tuple[str, str, str], ...] = ()
    """Field of this fact, alias of an earlier pattern, field of that one's fact."""
    absent: bool = False


@dataclass(frozen=True, slots=True)
class Sign:
    """Patterns that a set of facts meets together; it holds once for each way of meeting them."""

    id: str
    patterns: tuple[Pattern, ...]


def is_word(value: object) -> bool:
    """Tell whether a fact may hold this value."""
    return isinstance(value, str | int)


def flaws(signs: Sequence[Sign]) -> tuple[str, ...]:
    """Say, a sentence each, why these signs mean nothing; empty if they are sound."""
    found = [f'more than one sign is called "{id_}"' for id_ in _repeated([s.id for s in signs])]
    for sign in signs:
        found += [f'sign "{sign.id}": {flaw}' for flaw in _flaws_of(sign)]
    return tuple(found)


def _flaws_of(sign: Sign) -> list[str]:
    found = [
        f'two patterns are called "{alias}"'
        for alias in _repeated([pattern.alias for pattern in sign.patterns])
    ]
    if not sign.patterns:
        found.append("it has no pattern")
    earlier: set[str] = set()
    for pattern in sign.patterns:
        for field, words in (*pattern.where, *pattern.unless):
            if not words:
                found.append(f'pattern "{pattern.alias}" lists no word for "{field}"')
            found += [
                f'pattern "{pattern.alias}" compares "{field}" with {word!r}, which is not a word'
                for word in words
                if not is_word(word)
            ]
        found += [
            f'pattern "{pattern.alias}" refers to "{other}", which no earlier pattern binds'
            for _, other, _ in pattern.same
            if other not in earlier
        ]
        if not pattern.absent:
            earlier.add(pattern.alias)
    return found


def _repeated(names: list[str]) -> list[str]:
    return [name for name, times in Counter(names).items() if times > 1]
