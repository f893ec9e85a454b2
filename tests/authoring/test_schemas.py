"""The exported JSON Schema against the models it is made of, and against a schema library.

jsonschema (PyPI) is the outside check: another implementation reads our files by our schemas.
"""

import json
import re

import jsonschema
import pytest
import yaml

from faultfinder.authoring.kinds import KINDS, kind_of
from faultfinder.authoring.schemas import DRAFT, comment, described, files, models_in, schema_of
from faultfinder.source.content import content_folder
from faultfinder.source.shelf import shipped_shelf

RULES = content_folder("rules")
SHELF = shipped_shelf()


class _Yaml12(yaml.SafeLoader):
    """YAML as editors read it: the core schema of YAML 1.2.2, section 10.3.2."""


_Yaml12.yaml_implicit_resolvers = {}
for tag, pattern, first in (
    ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"),
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "-+0123456789."),
    ("null", r"~|null|Null|NULL|", ["~", "n", "N", ""]),
):
    _Yaml12.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(f"^(?:{pattern})$"), first)


def as_an_editor_reads(text):
    return yaml.load(text, Loader=_Yaml12)  # noqa: S506 - a SafeLoader with other scalars


def mistakes(kind, text):
    validator = jsonschema.Draft202012Validator(schema_of(kind))
    return [error.message for error in validator.iter_errors(as_an_editor_reads(text))]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.id)
def test_each_schema_is_one_of_draft_2020_12(kind):
    schema = schema_of(kind)
    assert schema["$schema"] == DRAFT == jsonschema.Draft202012Validator.META_SCHEMA["$id"]
    jsonschema.Draft202012Validator.check_schema(schema)


def test_the_files_kept_are_what_the_models_say():
    kept = {path.name: path.read_text("utf-8") for path in (RULES / "schemas").glob("*.json")}
    assert kept == dict(files()), "faultfinder rules schema --out rules/schemas"


@pytest.mark.parametrize("name", SHELF.files)
def test_each_rule_file_names_its_schema_and_keeps_to_it(name):
    text = SHELF.path(name).read_text("utf-8")
    kind = kind_of(name)
    assert text.splitlines()[0] == comment(kind, above=".." if "/" in name else ".")
    assert mistakes(kind, text) == []


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("faults/open", "remedy:", "remdy:"),
        ("faults/open", "do: break", "do: brake"),
        ("faults/open", "format: 1", "format: 2"),
        ("faults/bridged", "prior:", "prior: rare\nold:"),
        ("signs/open", "fact: reading", "fact: value"),
        ("tests/terminated", "switch: both", "switch: off"),
        ("set-ups/link-out", "at: test", "at: board"),
        ("limits/insulation-bs", "provenance: read", "provenance: heard"),
        ("regions/uk", "voltage_factor: 0.95", "voltage_factor: 95"),
        ("conductors/as-nzs-copper", "material: copper", "material: tin"),
        ("tolerances", "slip: 0.001", "slip: 2"),
    ],
)
def test_a_mistake_is_underlined(name, old, new):
    text = SHELF.path(name).read_text("utf-8")
    assert old in text
    assert mistakes(kind_of(name), text.replace(old, new, 1))


IN_FILES = {"example", "lesson"}  # their keys are told in docs/files.md


@pytest.mark.parametrize("kind", [k for k in KINDS if k.id not in IN_FILES], ids=lambda k: k.id)
def test_every_key_is_described(kind):
    for model in kind.models:
        for one in models_in(model):
            assert set(described(one)) == set(one.model_fields), one.__name__


def test_a_person_may_write_yes_and_units():
    text = SHELF.path("faults/bridged").read_text("utf-8")
    assert "ohm" in json.dumps(as_an_editor_reads(text)["ohms"])
    assert mistakes(kind_of("faults/bridged"), text) == []
