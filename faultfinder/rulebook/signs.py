"""Signs in files: patterns of graded readings and the fault they point to, written in YAML.

They stand in the file of their fault mode, or in one of ``signs/`` that is called like it. A sign
may be written once for several cases: ``each`` lists words to put in place of ``{name}`` wherever
they stand in it. Examples beside them say what readings make them fire, and what do not.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator
from pydantic_core import PydanticCustomError

from faultfinder.rulebook.folder import Rule, Sentence, refused
from faultfinder.rulebook.sign import Pattern, Sign
from faultfinder.rulebook.spoken import WORDS
from faultfinder.rulebook.vocabulary import FactKind
from faultfinder.source.decode import Schema, YesNo
from faultfinder.source.document import KeyPath
from faultfinder.source.problem import listed
from faultfinder.source.spelling import nearest
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault, in_order

_BLANK = re.compile(r"\{([a-z_]+)\}")


def _listed(value: object) -> object:
    return (value,) if isinstance(value, str) else value


Words = Annotated[
    tuple[str, ...],
    BeforeValidator(_listed),
    Field(min_length=1),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": ["string", "number"]},
                {"type": "array", "items": {"type": ["string", "number"]}, "minItems": 1},
            ]
        }
    ),
]
# A word in place of {name} may not bring a point, a brace or a space into what it is put in.
EachName = Annotated[str, Field(pattern=r"^[a-z_]+$")]
EachWord = Annotated[str, Field(pattern=r"^[A-Za-z0-9+-]+$")]
Reference = Annotated[str, Field(pattern=r"^\{?[a-z][a-z0-9-]*\}?\.[a-z]+$")]


class PatternRule(Schema):
    """One fact a sign asks for.

    ``as`` names it, ``fact`` is its kind; ``where`` lists the words each field may be, ``unless``
    those it may not be; ``same`` asks for the word another fact has: ``{at: first.at}``. With
    ``absent: yes`` there must be no such fact.
    """

    alias: Annotated[str, Field(alias="as", pattern=r"^[a-z][a-z0-9-]*$")]
    """A name for the fact, by which others refer to it."""
    fact: FactKind
    """The kind of fact."""
    where: dict[str, Words] = {}
    """By field, the words it may be."""
    unless: dict[str, Words] = {}
    """By field, the words it may not be."""
    same: dict[str, Reference] = {}
    """By field, the other fact whose word it must have: ``{at: one.at}``."""
    absent: YesNo = False
    """Whether there must be no such fact."""


class Target(Schema):
    """The fault a sign points to: at the outlet itself, in the run that feeds it, or at the board.

    Without ``mode`` it is the one that the file is called after.
    """

    mode: str = ""
    """The fault mode, if not the one the file is called after."""
    conductors: tuple[str, ...] = ()
    """The fault's conductors."""
    at: Literal["outlet", "run-to", "board"]
    """The outlet of the fact, the run that feeds it, or the board."""
    of: str
    """The fact whose place is meant, by its name."""


