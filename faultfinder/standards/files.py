"""The files of `rules/conductors`, `rules/limits` and `rules/regions`, and what they all say first.

A file is found by its id, which is its name without `.yaml`, and read once.
"""

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeAlias, TypeVar

from pydantic import ValidationError

from faultfinder.source.decode import Schema, decode
from faultfinder.source.document import Node, load_yaml
from faultfinder.source.problem import BadInput, Problem
from faultfinder.source.shelf import Shelf, shipped_shelf
from faultfinder.source.trees import trees_of
from faultfinder.standards.unknown import unknown_name

Folder: TypeAlias = Literal["conductors", "limits", "regions"]
Provenance: TypeAlias = Literal["read", "memory"]
Basis: TypeAlias = Literal["derived", "table", "practice"]


@dataclass(frozen=True, slots=True)
class Citation:
    """Where a figure is from, and whether it was read there or recalled without opening it."""

    source: str
    provenance: Provenance
    edition: str = ""

    def __str__(self) -> str:
        """Write it as a report cites it."""
        edition = f", edition {self.edition}" if self.edition else ""
        how = "read" if self.provenance == "read" else "from memory"
        return f"{self.source}{edition} ({how})"


class Cited(Schema):
    """A figure that says itself where it is from."""

    source: str
    """Where the figure is from."""
    provenance: Provenance
    """Whether it was read there, or is from memory."""

    def citation(self) -> Citation:
        """Return the source as a value that can be passed on."""
        return Citation(self.source, self.provenance)


class MaybeCited(Schema):
    """A figure that may differ in source from the rest of its file."""

    source: str = ""
    """Where the figure is from, if not from the file's source."""
    provenance: Provenance = "read"
    """Whether it was read there, or is from memory."""

    def citation(self, otherwise: Citation) -> Citation:
        """Return this figure's own source, or else its file's."""
        return Citation(self.source, self.provenance) if self.source else otherwise


class StandardFile(Schema):
    """What every file of tables and limits says first."""

    format: Literal["1"]
    """The version of the file format."""
    id: str
    """The file's name."""
    title: str
    """One line for people."""
    source: str
    """The standard, with its clause or table."""
    edition: str
    """Its edition; ``unstated`` where the source has none."""
    provenance: Provenance
    """Whether it was read in the source, or is from memory."""
    conditions: str
    """Where it holds."""
    notes: str = ""
    """What else there is to know."""

    def citation(self) -> Citation:
        """Return the file's source as a value that can be passed on."""
        return Citation(self.source, self.provenance, self.edition)


FileT = TypeVar("FileT", bound=StandardFile)


def ids(folder: Folder) -> tuple[str, ...]:
    """Return the ids of the program's own files in a folder of `rules/`, sorted."""
    return shipped_shelf().ids(folder)


def read(folder: Folder, id_: str, what: str, model: type[FileT], shelf: Shelf) -> FileT:
    """Read the file of that id from a folder of the rules on a shelf.

    Raises `UnknownStandard` (calling it a `what`) if there is none, and `BadInput` for what is
    wrong in it, including an id that is not the file's name (`id-not-file-name`).
    """
    known = shelf.ids(folder)
    if id_ not in known:
        raise unknown_name(what, id_, known)
    file = shelf.files[f"{folder}/{id_}"]
    return read_file(file.path, model, trees_of(shelf).get(file.digest))


def read_file(path: Path, model: type[FileT], tree: "Node | None" = None) -> FileT:
    """Read one file, from its tree where that was kept and is sound.

    Raises `BadInput` for what is wrong in it, an id other than its name too.
    """
    if tree is not None:
        with suppress(ValidationError):
            kept = model.model_validate(tree)
            if kept.id == path.stem:
                return kept
    document = load_yaml(path)
    content = decode(document, model)
    if content.id != path.stem:
        at = document.position(("id",))
        found = f'id "{content.id}"'
        problem = Problem(at, "id-not-file-name", found, "the file's name", path.stem)
        raise BadInput([problem], {document.path: document.text})
    return content
