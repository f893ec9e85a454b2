"""Exit codes, and how a user's mistake reaches the terminal."""

from collections.abc import Iterable
from enum import IntEnum
from typing import IO, Any

import click

from faultfinder.source.problem import BadInput, listed
from faultfinder.source.spelling import nearest


class ExitCode(IntEnum):
    """What the exit code of every command means."""

    FINE = 0
    FOUND = 1
    BAD_INPUT = 2
    FAILED = 3


class BadInputError(click.ClickException):
    """A user's mistake: every problem with its place, and exit code 2."""

    exit_code = ExitCode.BAD_INPUT

    def __init__(self, bad: BadInput) -> None:
        super().__init__(str(bad))

    def show(self, file: IO[Any] | None = None) -> None:
        """Print the problems as they are; each begins with its own file and line."""
        click.echo(self.message, file=file, err=file is None)


def bad_option(
    option: str, found: str, expected: Iterable[str], word: str = ""
) -> click.BadParameter:
    """Return the error for an option's value: what was found, expected, and the nearest."""
    choices = list(expected)
    near = nearest(word, choices) or (word if len(choices) == 1 else "")
    meant = f"\n  try       {near}" if near else ""
    return click.BadParameter(f"{found}\n  expected  {listed(choices)}{meant}", param_hint=option)