class SignRule(Schema):
    """One sign, or several alike."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9-]+$")]
    """Its name; with each, the first word of a row is put after it."""
    each: tuple[dict[EachName, EachWord], ...] = ()
    """Words to put in place of {name}, a row for each sign wanted."""
    when: Annotated[tuple[PatternRule, ...], Field(min_length=1)]
    """The facts that must be met."""
    points_to: Target
    """The fault it points to."""
    says: Sentence
    """Its reason in one sentence; may hold {at}, {conductors} and the names of each."""

    @model_validator(mode="after")
    def _has_its_words(self) -> "SignRule":
        said = self.model_dump(by_alias=True, include={"when", "points_to"})
        blanks = [(path, name) for path, text in _texts(said, ()) for name in _BLANK.findall(text)]
        for number, words in enumerate(self.each or ({},), start=1):
            for path, name in blanks:
                if name not in words:
                    raise _no_word(name, words, path, f" in entry {number} of each")
            known = {**words, **dict.fromkeys(("at", "conductors", *WORDS), "")}
            try:
                self.says.format_map(known)
            except KeyError as error:
                raise _no_word(str(error.args[0]), known, ("says",)) from None
            except (IndexError, ValueError, AttributeError):
                found = "a brace in this text begins no blank"
                raise refused(found, _blanks(known), ("says",)) from None
        return self

    def written_out(self, mode: str) -> Iterator["Pointer"]:
        """Yield the sign, once for each set of words, with its words in place.

        ``mode`` is the fault mode it points to unless it says another.
        """
        for words in self.each or ({},):
            yield _pointer(self, words, mode)


class ExampleRule(Schema):
    """Readings of a test on a small circuit, which signs fire on them, and which do not.

    ``wrong`` has the readings that are not as they should be, in rows as in a case; all others are
    as expected. A row without ``switch`` is of every position in which the circuit as drawn reads a
    value there. ``fires`` says what each sign points to, as a fault is said.
    """

    test: str
    """The test that was read."""
    circuit: str = "line"
    """One of the example circuits."""
    wrong: Annotated[tuple[dict[str, Words], ...], Field(min_length=1)]
    """The readings that are not as they should be, in rows as in a case: at, switch, and pairs."""
    fires: dict[str, Sentence] = {}
    """The signs that fire, and the fault each then points to."""
    silent: tuple[str, ...] = ()
    """The signs that do not fire; an id without its word stands for all of each."""

    @model_validator(mode="after")
    def _says_something(self) -> "ExampleRule":
        if not (self.fires or self.silent):
            raise refused("an example of no sign", "fires: {SIGN: FAULT}, or silent: [SIGN]")
        return self


class SignBearer(Rule):
    """A rule file that may hold signs, and examples of them."""

    signs: tuple[SignRule, ...] = ()
    """Patterns of graded readings that point to it."""
    examples: tuple[ExampleRule, ...] = ()
    """Readings that make its signs fire, or must not."""

    @cached_property
    def pointers(self) -> tuple["Pointer", ...]:
        """Every sign with its words in place."""
        return tuple(pointer for group in self.families for pointer in group)

    @cached_property
    def families(self) -> tuple[tuple["Pointer", ...], ...]:
        """The same, those of one rule together."""
        return tuple(tuple(rule.written_out(self.id)) for rule in self.signs)


class SignFile(SignBearer):
    """The signs of one fault mode, as ``rules/signs/<id>.yaml`` lists them."""

    kind: Literal["signs"]
    signs: Annotated[tuple[SignRule, ...], Field(min_length=1)]


@dataclass(frozen=True, slots=True)
class Pointer:
    """A sign ready for the engine, and what it points to."""

    sign: Sign
    target: Target
    says: str

    def faults(
        self, circuit: Circuit, at: str, *, between_circuits: bool = False
    ) -> tuple[Fault, ...]:
        """Return the faults it points to when its fact is at a place; none if that has no such.

        It is one, or one for each other circuit that may have part in it.
        """
        conductors = in_order(self.target.conductors)
        if self.target.at == "board":
            return (Fault(self.target.mode, conductors, circuit.board),)
        if circuit.point(at) is None:
            return ()
        place = circuit.feeding_run(at).name if self.target.at == "run-to" else at
        others = circuit.neighbours if between_circuits else ("",)
        return tuple(Fault(self.target.mode, conductors, place, to=to) for to in others)


def _pointer(rule: SignRule, words: dict[str, str], mode: str) -> Pointer:
    filled = _fill(rule.model_dump(exclude={"each"}), words)
    patterns = tuple(
        Pattern(
            alias=pattern["alias"],
            kind=pattern["fact"],
            where=tuple(pattern["where"].items()),
            unless=tuple(pattern["unless"].items()),
            same=tuple((field, *said.split(".")) for field, said in pattern["same"].items()),
            absent=pattern["absent"],
        )
        for pattern in filled["when"]
    )
    suffix = "".join(f"-{word.lower()}" for word in list(words.values())[:1])
    target = Target.model_validate(filled["points_to"])
    target = target if target.mode else target.model_copy(update={"mode": mode})
    return Pointer(Sign(rule.id + suffix, patterns), target, filled["says"])


def _no_word(
    name: str, words: Mapping[str, str], at: KeyPath, where: str = ""
) -> PydanticCustomError:
    near = nearest(name, words)
    found = f"no word for {{{name}}}{where if words else ''}"
    return refused(found, _blanks(words), at, f"{{{near}}}" if near else "")


def _blanks(words: Iterable[str]) -> str:
    return listed(f"{{{word}}}" for word in words)


def _texts(value: Any, path: KeyPath) -> Iterator[tuple[KeyPath, str]]:
    """Yield every text of a structure with the way to it."""
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, dict | list | tuple):
        inner = value.items() if isinstance(value, dict) else enumerate(value)
        for step, part in inner:
            yield from _texts(part, (*path, step))


def _fill(value: Any, words: dict[str, str]) -> Any:
    """Put words in place of their names, in every text of a structure."""
    if isinstance(value, str):
        return _BLANK.sub(lambda m: words.get(m[1], m[0]), value)
    if isinstance(value, dict):
        return {key: _fill(inner, words) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return tuple(_fill(inner, words) for inner in value)
    return value
