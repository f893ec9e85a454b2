"""Sign files: patterns of graded readings and the fault they point to, written in YAML.

A file holds the signs of one fault mode. A sign may be written once for several cases: ``each``
lists words to put in place of ``{name}`` wherever they stand in it.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator
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


Words = Annotated[tuple[str, ...], BeforeValidator(_listed), Field(min_length=1)]
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
    fact: FactKind
    where: dict[str, Words] = {}
    unless: dict[str, Words] = {}
    same: dict[str, Reference] = {}
    absent: YesNo = False


class Target(Schema):
    """The fault a sign points to: ``at`` the outlet itself, the run that feeds it, or the board."""

    mode: str
    conductors: tuple[str, ...] = ()
    at: Literal["outlet", "run-to", "board"]
    of: str


class SignRule(Schema):
    """One sign, or several alike."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9-]+$")]
    each: tuple[dict[EachName, EachWord], ...] = ()
    when: Annotated[tuple[PatternRule, ...], Field(min_length=1)]
    points_to: Target
    says: Sentence

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

    def written_out(self) -> Iterator["Pointer"]:
        """Yield the sign, once for each set of words, with its words in place."""
        for words in self.each or ({},):
            yield _pointer(self, words)


class SignFile(Rule):
    """The signs of one fault mode, as ``rules/signs/<id>.yaml`` lists them."""

    kind: Literal["signs"]
    signs: Annotated[tuple[SignRule, ...], Field(min_length=1)]

    def written_out(self) -> Iterator["Pointer"]:
        """Yield every sign with its words in place."""
        for rule in self.signs:
            yield from rule.written_out()


@dataclass(frozen=True, slots=True)
class Pointer:
    """A sign ready for the engine, and what it points to."""

    sign: Sign
    target: Target
    says: str

    def fault(self, circuit: Circuit, at: str) -> Fault | None:
        """Return the fault it points to when its fact is at a place; None if that has no such."""
        if self.target.at == "board":
            return Fault(self.target.mode, in_order(self.target.conductors), circuit.board)
        if circuit.point(at) is None:
            return None
        place = circuit.feeding_run(at).name if self.target.at == "run-to" else at
        return Fault(self.target.mode, in_order(self.target.conductors), place)


def _pointer(rule: SignRule, words: dict[str, str]) -> Pointer:
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
