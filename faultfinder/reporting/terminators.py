"""A choice of terminators as text: which two, against those fitted, and why."""

from faultfinder.diagnosis.terminators import APART_SD, Choice, Rated
from faultfinder.diagnosis.wording import spot_in_words
from faultfinder.readings.reading import Terminators
from faultfinder.reporting.layout import WIDTH, Style, items, paragraph, plain
from faultfinder.standards.regions import Words

_WHY = (
    "Resistors that are too small drown in the ohms of cable and leads; too large, a poor joint "
    "drowns in what the instrument may be off by; too much alike, exchanged conductors read as "
    "they should."
)


def choice_text(choice: Choice, words: Words, width: int = WIDTH, style: Style = plain) -> str:
    """Return a choice of terminators as text of at most ``width`` columns, in a region's words."""
    best, fitted = choice.best, choice.fitted
    head = f"Fit {_pair(best.terminators, words)} (values of the E12 series, IEC 60063)."
    lines = [style(line, "heading") for line in paragraph(head, width)]
    lines += paragraph(_told(best), width, "  ")
    lines += paragraph(
        f"With {_pair(fitted.terminators, words)}: {_lower(_told(fitted))}", width, "  "
    )
    lines += paragraph(_verdict(best, fitted), width, "  ")
    if choice.next_best:
        lines += paragraph("Nearly as good:", width, "  ")
        said = (
            f"{_pair(one.terminators, words)}: {one.told} of {one.of}" for one in choice.next_best
        )
        lines += items(said, width)
    return "\n".join([*lines, *paragraph(_WHY, width, "  ")])


def _pair(terminators: Terminators, words: Words) -> str:
    return (
        f"{terminators.active_ohm:g} ohm on {words.active} and "
        f"{terminators.neutral_ohm:g} ohm on {words.neutral}"
    )


def _told(rated: Rated) -> str:
    one, two = rated.closest
    return (
        f"Tells {rated.told} of {rated.of} pairs of faults apart by {APART_SD:g} standard "
        f"deviations; the closest of those, {one} and {two}, differ by {rated.closest_sd:.1f}, "
        f"most in {spot_in_words(rated.where)}."
    )


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _verdict(best: Rated, fitted: Rated) -> str:
    more = best.told - fitted.told
    if more <= 0:
        return "What is fitted does as well."
    return f"That is {more} pair{'s' if more > 1 else ''} more than with what is fitted."
