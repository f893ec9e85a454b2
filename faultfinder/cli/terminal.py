"""The terminal: how wide it is, and what colour adds to words that say it already."""

import shutil

import click

_NARROWEST, _WIDEST = 32, 80


def columns() -> int:
    """Return how many columns to fill: the terminal's, but never over 80."""
    return max(_NARROWEST, min(_WIDEST, shutil.get_terminal_size((_WIDEST, 24)).columns))


def coloured(text: str, role: str) -> str:
    """Dress a text in its role's colour; click takes colour out where output is no terminal."""
    match role:
        case "bad":
            return click.style(text, fg="red", bold=True)
        case "good":
            return click.style(text, fg="green", bold=True)
        case "doubt":
            return click.style(text, fg="yellow", bold=True)
        case "heading":
            return click.style(text, bold=True)
        case _:
            return click.style(text, dim=True)
