"""Rules held against each other: what one file names, another must have.

What a file says of itself alone is checked by its model when it is decoded.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from faultfinder.rulebook.inspection import Separation
from faultfinder.rulebook.modes import FaultMode
from faultfinder.rulebook.procedures import Procedure
from faultfinder.rulebook.setups import SetUp
from faultfinder.rulebook.sign import Pattern, Sign, flaws
from faultfinder.rulebook.signs import ExampleRule, Pointer, SignBearer
from faultfinder.rulebook.vocabulary import FIELDS, NOTHING
from faultfinder.source.document import KeyPath, load_yaml
from faultfinder.source.problem import BadInput, Problem, listed, shown
from faultfinder.source.shelf import Shelf
from faultfinder.source.spelling import nearest
from faultfinder.wiring.circuit import CONDUCTORS
from faultfinder.wiring.fault import in_order


@dataclass(frozen=True, slots=True)
class Clash:
    """A place in the file of a rule, by the rule's name, and what is wrong there.

    With ``on_key`` it is the last key on the way there that is wrong, not its value.
    """

    file: str
    at: KeyPath
    id: str
    found: str
    expected: str = ""
    nearest: str = ""
    on_key: bool = False


def clashes(
    modes: Mapping[str, FaultMode],
    procedures: Mapping[str, Procedure],
    bearers: Mapping[str, SignBearer],
    set_ups: Mapping[str, SetUp],
    separation: Separation,
) -> Iterator[Clash]:
    """Yield everything a rule names that no rule has, and every sign that means nothing."""
    for place, test in enumerate(separation.tests):
        yield from _unknown(separation.id, ("tests", place), "test", test, sorted(procedures))
    for set_up in set_ups.values():
        file = f"set-ups/{set_up.id}"
        for place, test in enumerate(set_up.tests):
            yield from _unknown(file, ("tests", place), "test", test, sorted(procedures))
    for mode in modes.values():
        file = f"faults/{mode.id}"
        for place, test in enumerate(mode.retest):
            yield from _unknown(file, ("retest", place), "test", test, sorted(procedures))
        for place, other in enumerate(mode.reads_like):
            others = sorted(set(modes) - {mode.id})
            yield from _unknown(file, ("reads_like", place), "mode", other, others)
    taken: set[str] = set()
    for file, bearer in bearers.items():
        for number, example in enumerate(bearer.examples):
            yield from _example(file, ("examples", number), example, bearer, procedures)
        for number, (rule, group) in enumerate(zip(bearer.signs, bearer.families, strict=True)):
            at = ("signs", number)
            for pointer in group:
                sign = pointer.sign
                # By the name in the file, so that what is said of each set of words is said once.
                for flaw in flaws([replace(sign, id=rule.id)]):
                    yield Clash(file, (*at, "id"), "rule-makes-no-sense", flaw)
                if sign.id in taken:
                    found = f"another sign is called {shown(sign.id)} too"
                    yield Clash(file, (*at, "id"), "duplicate-name", found)
                taken.add(sign.id)
                yield from _words(file, at, sign, procedures)
                yield from _target(file, (*at, "points_to"), pointer, modes)


def _example(
    file: str,
    at: KeyPath,
    example: ExampleRule,
    bearer: SignBearer,
    procedures: Mapping[str, Procedure],
) -> Iterator[Clash]:
    """Check that an example is of a test there is, and of signs in its own file."""
    yield from _unknown(file, (*at, "test"), "test", example.test, sorted(procedures))
    signs = [pointer.sign.id for pointer in bearer.pointers]
    for sign in example.fires:
        if sign not in signs:
            found, near = f"no sign {shown(sign)} in this file", nearest(sign, signs)
            at_sign = (*at, "fires", sign)
            yield Clash(file, at_sign, "unknown-sign", found, listed(signs), near, on_key=True)
    families = [rule.id for rule in bearer.signs]
    known = list(dict.fromkeys((*signs, *families)))
    for place, sign in enumerate(example.silent):
        yield from _unknown(file, (*at, "silent", place), "sign", sign, known)


def _unknown(file: str, at: KeyPath, what: str, word: str, known: Iterable[str]) -> Iterator[Clash]:
    names = tuple(known)
    if word not in names:
        found = f"unknown {what} {shown(word)}"
        yield Clash(file, at, f"unknown-{what}", found, listed(names), nearest(word, names))


def _words(
    file: str, at: KeyPath, sign: Sign, procedures: Mapping[str, Procedure]
) -> Iterator[Clash]:
    """Check that facts can have the fields and words a sign asks for, and tests read its pairs."""
    kinds = {pattern.alias: pattern.kind for pattern in sign.patterns}
    for number, pattern in enumerate(sign.patterns):
        path = (*at, "when", number)
        known = _known_words(pattern, procedures)
        for key, tests in (("where", pattern.where), ("unless", pattern.unless)):
            for field, words in tests:
                yield from _field(file, (*path, key, field), field, pattern.kind, on_key=True)
                for place, word in enumerate(words if field in known else ()):
                    what, choices = known[field]
                    yield from _unknown(file, (*path, key, field, place), what, str(word), choices)
        for field, alias, other in pattern.same:
            yield from _field(file, (*path, "same", field), field, pattern.kind, on_key=True)
            if alias in kinds:  # else it is told with the flaws
                yield from _field(file, (*path, "same", field), other, kinds[alias], on_key=False)


def _field(file: str, at: KeyPath, field: str, kind: str, *, on_key: bool) -> Iterator[Clash]:
    fields = FIELDS[kind]
    if field not in fields:
        found = f"a {kind} has no field {shown(field)}"
        near = nearest(field, fields)
        yield Clash(file, at, "unknown-field", found, listed(fields), near, on_key)


def _known_words(
    pattern: Pattern, procedures: Mapping[str, Procedure]
) -> dict[str, tuple[str, tuple[str, ...]]]:
    """Return for each field of a pattern's fact what it holds, and the words it may hold.

    A field that holds the names of a circuit is left out, and so are the pairs of unknown tests.
    """
    tests = [str(word) for word in dict(pattern.where).get("test", ())]
    known = {field: (field, words) for field, words in FIELDS[pattern.kind].items() if words}
    known["test"] = "test", tuple(sorted(procedures))
    if set(tests) <= set(procedures):
        read = {pair for test in tests or procedures for pair in procedures[test].pairs}
        known["between"] = "pair", tuple(sorted(read))
        known["like"] = "pair", (*sorted(read), NOTHING)
    return known


def _target(
    file: str, at: KeyPath, pointer: Pointer, modes: Mapping[str, FaultMode]
) -> Iterator[Clash]:
    target = pointer.target
    yield from _unknown(file, (*at, "mode"), "mode", target.mode, sorted(modes))
    bound = [pattern.alias for pattern in pointer.sign.patterns if not pattern.absent]
    yield from _unknown(file, (*at, "of"), "pattern", target.of, bound)
    strange = [word for word in target.conductors if word not in CONDUCTORS]
    for word in strange:
        yield from _unknown(file, (*at, "conductors"), "conductor", word, CONDUCTORS)
    mode = modes.get(target.mode)
    if mode is not None and not strange and not _can_have(mode, target.conductors):
        named = listed(target.conductors, "and") or "none"
        yield Clash(
            file,
            (*at, "conductors"),
            "rule-makes-no-sense",
            f"mode {mode.id} cannot have the conductors {named}",
            listed("-".join(choice) or "no conductors" for choice in mode.choices()),
        )


def _can_have(mode: FaultMode, conductors: tuple[str, ...]) -> bool:
    distinct = len(set(conductors)) == len(conductors)
    return distinct and in_order(conductors) in mode.choices()


def refuse_clashes(shelf: Shelf, found: Iterable[Clash]) -> None:
    """Raise ``BadInput`` for the clashes, if there are any, at their places in the files."""
    problems: dict[Problem, None] = {}
    sources = {}
    for clash in found:
        document = load_yaml(shelf.path(clash.file))
        sources[document.path] = document.text
        where = document.key_position(clash.at) if clash.on_key else document.position(clash.at)
        problems[Problem(where, clash.id, clash.found, clash.expected, clash.nearest)] = None
    if problems:
        raise BadInput(problems, sources)
