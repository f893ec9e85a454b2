"""From the place pydantic names to the place in the file, and to the keys allowed there.

Pydantic's `loc` mixes keys of the file with its own names for the branches of a union, and uses
an alias where the file may hold the plain name. The tree of the file and the annotations of the
model are walked together to tell these apart.
"""

import re
import types
from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import AliasChoices, BaseModel, Tag
from pydantic.fields import FieldInfo

from faultfinder.source.document import KeyPath, Node


@dataclass(frozen=True, slots=True)
class Place:
    """Where an error is: the deepest path that exists, and the way through unions to it."""

    path: KeyPath
    # The part of the model that the mapping around `path` was held against.
    owners: tuple["Choice", ...]
    # Each union passed: the path at which it stands, and pydantic's name of the branch taken.
    branches: tuple[tuple[KeyPath, str], ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """One alternative of an annotation; `tag` is the name a `Tag` gives it, if any."""

    type: Any
    tag: str = ""

    def answers_to(self, label: str) -> bool:
        """Tell whether pydantic would call this branch of a union `label`."""
        if self.tag:
            return self.tag == label
        if not _is_model(self.type):
            return False
        if re.search(rf"\b{re.escape(self.type.__name__)}\b", label):
            return True
        return any(
            label in map(str, get_args(field.annotation))
            for field in self.type.model_fields.values()
            if get_origin(field.annotation) is Literal
        )


def locate(tree: Node, model: type[BaseModel], loc: Sequence[str | int]) -> Place:
    """Follow `loc` down the tree and the model; parts that exist in neither are left out."""
    choices = owners = tuple(_choices(model))
    path: KeyPath = ()
    branches: list[tuple[KeyPath, str]] = []
    node = tree
    for part in loc:
        label = str(part)
        narrowed = tuple(c for c in choices if c.answers_to(label))
        if len(choices) > 1 and narrowed:
            branches.append((path, label))
            choices = narrowed
            continue
        step = _step(node, choices, part)
        if step is None:
            branches.append((path, label))
            continue
        node = node[step]  # type: ignore[index] # _step has just looked
        path = (*path, step)
        owners, choices = choices, tuple(c for o in choices for c in _inner(o.type, part))
    return Place(path, owners, tuple(branches))


def allowed_keys(choices: Sequence[Choice]) -> list[str]:
    """List the keys that a mapping may hold under the models among `choices`, in their order."""
    keys = (
        _spellings(name, field)[0]
        for choice in choices
        if _is_model(choice.type)
        for name, field in choice.type.model_fields.items()
    )
    return list(dict.fromkeys(keys))


def _step(node: Node, choices: Sequence[Choice], part: str | int) -> str | int | None:
    """Return the key or index of `node` that `part` stands for, if it is there."""
    if isinstance(node, list):
        return part if isinstance(part, int) and part < len(node) else None
    if not isinstance(node, dict):
        return None
    if part in node:
        return part
    for choice in choices:
        if _is_model(choice.type):
            for name, field in choice.type.model_fields.items():
                spellings = _spellings(name, field)
                if part in spellings:
                    return next((s for s in spellings if s in node), None)
    return None


def _spellings(name: str, field: FieldInfo) -> list[str]:
    """List the keys that fill a field, the one to show first."""
    alias = field.validation_alias
    choices = alias.choices if isinstance(alias, AliasChoices) else [alias]
    return [*(a for a in choices if isinstance(a, str)), name]


def _choices(annotation: Any, tag: str = "") -> Iterator[Choice]:
    """List the alternatives of an annotation, without None."""
    annotation = getattr(annotation, "__value__", annotation)  # a named type alias
    origin = get_origin(annotation)
    if origin is Annotated:
        inner, *notes = get_args(annotation)
        named = [note.tag for note in notes if isinstance(note, Tag)]
        yield from _choices(inner, named[0] if named else tag)
    elif origin in {Union, types.UnionType}:
        for inner in get_args(annotation):
            yield from _choices(inner, tag)
    elif _is_model(annotation) and annotation.__pydantic_root_model__:
        yield from _choices(annotation.model_fields["root"].annotation, tag)
    elif annotation is not type(None):
        yield Choice(annotation, tag)


def _inner(type_: Any, part: str | int) -> Iterator[Choice]:
    """List what the value under `part` may be, when the whole is a `type_`."""
    if _is_model(type_):
        type_.model_rebuild()  # a model that names itself may not have been resolved yet
        for name, field in type_.model_fields.items():
            if part in _spellings(name, field):
                yield from _choices(field.annotation)
        return
    origin, arguments = get_origin(type_), get_args(type_)
    if not isinstance(origin, type) or not arguments:
        return
    if issubclass(origin, Mapping):
        yield from _choices(arguments[1])
    elif issubclass(origin, tuple) and isinstance(part, int) and Ellipsis not in arguments:
        yield from _choices(arguments[min(part, len(arguments) - 1)])
    elif issubclass(origin, Sequence | AbstractSet):
        yield from _choices(arguments[0])


def _is_model(type_: Any) -> bool:
    return isinstance(type_, type) and issubclass(type_, BaseModel)
