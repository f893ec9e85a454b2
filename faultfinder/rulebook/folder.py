"""Read rule files: one rule a file, the file named after the rule's id."""

from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Literal, TypeVar

from pydantic import Field, ValidationError
from pydantic_core import PydanticCustomError

from faultfinder.source.decode import Schema, decode
from faultfinder.source.document import KeyPath, Node, load_yaml
from faultfinder.source.problem import BadInput, Problem
from faultfinder.source.shelf import RuleFile

ID_PATTERN = r"^[a-z0-9]+(-[a-z0-9]+)*$"
WordId = Annotated[str, Field(pattern=ID_PATTERN)]
Sentence = Annotated[str, Field(min_length=3)]


def refused(found: str, expected: str, at: KeyPath = (), near: str = "") -> PydanticCustomError:
    """Return the error for a validator to raise: ``at`` leads to the culprit from its value."""
    parts = {"found": found, "expected": expected, "nearest": near, "at": at}
    return PydanticCustomError("rule-makes-no-sense", "{found}", parts)


class Basis(Schema):
    """One thing a rule claims, and where that is from."""

    claim: Sentence
    """What is claimed."""
    source: Sentence
    """Where that is from; ``common practice, no source`` is an answer."""


class Rule(Schema):
    """What every rule file begins with."""

    format: Literal["1"]
    """The version of the file format."""
    kind: str
    """What kind of rule it is."""
    id: WordId
    """Small letters, digits and single hyphens; the file's name."""
    title: Sentence
    """One line for people."""
    basis: tuple[Basis, ...] = ()
    """What the rule claims, and where that is from."""


R = TypeVar("R", bound=Rule)


def load_rule(path: Path, model: type[R], tree: "Node | None" = None) -> R:
    """Return the rule of one file, from its tree where that was kept and is sound.

    Raises
    ------
    BadInput
        With its problems, or if its id is not its file's name.
    """
    if tree is not None:
        with suppress(ValidationError):
            kept = model.model_validate(tree)
            if kept.id == path.stem:
                return kept
    document = load_yaml(path)
    rule = decode(document, model)
    if rule.id != path.stem:
        where = document.position(("id",))
        problem = Problem(where, "id-not-file-name", f'id "{rule.id}"', f'"{path.stem}"', path.stem)
        raise BadInput([problem], {document.path: document.text})
    return rule


def load_rules(
    files: Iterable[RuleFile], model: type[R], trees: Mapping[str, Node]
) -> dict[str, R]:
    """Return the rules of files by id, in the order given; ``trees`` were kept, by digest.

    Raises
    ------
    BadInput
        With the problems of every file.
    """
    rules: dict[str, R] = {}
    problems: list[Problem] = []
    sources: dict[str, str] = {}
    for file in files:
        try:
            rules[file.path.stem] = load_rule(file.path, model, trees.get(file.digest))
        except BadInput as bad:
            problems += bad.problems
            sources |= bad.sources
    if problems:
        raise BadInput(problems, sources)
    return rules
