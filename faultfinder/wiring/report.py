"""What does not fit in a file, gathered on the way: each problem with its place."""

from faultfinder.source.document import Document, KeyPath
from faultfinder.source.problem import BadInput, Problem
from faultfinder.source.shelf import Shelf
from faultfinder.standards.unknown import UnknownStandard


def not_meant(document: Document, id_: str, found: str, expected: str) -> BadInput:
    """Return the one problem of a file that is something else than what is asked for."""
    report = Report(document)
    report.say((), id_, found, expected)
    return report.bad_input()


class Report:
    """Gathers the problems of one part of a document, by key paths counted from there.

    ``shelf`` has the rules by which it is read, the program's own unless given.
    """

    def __init__(self, document: Document, at: KeyPath = (), shelf: Shelf | None = None) -> None:
        self.document, self.at, self.shelf = document, at, shelf
        self.problems: list[Problem] = []

    def say(self, path: KeyPath, id_: str, found: str, expected: str = "", near: str = "") -> None:
        """Add one problem, once."""
        where = self.document.position((*self.at, *path))
        problem = Problem(where, id_, found, expected, near)
        if problem not in self.problems:  # two conductors of one size, written in one place
            self.problems.append(problem)

    def unknown(self, path: KeyPath, error: UnknownStandard) -> None:
        """Add what no table has."""
        self.say(path, "unknown-value", f"unknown {error.found}", error.expected, error.nearest)

    def bad_input(self) -> BadInput:
        """Return all of it as an exception."""
        return BadInput(self.problems, {self.document.path: self.document.text})
