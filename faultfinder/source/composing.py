"""YAML text to nodes: the events of the parser put together, nothing interpreted.

PyYAML's own composer recurses as deep as the text nests, and its loaders turn `on` into True,
`12:30` into 750 and `010` into 8. Reading the events keeps every scalar as it was written, bounds
the depth before it can do harm, and sees repeated keys.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import yaml

from faultfinder.source.problem import BadInput, Position, Problem, shown
from faultfinder.source.spelling import nearest
from faultfinder.source.syntax import (
    DEEPEST,
    empty_text,
    position,
    refused_character,
    syntax_problem,
    tab_in_value,
)

# The C parser is some five times faster; both keep marks. A wheel without it falls back.
_LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
_NOTHING = frozenset({"", "~", "null", "Null", "NULL"})  # YAML 1.1, type `null`


@dataclass(slots=True)
class Scalar:
    """Text as written; a plain `null`, `~` or nothing at all is ''."""

    at: Position
    text: str


@dataclass(slots=True)
class Items:
    """A list."""

    at: Position
    items: list["Composed"] = field(default_factory=list)


@dataclass(slots=True)
class Keys:
    """A mapping: each key with its own position and its value."""

    at: Position
    entries: dict[str, tuple[Position, "Composed"]] = field(default_factory=dict)


Composed = Scalar | Items | Keys


def compose(text: str, name: str) -> Composed:
    """Return the root node of the one document in `text`; raise `BadInput` for all that is wrong.

    An alias gives the very node of its anchor, so the result may share nodes but has no loops.
    """
    return _Composer(text, name).document()


class _Composer:
    def __init__(self, text: str, name: str) -> None:
        self.text, self.name = text, name
        self.anchors: dict[str, Composed] = {}
        self.open_anchors: list[str] = []
        self.problems: list[Problem] = []
        self.events: Iterator[yaml.Event] = iter(())

    def document(self) -> Composed:
        if refused := refused_character(self.text, self.name):
            raise self.stop(refused)
        self.events = yaml.parse(self.text, Loader=_LOADER)
        try:
            root = self.root()
        except yaml.MarkedYAMLError as error:
            raise self.stop(syntax_problem(error, self.text, self.name)) from None
        if self.problems:
            raise BadInput(self.problems, {self.name: self.text})
        return root

    def root(self) -> Composed:
        root: Composed | None = None
        for event in self.events:
            if isinstance(event, yaml.DocumentStartEvent):
                if root is not None:
                    raise self.stop(
                        self.problem(
                            event, "several-documents", 'a second document begins here ("---")'
                        )
                    )
                root = self.node(next(self.events), depth=1)
        if root is None or (isinstance(root, Scalar) and not root.text):
            whole = Position(self.name, 0, 0)
            raise self.stop(Problem(whole, "empty-file", "the file holds nothing but comments"))
        return root

    def node(self, event: yaml.Event, depth: int) -> Composed:
        if depth > DEEPEST:
            raise self.stop(self.problem(event, "too-deep", f"more than {DEEPEST} levels deep"))
        if isinstance(event, yaml.AliasEvent):
            return self.alias(event)
        if not isinstance(event, yaml.ScalarEvent | yaml.CollectionStartEvent):
            raise TypeError(f"the YAML parser gave {event} where a value begins")
        if event.tag is not None:
            found = f"the tag {shown(event.tag)} is not used here"
            self.note(event, "yaml-tag", found, "the value alone, in quotes if need be")
        if event.anchor is None:
            return self.value(event, depth)
        self.open_anchors.append(event.anchor)
        node = self.anchors[event.anchor] = self.value(event, depth)
        self.open_anchors.remove(event.anchor)
        return node

    def value(self, event: yaml.ScalarEvent | yaml.CollectionStartEvent, depth: int) -> Composed:
        if isinstance(event, yaml.MappingStartEvent):
            return self.mapping(event, depth)
        if isinstance(event, yaml.ScalarEvent):
            for check in (tab_in_value, empty_text):
                if problem := check(event, self.text, self.name):
                    self.problems.append(problem)
            nothing = not event.style and event.value in _NOTHING
            return Scalar(self.at(event), "" if nothing else event.value)
        node = Items(self.at(event))
        while not isinstance(item := next(self.events), yaml.SequenceEndEvent):
            node.items.append(self.node(item, depth + 1))
        return node

    def mapping(self, start: yaml.Event, depth: int) -> Keys:
        node = Keys(self.at(start))
        while not isinstance(event := next(self.events), yaml.MappingEndEvent):
            key = self.key(event, depth)
            value = self.node(next(self.events), depth + 1)
            if key is None:
                continue
            if key in node.entries:
                first, second = node.entries[key][0].line, self.at(event).line
                where = f"lines {first} and {second}" if first != second else f"line {first}"
                found = f"the key {shown(key)} is written twice, on {where}"
                self.note(event, "duplicate-key", found, "each key once")
            else:
                node.entries[key] = (self.at(event), value)
        return node

    def key(self, event: yaml.Event, depth: int) -> str | None:
        """Return the key's text, or note why not; a bare `null` is a name like another."""
        node = self.node(event, depth + 1)
        if not isinstance(node, Scalar):
            self.note(event, "key-not-text", "a key must be one word or a text")
            return None
        if not isinstance(event, yaml.ScalarEvent):  # an alias of a text
            return node.text
        if event.value == "<<" and not event.style:
            self.note(event, "merge-key", 'the merge key "<<" is not used here', "the keys in full")
            return None
        return event.value

    def alias(self, event: yaml.AliasEvent) -> Composed:
        name = event.anchor or ""
        if name in self.open_anchors:
            self.note(event, "recursive-alias", f"*{name} stands inside the value it repeats")
        elif name in self.anchors:
            return self.anchors[name]
        else:
            close = nearest(name, self.anchors)
            found = f"*{name} repeats a value that is not marked with &{name} above it"
            self.note(event, "unknown-alias", found, near=f"*{close}" if close else "")
        return Scalar(self.at(event), "")

    def at(self, event: yaml.Event) -> Position:
        return position(event.start_mark, self.name)

    def problem(self, event: yaml.Event, id_: str, found: str, expected: str = "") -> Problem:
        return Problem(self.at(event), id_, found, expected)

    def note(
        self, event: yaml.Event, id_: str, found: str, expected: str = "", near: str = ""
    ) -> None:
        self.problems.append(Problem(self.at(event), id_, found, expected, near))

    def stop(self, problem: Problem) -> BadInput:
        return BadInput([*self.problems, problem], {self.name: self.text})
