"""Which file stands for each rule: the one that came with the program, or a user's own.

A folder of rules holds one file a rule, in a folder a kind: ``faults/open.yaml``. Folders are laid
over each other; the last that has a file of a name decides, and a rule may be switched off. A shelf
is what was found, at the moment it was opened, so that whatever is worked out from it may be kept
as long as its content is the same.
"""

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from faultfinder.source.content import content_folder
from faultfinder.source.problem import BadInput, Position, Problem, listed, shown
from faultfinder.source.spelling import nearest

FOLDERS = (
    "tests",
    "faults",
    "signs",
    "set-ups",
    "plans",
    "limits",
    "regions",
    "conductors",
    "lessons",
)
"""The folders that hold one file a rule."""
SINGLES = ("tolerances", "inspect", "part", "repair", "walk", "example")
"""The rules there is one of, beside those folders."""


@dataclass(frozen=True, slots=True)
class RuleFile:
    """The file that stands for a rule.

    Attributes
    ----------
    name : str
        Its folder and id, ``faults/open``, or ``tolerances`` where there is one of a kind.
    path, folder : Path
        The file, and the folder of rules that it is in.
    hides : tuple of Path
        The files of the same name that it stands in for.
    digest : str
        Of its bytes.
    """

    name: str
    path: Path
    folder: Path
    hides: tuple[Path, ...]
    digest: str


@dataclass(frozen=True, eq=False, repr=False)
class Shelf:
    """The file of every rule, by name; equal to another of the same files and content.

    ``off`` are the rules switched off, and where that was said; ``signs/open/open-in-run`` is one
    sign of a file.
    """

    folders: tuple[Path, ...]
    files: Mapping[str, RuleFile]
    off: Mapping[str, Position]
    digest: str = field(init=False)

    def __post_init__(self) -> None:
        told = hashlib.sha256()
        for name, file in sorted(self.files.items()):
            told.update(f"{name}\0{file.path}\0{file.digest}\0".encode())
        told.update("\0".join(sorted(self.off)).encode())
        object.__setattr__(self, "digest", told.hexdigest())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Shelf) and self.digest == other.digest

    def __hash__(self) -> int:
        return hash(self.digest)

    def __repr__(self) -> str:
        # Short: it is part of every region, and so of everything that is shown of a circuit.
        return f"<Shelf of {listed(map(str, self.folders), 'and')}, {len(self.files)} rules>"

    def _repr_pretty_(self, printer: Any, _cycle: bool) -> None:  # noqa: FBT001 - as it is called
        """Show the same in failing examples of property tests, and in notebooks."""
        printer.text(repr(self))

    def of(self, folder: str) -> tuple[RuleFile, ...]:
        """Return the files of a folder such as ``faults``, by name."""
        return tuple(file for name, file in self.files.items() if name.startswith(f"{folder}/"))

    def ids(self, folder: str) -> tuple[str, ...]:
        """Return the ids of a folder, sorted."""
        return tuple(file.path.stem for file in self.of(folder))

    def path(self, name: str) -> Path:
        """Return the file of a name; where it would be, if there is none."""
        file = self.files.get(name)
        return file.path if file else self.folders[0] / f"{name}.yaml"

    def is_shipped(self, name: str) -> bool:
        """Tell whether a rule is the program's own."""
        return self.files[name].folder == self.folders[0]

    @property
    def own(self) -> tuple[RuleFile, ...]:
        """The rules that a user laid over the program's."""
        return tuple(file for name, file in self.files.items() if not self.is_shipped(name))


def open_shelf(folders: Sequence[Path], off: Mapping[str, Position] | None = None) -> Shelf:
    """Return the rules of folders laid over each other, the last on top, but for those off.

    Raises
    ------
    BadInput
        For a folder that is not there, a file that no kind of rule has, and a name switched off
        that no rule has.
    """
    found: dict[str, RuleFile] = {}
    problems: list[Problem] = []
    for folder in folders:
        problems += _strangers(folder)
        for name, path in _rules_in(folder):
            before = found.get(name)
            hides = (before.path, *before.hides) if before else ()
            found[name] = RuleFile(name, path, folder, hides, _digest(path))
    said = dict(off or {})
    for name, where in said.items():
        if "/".join(name.split("/")[:2]) not in found:
            near = nearest(name, found)
            text = f"no rule {shown(name)} to switch off"
            expected = "a folder and an id, such as signs/open"
            problems.append(Problem(where, "unknown-rule", text, expected, near))
    if problems:
        raise BadInput(problems)
    return Shelf(tuple(folders), {n: found[n] for n in sorted(found) if n not in said}, said)


@cache
def shipped_shelf() -> Shelf:
    """Return the rules that come with the program, and no others."""
    return open_shelf([content_folder("rules")])


def _rules_in(folder: Path) -> Iterator[tuple[str, Path]]:
    for kind in FOLDERS:
        for path in sorted((folder / kind).glob("*.yaml")):
            yield f"{kind}/{path.stem}", path
    for single in SINGLES:
        path = folder / f"{single}.yaml"
        if path.is_file():
            yield single, path


def _strangers(folder: Path) -> Iterator[Problem]:
    """Yield what keeps a file, or the whole folder, from being read; nothing is left out unsaid."""
    if not folder.is_dir():
        found = f"there is no folder {shown(str(folder))}"
        yield Problem(Position(str(folder), 0, 0), "missing-file", found)
        return
    for path in sorted((*folder.glob("*.y*ml"), *folder.glob("*/*.y*ml"))):
        place, where = path.relative_to(folder), Position(str(path), 0, 0)
        if path.suffix == ".yml":
            found, near = f"{path.name} is not read", f"{path.stem}.yaml"
            yield Problem(where, "not-a-rule", found, "a name that ends in .yaml", near)
        elif len(place.parts) == 1 and path.stem not in SINGLES:
            yield _stranger(where, path.name, FOLDERS, nearest(path.stem, SINGLES))
        elif len(place.parts) > 1 and place.parts[0] not in FOLDERS:
            yield _stranger(where, f"{place.parts[0]}/", FOLDERS, nearest(place.parts[0], FOLDERS))


def _stranger(where: Position, name: str, known: Iterable[str], near: str) -> Problem:
    found = f"no kind of rule is kept in {name}"
    return Problem(where, "not-a-rule", found, f"a folder {listed(known)}", near)


def _digest(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""  # told when the file is read
