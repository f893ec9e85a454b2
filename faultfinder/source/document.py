"""A YAML file as a tree of plain text, with the position of every value and every key.

Nothing is interpreted here: `on`, `12:30`, `010` and `1e-3` stay as they were written, and the
schema that knows what is meant decodes them (`decode.py`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

from faultfinder.source.composing import Composed, Items, Scalar, compose
from faultfinder.source.problem import BadInput, Position, Problem
from faultfinder.source.syntax import DEEPEST
from faultfinder.source.text import read_text

MOST_VALUES = 200_000

Node: TypeAlias = "str | list[Node] | dict[str, Node]"
KeyPath: TypeAlias = tuple[str | int, ...]


@dataclass(frozen=True)
class Document:
    """A file's text, its tree, and where in the text each value (and each key) begins.

    A value repeated by an alias has the position of the original.
    """

    path: str
    text: str
    tree: Node
    marks: Mapping[KeyPath, Position]
    key_marks: Mapping[KeyPath, Position]

    def position(self, path: KeyPath) -> Position:
        """Return where the value at `path` begins, or the nearest thing around it that exists."""
        while path not in self.marks:
            path = path[:-1]
        return self.marks[path]

    def key_position(self, path: KeyPath) -> Position:
        """Return where the key at the end of `path` begins; an item of a list has no key."""
        return self.key_marks.get(path) or self.position(path)


def load_yaml(path: Path) -> Document:
    """Read a YAML file; raise `BadInput` for what is wrong with the file or its YAML."""
    return parse_yaml(read_text(path), str(path))


def parse_yaml(text: str, name: str) -> Document:
    """Read YAML text; `name` stands for the file in positions.

    Raises `BadInput`: `yaml-syntax`, `tab-indent`, `duplicate-key`, `several-documents`,
    `too-deep`, `too-many-values`, `recursive-alias`, `unknown-alias`, `yaml-tag`, `merge-key`,
    `key-not-text`, `empty-file`.
    """
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    expander = _Expander(name, text)
    tree = expander.tree(compose(text, name), ())
    return Document(name, text, tree, expander.marks, expander.key_marks)


class _Expander:
    """Writes shared nodes out in full, counting: a few nested aliases can stand for billions."""

    def __init__(self, name: str, text: str) -> None:
        self.name, self.text = name, text
        self.marks: dict[KeyPath, Position] = {}
        self.key_marks: dict[KeyPath, Position] = {}

    def tree(self, node: Composed, path: KeyPath) -> Node:
        if len(self.marks) >= MOST_VALUES:
            self.refuse(node, "too-many-values", f"more than {MOST_VALUES:,} values")
        if len(path) >= DEEPEST:
            self.refuse(node, "too-deep", f"more than {DEEPEST} levels deep")
        self.marks[path] = node.at
        if isinstance(node, Scalar):
            return node.text
        if isinstance(node, Items):
            return [self.tree(item, (*path, i)) for i, item in enumerate(node.items)]
        branch: dict[str, Node] = {}
        for key, (at, value) in node.entries.items():
            self.key_marks[*path, key] = at
            branch[key] = self.tree(value, (*path, key))
        return branch

    def refuse(self, node: Composed, id_: str, found: str) -> None:
        problem = Problem(node.at, id_, f"{found}, aliases written out")
        raise BadInput([problem], {self.name: self.text})
