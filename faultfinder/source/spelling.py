"""The nearest right spelling of a word that was not understood."""

import re
from collections.abc import Iterable
from difflib import SequenceMatcher, get_close_matches

# How alike two words must be (difflib's ratio). 0.6, difflib's own default, accepts one slip in
# three letters; common practice, no source.
_ALIKE = 0.6
_LONGEST = 80  # characters; comparing is quadratic, and nobody misspells a longer word


def nearest(word: str, choices: Iterable[str]) -> str:
    """Return the choice that `word` was probably meant to be, or '' if none is close.

    Capitals do not count, and `_`, `-` and a space are the same. Where choices differ only in
    these, the one closest to the letters as written is returned.
    """
    if len(word) > _LONGEST:
        return ""
    spellings: dict[str, list[str]] = {}
    for choice in choices:
        spellings.setdefault(_plain(choice), []).append(choice)
    close = get_close_matches(_plain(word), spellings, n=1, cutoff=_ALIKE)
    if not close:
        return ""
    return max(spellings[close[0]], key=lambda choice: SequenceMatcher(None, word, choice).ratio())


def _plain(word: str) -> str:
    return re.sub(r"[\s_-]+", " ", word.strip()).casefold()
