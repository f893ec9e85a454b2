"""Files that a file names."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from faultfinder.source.document import Document, KeyPath
from faultfinder.source.problem import BadInput, Position, Problem, shown


@contextmanager
def named_in(document: Document, at: KeyPath, name: str) -> Iterator[Path]:
    """Give the path of a file that a document names, which counts from the document's own folder.

    If that file cannot be read at all, the problem is put where it is named.
    """
    where = document.position(at)
    own = Path(document.path)
    try:
        yield own.parent / name
    except BadInput as bad:
        problems = [_pointed_at(problem, where, name, own.name) for problem in bad.problems]
        raise BadInput(problems, {**bad.sources, document.path: document.text}) from bad


def _pointed_at(problem: Problem, where: Position, name: str, own_name: str) -> Problem:
    """Return a problem of a whole file as one of the place that names it."""
    if problem.position.line:
        return problem
    close = Path(problem.nearest).name
    near = str(Path(name).with_name(close)) if close not in {"", own_name} else ""
    return replace(problem, position=where, found=f"{shown(name)}: {problem.found}", nearest=near)
