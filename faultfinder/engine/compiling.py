"""Signs as rules of the library, and facts as its messages.

Every word becomes a whole number and every field and alias a short name, so that nothing depends
on how the library compares types, hashes names or reads JSON. A word that no sign mentions gets
a number too, for joins; a field that a fact lacks gets a number no other fact has, so that it
equals nothing. Rules hold equality and inequality with such numbers, and equality joins: no
other operator, and no comparison of quantities, which crashed the library (its issue 381).

Limits and faults of durable_rules 2.0.28 met here, read in its `rete.c` and `events.c`:

- After an `$or` it skips the rest of a pattern's joins, so the joins come first (the other way
  round, 721 of 10,000 generated sets of facts came out wrong).
- 64 tests may wait while it places a fact (`MAX_STACK_SIZE`): signs go in batches below that.
- 31 entries a pattern's join list (`MAX_SEQUENCE_EXPRESSIONS`), 16 facts a match
  (`MAX_MESSAGE_FRAMES`): larger signs are refused.
"""

import hashlib
import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from faultfinder.engine.fault import BadSigns
from faultfinder.rulebook.sign import Fact, Pattern, Sign, Word, flaws
from faultfinder.rulebook.sign import Test as Tried

Test = dict[str, object]
Message = dict[str, int | str]
Key = tuple[type, Word]
Keyed = Mapping[str, Key]
Keys = tuple[tuple[str, frozenset[Key]], ...]
MOST_TESTS = 60
MOST_JOIN_ENTRIES = 31
MOST_BOUND = 15
_KIND = "k"
# Above every word's number: 5,000 facts of 200 fields hold at most a million words.
_NOTHING = 10_000_000


@dataclass(frozen=True, slots=True)
class Batch:
    """Signs that the library tries together, with the code in which facts are told to it."""

    name: str
    signs: dict[str, Sign]
    """By the name of its rule."""
    kinds: frozenset[str]
    fields: tuple[str, ...]
    codes: dict[Key, int]
    wanted: tuple[tuple[tuple[Keys, Keys], ...], ...]
    """What each sign's patterns ask of a fact: words there must be, and must not be, by field."""

    def rules(self) -> dict[str, list[Test]]:
        """Return the patterns of each rule in the library's form."""
        return {
            rule: [self._pattern(sign, pattern) for pattern in sign.patterns]
            for rule, sign in self.signs.items()
        }

    def bound(self) -> dict[str, tuple[str, ...]]:
        """Return for each rule the aliases whose facts make up a firing."""
        return {
            rule: tuple(_alias(sign, p.alias) for p in sign.patterns if not p.absent)
            for rule, sign in self.signs.items()
        }

    def may_fire(self, facts: Sequence[Keyed]) -> bool:
        """Tell whether some sign has a fact for each pattern, looked at alone; else none fires."""
        return any(
            all(any(_fits(*pattern, fact) for fact in facts) for pattern in sign)
            for sign in self.wanted
        )

    def messages(self, facts: Sequence[Fact]) -> Iterator[Message]:
        """Tell the facts whose kind some sign wants; a message's id is the fact's place."""
        codes = dict(self.codes)
        nothing = itertools.count(_NOTHING)
        for place, fact in enumerate(facts):
            if fact["kind"] not in self.kinds:
                continue
            message: Message = {"id": str(place), _KIND: self.codes[_key(fact["kind"])]}
            for column, field in enumerate(self.fields):
                message[f"f{column}"] = (
                    codes.setdefault(_key(fact[field]), len(codes))
                    if field in fact
                    else next(nothing)
                )
            yield message

    def _pattern(self, sign: Sign, pattern: Pattern) -> Test:
        name = {field: f"f{column}" for column, field in enumerate(self.fields)}
        single: list[Test] = [{_KIND: self.codes[_key(pattern.kind)]}]
        choice: list[Test] = []
        for field, words in pattern.where:
            tests: list[Test] = [{name[field]: code} for code in self._coded(words)]
            if len(tests) == 1:
                single += tests
            else:
                choice.append({"$or": tests})
        joins: list[Test] = [
            {name[field]: {_alias(sign, other): name[other_field]}}
            for field, other, other_field in pattern.same
        ]
        barred: list[Test] = [
            {"$neq": {name[field]: code}}
            for field, words in pattern.unless
            for code in self._coded(words)
        ]
        alias = _alias(sign, pattern.alias) + ("$not" if pattern.absent else "")
        return {alias: {"$and": [*single, *joins, *choice, *barred]}}

    def _coded(self, words: tuple[Word, ...]) -> list[int]:
        return list(dict.fromkeys(self.codes[_key(word)] for word in words))


