"""Options that commands share."""

from collections.abc import Callable
from typing import TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., object])


def format_option(each: str) -> Callable[[Command], Command]:
    """Return the option ``--format``, passed on as ``form``; ``each`` is what has an object."""
    return click.option(
        "--format",
        "form",
        type=click.Choice(["text", "json"]),
        default="text",
        show_default=True,
        help=f"text for people, json for scripts: one object a line, one for each {each}.",
    )
