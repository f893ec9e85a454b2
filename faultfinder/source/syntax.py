"""What is wrong with the YAML itself, in words that need no knowledge of its grammar."""

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import yaml

from faultfinder.source.problem import Position, Problem, lines_of

if TYPE_CHECKING:  # the C parser is not in every build of PyYAML
    from yaml._yaml import Mark as CMark

# All but the characters that YAML 1.1 allows in a stream, section 4.1.1.
_REFUSED = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
DEEPEST = 50  # levels of nesting; the C parser gives up at 1,000, our own files need about 8
_TAB_INDENT = re.compile(r" *\t")


def refused_character(text: str, name: str) -> Problem | None:
    """Find the first character that no YAML file may hold, such as a control character."""
    if not (match := _REFUSED.search(text)):
        return None
    before = lines_of(text[: match.start()])
    at = Position(name, len(before), len(before[-1]) + 1)
    code = f"U+{ord(match.group()):04X}"
    return Problem(at, "yaml-syntax", f"the control character {code}", "letters, digits and signs")


def tab_in_value(event: yaml.ScalarEvent, text: str, name: str) -> Problem | None:
    """Find a tab that indents a later line of an unquoted value.

    The parser may take such a line for more of the value above it, without a word.
    """
    first, last = position(event.start_mark, name).line, position(event.end_mark, name).line
    if event.style or last == first:
        return None
    for number, line in enumerate(lines_of(text)[first:last], start=first + 1):
        if _TAB_INDENT.match(line):
            return _tab(name, number, line.index("\t") + 1)
    return None


def empty_text(event: yaml.ScalarEvent, text: str, name: str) -> Problem | None:
    """Find a `>` or `|` that no text follows: `>5` was meant as a value, and would be lost."""
    if event.style not in {">", "|"} or event.value.strip():
        return None
    at = position(event.start_mark, name)
    near = _quoted(lines_of(text)[at.line - 1], at.column)
    found = 'an unquoted ">" or "|" begins a text of several lines, but none follows'
    return Problem(at, "yaml-syntax", found, "the value in quotes", near)


def syntax_problem(error: yaml.MarkedYAMLError, text: str, name: str) -> Problem:
    """Turn the parser's complaint into a problem at the place to look at.

    Knows the wording of both parsers of PyYAML 6.0, the C and the Python one; what it does not
    know it passes on.
    """
    lines = lines_of(text)
    here = position(error.problem_mark, name)
    there = position(error.context_mark or error.problem_mark, name)
    # At the end of the text the C parser names the line after the last.
    line = "".join(lines[here.line - 1 : here.line])
    sign = line[here.column - 1 : here.column]
    if _TAB_INDENT.match(line):
        return _tab(name, here.line, line.index("\t") + 1)
    if sign == "\t":
        return _tab(name, here.line, here.column)
    problem, context = error.problem or "", error.context or ""
    if "maximum nesting depth" in problem:
        return Problem(here, "too-deep", f"more than {DEEPEST} levels deep")
    for case in _CASES:
        if case.context in context and case.problem in problem:
            words = {"sign": sign, "line": there.line, "column": there.column}
            at = there if case.at_context else here
            found, expected = case.found.format(**words), case.expected.format(**words)
            near = _quoted(lines[at.line - 1], at.column) if case.quotable else ""
            return Problem(at, "yaml-syntax", found, expected, near)
    return Problem(here, "yaml-syntax", f"this is not YAML: {context} {problem}")


def position(mark: "yaml.Mark | CMark | None", name: str) -> Position:
    """Return the position of a parser's mark; line 0 if there is none."""
    return Position(name, mark.line + 1, mark.column + 1) if mark else Position(name, 0, 0)


@dataclass(frozen=True, slots=True)
class _Case:
    context: str
    problem: str
    found: str
    expected: str
    at_context: bool = False
    quotable: bool = False  # the value at that place is sound once it stands in quotes


_OPEN = "the {0} that opens here is not closed, or a comma is missing"
_CLOSE = "a comma between entries and {0} at the end"
# The first case whose words occur in the parser's complaint is taken.
_CASES = (
    _Case(
        "quoted scalar",
        "end of stream",
        "the quote that opens here is never closed",
        "a closing quote",
        at_context=True,
    ),
    _Case(
        "",
        "escape",
        'an unknown "\\" sequence in double quotes',
        'single quotes, in which "\\" is itself',
    ),
    _Case("flow seq", "expected ','", _OPEN.format('"["'), _CLOSE.format('"]"'), at_context=True),
    _Case(
        "flow map",
        "expected ','",
        _OPEN.format('"{{"'),
        _CLOSE.format('"}}"'),
        at_context=True,
    ),
    _Case(
        "",
        "mapping values are not allowed",
        'this ":" does not fit: wrong indentation, or a ":" in an unquoted value, '
        'or no space after the ":" on the line above',
        '"key: value", the keys of one block in one column',
    ),
    _Case(
        "",
        "expected ':'",
        'no ":" after the key',
        '"key: value", with a space after the colon',
        at_context=True,
    ),
    _Case(
        "",
        "cannot start any token",
        'an unquoted value may not begin with "{sign}"',
        "the value in quotes",
        quotable=True,
    ),
    _Case(
        "scanning a block scalar",
        "",
        'an unquoted ">" or "|" begins a text of several lines',
        "the value in quotes",
        at_context=True,
        quotable=True,
    ),
    _Case(
        "",
        "sequence entries are not allowed",
        'a list item ("- ") may not begin here',
        "the list on lines of its own",
    ),
    _Case("", "node content", "a value is missing before this", "a value, or the sign in quotes"),
    _Case(
        "parsing a block",
        "expected",
        "this does not belong to the block that begins on line {line}",
        "every key or item of that block in column {column}",
    ),
)


def _quoted(line: str, column: int) -> str:
    """Put the value that begins in `column` in quotes, up to where it seems to end."""
    value = re.split(r"[,}\]]|\s#", line[column - 1 :], maxsplit=1)[0].strip()
    return f'"{value}"' if value and not set(value) & {'"', "\\"} else ""


def _tab(name: str, line: int, column: int) -> Problem:
    at = Position(name, line, column)
    return Problem(at, "tab-indent", "a tab stands here", "spaces: YAML allows no tab here")
