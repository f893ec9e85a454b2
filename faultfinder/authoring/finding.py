"""What an author is told of a rule: the file, the line, the rule, and what is wrong."""

from dataclasses import dataclass

from faultfinder.source.document import KeyPath, load_yaml
from faultfinder.source.problem import BadInput, Problem
from faultfinder.source.shelf import Shelf


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One thing wrong with one rule; its name is ``signs/open/open-in-run`` for one sign."""

    file: str
    line: int
    rule: str
    problem: str


def found(shelf: Shelf, name: str, at: KeyPath, problem: str, part: str = "") -> Finding:
    """Return a finding at a key path of the file of a rule."""
    position = load_yaml(shelf.path(name)).position(at)
    rule = f"{name}/{part}" if part else name
    return Finding(position.file, position.line, rule, problem)


def of_bad_input(shelf: Shelf, bad: BadInput) -> list[Finding]:
    """Return the problems of files that cannot be read as findings."""
    names = {str(file.path): name for name, file in shelf.files.items()}
    return [
        Finding(p.position.file, p.position.line, names.get(p.position.file, ""), _said(p))
        for p in bad.problems
    ]


def _said(problem: Problem) -> str:
    expected = f"; expected {problem.expected}" if problem.expected else ""
    near = f"; try {problem.nearest}" if problem.nearest else ""
    return f"{problem.found}{expected}{near}"