def batches(signs: Sequence[Sign]) -> tuple[Batch, ...]:
    """Divide the signs, in their order, into what the library can try together.

    Raises `BadSigns` for those that mean nothing or that the library could not hold.
    """
    problems = [*flaws(signs), *(p for sign in signs for p in _excesses(sign))]
    if problems:
        raise BadSigns(problems)
    made: list[list[Sign]] = []
    room = 0
    for sign in signs:
        if _tests(sign) > room:
            made.append([])
            room = MOST_TESTS
        made[-1].append(sign)
        room -= _tests(sign)
    return tuple(_batch(tuple(group)) for group in made)


def _batch(signs: tuple[Sign, ...]) -> Batch:
    patterns = [pattern for sign in signs for pattern in sign.patterns]
    words: list[Word] = [p.kind for p in patterns]
    words += [word for p in patterns for _, tried in (*p.where, *p.unless) for word in tried]
    fields = {field for p in patterns for field, _ in (*p.where, *p.unless)}
    fields |= {field for p in patterns for own, _, other in p.same for field in (own, other)}
    return Batch(
        # repr, unlike ==, tells 1 from True.
        name=hashlib.sha256(repr(signs).encode()).hexdigest()[:32],
        signs={f"r{place}": sign for place, sign in enumerate(signs)},
        kinds=frozenset(p.kind for p in patterns),
        fields=tuple(sorted(fields)),
        codes={key: code for code, key in enumerate(dict.fromkeys(map(_key, words)))},
        wanted=tuple(
            tuple(_wanted(pattern) for pattern in sign.patterns if not pattern.absent)
            for sign in signs
        ),
    )


def _excesses(sign: Sign) -> Iterable[str]:
    if _tests(sign) > MOST_TESTS:
        yield f'sign "{sign.id}" makes {_tests(sign)} tests; the engine takes {MOST_TESTS}'
    bound = sum(not pattern.absent for pattern in sign.patterns)
    if bound > MOST_BOUND:
        yield f'sign "{sign.id}" binds {bound} facts; the engine takes {MOST_BOUND}'
    for pattern in sign.patterns:
        entries = 2 + len(pattern.same) + 2 * sum(len(words) > 1 for _, words in pattern.where)
        if entries > MOST_JOIN_ENTRIES:
            yield f'sign "{sign.id}": pattern "{pattern.alias}" has too many conditions'


def _tests(sign: Sign) -> int:
    """Count what one fact can leave waiting: an alternative leaves its word and its meeting."""
    return sum(
        1
        + len(pattern.same)
        + sum(2 if len(words) > 1 else 1 for _, words in pattern.where)
        + sum(len(words) for _, words in pattern.unless)
        for pattern in sign.patterns
    )


def keyed(facts: Iterable[Fact]) -> list[Keyed]:
    """Return what a batch looks at to tell whether it may fire."""
    return [{field: _key(word) for field, word in fact.items()} for fact in facts]


def _fits(where: Keys, unless: Keys, fact: Keyed) -> bool:
    for field, keys in where:
        if fact.get(field) not in keys:
            return False
    return all(fact.get(field) not in keys for field, keys in unless)


def _wanted(pattern: Pattern) -> tuple[Keys, Keys]:
    def keys(tests: Iterable[Tried]) -> Keys:
        return tuple((field, frozenset(map(_key, words))) for field, words in tests)

    return keys([("kind", (pattern.kind,)), *pattern.where]), keys(pattern.unless)


def _alias(sign: Sign, alias: str) -> str:
    return f"p{[pattern.alias for pattern in sign.patterns].index(alias)}"


def _key(word: Word) -> Key:
    """Return what makes words equal: the value and, against Python's habit, its type."""
    kind = bool if isinstance(word, bool) else int if isinstance(word, int) else str
    return kind, word
