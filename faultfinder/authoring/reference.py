"""The page of every key of every kind of rule file, made from the models that read them."""

import types
from collections.abc import Iterator
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, WithJsonSchema

from faultfinder.authoring.kinds import KINDS, Kind
from faultfinder.authoring.schemas import described, key_of, models_in
from faultfinder.source.problem import listed

_HEAD = """\
# Every key of every rule file

Made by `faultfinder rules reference` from the schema that reads the files; a test keeps this page
in step with it. What the keys mean together is in [rules.md](../rules.md), and a first fault mode
in [first-fault-mode.md](../first-fault-mode.md). Keys marked * are needed.
"""
_WORDS = {str: "text", float: "number", int: "whole number", bool: "yes or no"}
_ELSEWHERE = {
    "example": "An installation file as in [files.md](../files.md).",
    "lesson": "A case file as in [files.md](../files.md), with what was `found`.",
}


def reference_page() -> str:
    """Return the page as Markdown."""
    return _HEAD + "".join(text for kind in KINDS for text in _kind(kind))


def _kind(kind: Kind) -> Iterator[str]:
    yield f"\n## {kind.title}: `{kind.where}`\n"
    if kind.id in _ELSEWHERE:
        yield f"\n{_ELSEWHERE[kind.id]}\n"
        return
    told: set[tuple[str, ...]] = set()
    for model in _distinct(kind):
        for one in models_in(model):
            lines = tuple(_rows(one))
            if lines in told:
                continue
            told.add(lines)
            if one is not kind.models[0] or len(kind.models) > 1:
                yield f"\n### `{_plain(one)}`\n"
            yield f"\n{' '.join((one.__doc__ or '').split()).replace('``', '`')}\n\n"
            yield "| key | holds | what it says |\n| --- | --- | --- |\n"
            yield from lines


def _distinct(kind: Kind) -> Iterator[type[BaseModel]]:
    """Yield the models of a kind, those alone that differ in their keys or in what these hold."""
    known: list[dict[str, Any]] = []
    for model in kind.models:
        keys = {name: field.annotation for name, field in model.model_fields.items()}
        if keys not in known:
            known.append(keys)
            yield model


def _rows(model: type[BaseModel]) -> Iterator[str]:
    texts = described(model)
    for name, field in model.model_fields.items():
        needed = "\\*" if field.is_required() else ""
        annotation = Annotated[field.annotation, *field.metadata] if field.metadata else None
        holds = _holds(annotation or field.annotation)
        said = texts.get(name, "").replace("``", "`").replace("|", "\\|")
        yield f"| `{key_of(model, name)}`{needed} | {holds} | {said} |\n"


def _holds(annotation: Any) -> str:
    """Say what a key may hold."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        inner, *notes = arguments
        for note in notes:
            if isinstance(note, WithJsonSchema) and "title" in (note.json_schema or {}):
                return f"a number, in {(note.json_schema or {})['title']} if bare"
        return _holds(inner)
    if origin is Literal:
        return listed(f"`{word}`" for word in arguments)
    if origin in {Union, types.UnionType}:
        kinds = [_holds(one) for one in arguments if one is not type(None)]
        return ", or ".join(dict.fromkeys(kinds))
    if origin is tuple:
        return f"list of {_holds(arguments[0])}" if arguments else "list"
    if origin is dict:
        return f"{_holds(arguments[0])}: {_holds(arguments[1])}"
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return f"`{_plain(annotation)}`"
    value = getattr(annotation, "__value__", None)  # a named type alias
    return _holds(value) if value is not None else _WORDS.get(annotation, "text")


def _plain(model: type[BaseModel]) -> str:
    """Return a model's name as people may read it."""
    name = model.__name__.strip("_")
    for ending in ("Rule", "File"):
        name = name.removesuffix(ending) or name
    return name
