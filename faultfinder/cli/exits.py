"""Exit codes, and how a user's mistake reaches the terminal."""

import os
from collections.abc import Iterable
from enum import IntEnum
from pathlib import Path
from textwrap import fill
from typing import IO, Any

import click

from faultfinder.source.problem import WIDTH, listed
from faultfinder.source.spelling import nearest


class ExitCode(IntEnum):
    """What the exit code of every command means."""

    FINE = 0
    FOUND = 1
    BAD_INPUT = 2
    FAILED = 3


class RefusedError(click.ClickException):
    """A user's mistake, in words that stand by themselves, without click's "Error: " before them.

    Of files these are all problems, and each begins with its own file and line.
    """

    exit_code = ExitCode.BAD_INPUT

    def __init__(self, why: Exception) -> None:
        super().__init__(str(why))

    def show(self, file: IO[Any] | None = None) -> None:
        """Print the words as they are."""
        click.echo(self.message, file=file, err=file is None)


class UnavailableError(RefusedError):
    """Something the program needs is not there; the words say how to get it."""

    exit_code = ExitCode.FAILED


def failure(error: Exception, case: Path | None = None) -> str:
    """Say that the program itself failed, and what to do about that."""
    on, report = (f" on {case}", " with the case file") if case else ("", "")
    return (
        f"faultfinder itself failed{on}: {str(error) or type(error).__name__}\n"
        f"Set FAULTFINDER_TRACE=1 and run again to see where, and report it{report}."
    )


def traced() -> bool:
    """Tell whether the program's own failures are to be raised and not told."""
    return bool(os.environ.get("FAULTFINDER_TRACE"))


def is_given(name: str) -> bool:
    """Return whether an option of the running command was given, and not left at its default."""
    source = click.get_current_context().get_parameter_source(name)
    return source is not click.core.ParameterSource.DEFAULT


def bad_option(
    option: str, found: str, expected: Iterable[str], word: str = ""
) -> click.BadParameter:
    """Return the error for an option's value: what was found, expected, and the nearest."""
    choices = list(expected)
    near = nearest(word, choices) or (word if len(choices) == 1 else "")
    known = fill(
        listed(choices),
        WIDTH,
        initial_indent="  expected  ",
        subsequent_indent=" " * 12,
        break_long_words=False,
        break_on_hyphens=False,
    )
    meant = f"\n  try       {near}" if near else ""
    return click.BadParameter(f"{found}\n{known}{meant}", param_hint=option)
