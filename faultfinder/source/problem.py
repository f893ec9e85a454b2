"""What is wrong with a file somebody wrote, as data: where, what was found, what belongs there.

The library collects every problem it can see and raises one `BadInput`; only `cli/` prints it.
"""

import re
import textwrap
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

WIDTH = 80
# The line breaks that YAML counts (YAML 1.1, section 4.1.4), so that line numbers agree with it.
_LINE_BREAK = re.compile("\r\n|[\r\n\x85\u2028\u2029]")


@dataclass(frozen=True, slots=True)
class Position:
    """A place in a file; line and column count from 1, and line 0 means the whole file."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        """Write it the way editors and terminals turn into a link."""
        return f"{self.file}:{self.line}:{self.column}" if self.line else self.file


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong at one position; `id` is a stable word, such as `unknown-key`."""

    position: Position
    id: str
    found: str
    expected: str = ""
    nearest: str = ""

    def render(self, source: str | None = None) -> str:
        """Write the problem for a reader, at most 80 columns wide where the words allow.

        `source` is the text of the file; with it, the line in question is shown above a caret.
        """
        lines = _wrap(f"{self.position}: ", f"error: {self.found} [{self.id}]", "  ")
        if source is not None and self.position.line:
            lines += _excerpt(source, self.position)
        for label, words in (("expected", self.expected), ("try", self.nearest)):
            if words:
                lines += _wrap(f"  {label:<8}  ", words, " " * 12)
        return "\n".join(lines)


class BadInput(Exception):  # noqa: N818 - the name says whose mistake it is
    """What the user gave cannot be used; `.problems` holds every reason, sorted by position.

    `.sources` maps the names of files to their text, where known, for showing the lines.
    """

    problems: tuple[Problem, ...]
    sources: Mapping[str, str]

    def __init__(
        self, problems: Iterable[Problem], sources: Mapping[str, str] | None = None
    ) -> None:
        self.problems = tuple(sorted(problems, key=_order))
        if not self.problems:
            raise ValueError("BadInput needs at least one problem")
        self.sources = dict(sources or {})
        # One plain argument, so that the exception can be pickled out of a child process.
        super().__init__(self.problems)

    def __str__(self) -> str:
        """Render all problems, with the lines they are about where the text is known."""
        return "\n".join(p.render(self.sources.get(p.position.file)) for p in self.problems)


def lines_of(text: str) -> list[str]:
    """Split a text into lines as YAML counts them."""
    return _LINE_BREAK.split(text)


def listed(words: Iterable[str], joint: str = "or") -> str:
    """Join words as a sentence does: `a, b or c`."""
    *most, last = list(words) or [""]
    return f"{', '.join(most)} {joint} {last}" if most else last


def shown(text: str, limit: int = 40) -> str:
    """Quote what the user wrote, shortened to `limit` characters."""
    return f'"{text}"' if len(text) <= limit else f'"{text[: limit - 1]}…"'


def _order(problem: Problem) -> tuple[str, int, int, str, str]:
    at = problem.position
    return (at.file, at.line, at.column, problem.id, problem.found)


def _wrap(prefix: str, words: str, hang: str) -> list[str]:
    wrapper = textwrap.TextWrapper(
        width=WIDTH,
        initial_indent=_visible(prefix),
        subsequent_indent=hang,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return wrapper.wrap(_visible(" ".join(words.split())))


def _visible(text: str) -> str:
    """Escape what would steer a terminal instead of being read."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def _excerpt(source: str, at: Position) -> list[str]:
    lines = lines_of(source)
    if at.line > len(lines):
        return []
    # One character a column: a tab or a control character must not shift the caret.
    line = "".join(c if c.isprintable() else " " for c in lines[at.line - 1])
    column = min(at.column - 1, len(line))
    gutter = f"{at.line:>4} | "
    room = WIDTH - len(gutter)
    start = 0
    if _columns(line) > room:
        # Too long to show whole: begin a little before the caret.
        start = max(0, column - room // 4)
        end = start
        while end < len(line) and _columns(line[start : end + 1]) <= room:
            end += 1
        while start > 0 and _columns(line[start - 1 : end]) <= room:
            start -= 1
        line = line[:end]
    before = " " * _columns(line[start:column])
    margin = f"{'|':>{len(gutter) - 1}} "
    return [f"{gutter}{line[start:]}".rstrip(), f"{margin}{before}^"]


def _columns(text: str) -> int:
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )
