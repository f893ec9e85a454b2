"""The error for a region, table, size or curve that the standards folder does not have."""

from collections.abc import Iterable

from faultfinder.source.problem import listed
from faultfinder.source.spelling import nearest


class UnknownStandard(ValueError):  # noqa: N818 - the name says what is unknown, as `BadInput` does
    """A name or size that no table has; the caller knows where in a file it was written.

    Attributes
    ----------
    found : str
        What was asked for, such as ``curve "E"``.
    expected : str
        What there is, in words.
    nearest : str
        What was probably meant, or ''.

    """

    found: str
    expected: str
    nearest: str

    def __init__(self, found: str, expected: str, nearest: str = "") -> None:
        self.found, self.expected, self.nearest = found, expected, nearest
        # All three, so that the exception can be pickled out of a child process.
        super().__init__(found, expected, nearest)

    def __str__(self) -> str:
        """Say it in one sentence."""
        meant = f" (did you mean {self.nearest}?)" if self.nearest else ""
        return f"unknown {self.found}: expected {self.expected}{meant}"


def unknown_name(what: str, name: str, choices: Iterable[str]) -> UnknownStandard:
    """Return the error for a name among `choices`, with the nearest right spelling."""
    known = list(choices)
    return UnknownStandard(f'{what} "{name}"', listed(known), nearest(name, known))
