"""Exit codes, and how a user's mistake reaches the terminal."""

from enum import IntEnum
from typing import IO, Any

import click

from faultfinder.source.problem import BadInput


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
