"""Headings, paragraphs and lists that fit a narrow screen."""

import textwrap
from collections.abc import Callable, Iterable

Style = Callable[[str, str], str]
"""Dress a text in a role: ``good``, ``bad``, ``doubt``, ``heading`` or ``quiet``."""

WIDTH = 80


def plain(text: str, _role: str) -> str:
    """Leave a text as it is."""
    return text


def paragraph(text: str, width: int, first: str = "", rest: str | None = None) -> list[str]:
    """Return a text as lines that fit, the first one led by ``first``, the others by ``rest``."""
    hang = " " * len(first) if rest is None else rest
    return textwrap.wrap(
        text, width, initial_indent=first, subsequent_indent=hang, break_on_hyphens=False
    )


def heading(text: str, width: int, style: Style) -> list[str]:
    """Return a heading as lines that fit."""
    return [style(line, "heading") for line in paragraph(text, width)]


def percent(value: float) -> str:
    """Write a share, never all of it or nothing where that is only rounding."""
    if value in {0.0, 1.0}:
        return f"{value:.0%}"
    return f"{min(max(value, 0.001), 0.999):.1%}"


def items(texts: Iterable[str], width: int, lead: str = "  - ") -> list[str]:
    """Return a list, an item a paragraph."""
    return [line for text in texts for line in paragraph(text, width, lead)]


def odds(probability: float) -> str:
    """Return a probability as people say it: counts of ten, not digits it does not have."""
    if probability >= 0.985:
        return "almost certain"
    if probability < 0.015:
        return "very unlikely"
    if probability < 0.075:
        return "about 1 in 20"
    if 0.45 <= probability < 0.55:
        return "about 1 in 2"
    return f"about {max(1, min(9, round(probability * 10)))} in 10"
