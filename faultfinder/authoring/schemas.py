"""JSON Schema of every kind of rule file, made from the very models that read them.

For editors: a comment at the top of a rule file names its schema. Editors read YAML as YAML 1.2
has it, where ``yes`` is a word and ``1`` a number, so the schema takes what a person would write.
It says less than the models, which also hold parts of a file against each other.
"""

import ast
import inspect
import itertools
import json
import textwrap
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema

from faultfinder.authoring.kinds import KINDS, Kind

Json = dict[str, Any]
DRAFT = GenerateJsonSchema.schema_dialect
_BOUNDS = {"gt": "exclusiveMinimum", "ge": "minimum", "lt": "exclusiveMaximum", "le": "maximum"}


def schema_of(kind: Kind) -> Json:
    """Return the JSON Schema of a kind of file, draft 2020-12."""
    made = [_of_model(model) for model in kind.models]
    body: Json
    if len(made) == 1:
        body = made[0]
    else:
        # One set of definitions for all: models of one name are one model here.
        definitions: Json = {}
        for one in made:
            definitions |= one.pop("$defs", {})
        body = {"anyOf": made, **({"$defs": definitions} if definitions else {})}
    return {"$schema": DRAFT, "title": kind.title, **body}


def written(schema: Json) -> str:
    """Return a schema as the text of its file."""
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


def kinds_and_schemas() -> dict[str, Json]:
    """Return every schema by its kind."""
    return {kind.id: schema_of(kind) for kind in KINDS}


def files() -> Iterator[tuple[str, str]]:
    """Yield the name and the text of every schema file."""
    for kind in KINDS:
        yield f"{kind.id}.json", written(schema_of(kind))


def comment(kind: Kind, *, above: str = "..") -> str:
    """Return the first line of a file of a kind, by which an editor finds its schema."""
    return f"# yaml-language-server: $schema={above}/schemas/{kind.id}.json"


@cache
def described(model: type[BaseModel]) -> Mapping[str, str]:
    """Return what each field of a model is, by its name: the text that stands under it."""
    found: dict[str, str] = {}
    for one in reversed(model.__mro__):
        if not (issubclass(one, BaseModel) and one.__module__.startswith("faultfinder.")):
            continue
        (tree,) = ast.parse(textwrap.dedent(inspect.getsource(one))).body
        body = tree.body if isinstance(tree, ast.ClassDef) else []
        for field, text in itertools.pairwise(body):
            if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
                match text:
                    case ast.Expr(ast.Constant(str() as said)):
                        found[field.target.id] = " ".join(said.split())
    return found


def key_of(model: type[BaseModel], field: str) -> str:
    """Return the key that a field has in a file."""
    return model.model_fields[field].alias or field


def _of_model(model: type[BaseModel]) -> Json:
    schema = model.model_json_schema(by_alias=True)
    named = {one.__name__: one for one in models_in(model)}
    for name, part in {**schema.get("$defs", {}), model.__name__: schema}.items():
        texts = described(named[name]) if name in named else {}
        for field, text in texts.items():
            part["properties"][key_of(named[name], field)]["description"] = text
    cleaned: Json = _cleaned(schema)
    return cleaned


def models_in(model: type[BaseModel]) -> list[type[BaseModel]]:
    """Return a model and all models within it, each once, in the order they are met."""
    found: dict[type[BaseModel], None] = {}

    def look(annotation: Any) -> None:
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            if annotation not in found:
                found[annotation] = None
                for field in annotation.model_fields.values():
                    look(field.annotation)
            return
        for inner in getattr(annotation, "__args__", ()):
            look(inner)

    look(model)
    return list(found)


def _cleaned(node: Any) -> Any:
    """Say in JSON Schema what pydantic leaves in its own words, and drop what nobody reads."""
    if isinstance(node, list):
        return [_cleaned(one) for one in node]
    if not isinstance(node, dict):
        return node
    if "anyOf" in node and {"type": "null"} in node["anyOf"]:
        kept = [one for one in node["anyOf"] if one != {"type": "null"}]
        rest = {key: value for key, value in node.items() if key not in {"anyOf", "default"}}
        return _cleaned({**rest, **(kept[0] if len(kept) == 1 else {"anyOf": kept})})
    found: Json = {}
    for key, value in node.items():
        if key == "properties":
            found[key] = {name: _cleaned(part) for name, part in value.items()}
        elif key in _BOUNDS:
            found[_BOUNDS[key]] = value
        elif key == "minLength" and node.get("type") == "array":
            found["minItems"] = value
        elif key == "const" and isinstance(value, str) and value.isdecimal():
            found["enum"] = [value, int(value)]
        elif key == "description":
            found[key] = " ".join(str(value).split())
        elif key not in {"title", "default"}:
            found[key] = _cleaned(value)
    if "enum" in found and 1 in found["enum"]:
        found.pop("type", None)
    return found
