"""The rules there are, and where each is from."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from faultfinder.authoring.kinds import kind_of
from faultfinder.rulebook.spoken import spoken
from faultfinder.source.document import load_yaml
from faultfinder.source.problem import BadInput
from faultfinder.source.shelf import RuleFile, Shelf, open_shelf
from faultfinder.source.spelling import nearest
from faultfinder.standards.regions import region


@dataclass(frozen=True, slots=True)
class Listed:
    """A rule and its provenance.

    Attributes
    ----------
    name, folder, id, title : str
        ``faults/open``, ``faults``, ``open``, and its line for people.
    path : str
        Its file.
    is_shipped : bool
        Whether it came with the program.
    hides : tuple of str
        The files that it stands in for.
    off_by : str
        Where it is switched off, or ''.
    signs : tuple of str
        The ids of signs that its file holds.
    signs_off : tuple of str
        Those of them that are switched off alone.
    """

    name: str
    folder: str
    id: str
    title: str
    path: str
    is_shipped: bool
    hides: tuple[str, ...]
    off_by: str
    signs: tuple[str, ...]
    signs_off: tuple[str, ...]


class UnknownRule(ValueError):  # noqa: N818 - says what it is, as BadInput does
    """No rule has this name; ``near`` is the one that was probably meant, or ''."""

    def __init__(self, name: str, near: str) -> None:
        super().__init__(name)
        self.name, self.near = name, near


def rules_on(shelf: Shelf) -> Iterator[Listed]:
    """Yield every rule, by folder and id, those switched off and those that cannot be read too."""
    every = open_shelf(shelf.folders)
    for name in sorted(every.files, key=lambda name: ("/" not in name, name)):
        yield _listed(shelf, name, every.files[name])


def named(shelf: Shelf, word: str) -> list[Listed]:
    """Return the rules that a word means: a name, ``faults/open``, an id, or the id of a sign.

    Raises
    ------
    UnknownRule
        If there is none.
    """
    every = list(rules_on(shelf))
    found = [rule for rule in every if word in {rule.name, rule.id}]
    found = found or [rule for rule in every if word.rpartition("/")[2] in rule.signs]
    if not found:
        known = [text for rule in every for text in (rule.name, rule.id, *rule.signs)]
        raise UnknownRule(word, nearest(word, known))
    return found


def _listed(shelf: Shelf, name: str, file: RuleFile) -> Listed:
    kind = kind_of(name)
    folder, _, id_ = name.rpartition("/")
    title = ""
    signs: tuple[str, ...] = ()
    try:
        tree = load_yaml(file.path).tree
    except BadInput:
        title = "cannot be read; see rules check"
    else:
        content = tree if isinstance(tree, dict) else {}
        title = spoken(str(content.get("title") or kind.title), region().words)
        signs = _signs(content.get("signs"))
    off = shelf.off.get(name)
    return Listed(
        name,
        folder or "one of a kind",
        id_,
        title,
        str(file.path),
        file.folder == shelf.folders[0],
        tuple(str(path) for path in file.hides),
        str(off) if off else "",
        signs,
        tuple(sign for sign in signs if f"{name}/{sign}" in shelf.off),
    )


def _signs(written: object) -> tuple[str, ...]:
    rows = written if isinstance(written, list) else []
    return tuple(str(row["id"]) for row in rows if isinstance(row, dict) and "id" in row)


def text_of(rule: Listed) -> str:
    """Return the text of a rule's file."""
    return load_yaml(Path(rule.path)).text
