"""How many examples a property draws: by default so few that the whole suite is passed in minutes.

``HYPOTHESIS_PROFILE=thorough`` has many more of every property, slow ones too.
"""

from hypothesis import settings

USUAL, THOROUGH = 40, 5000


def slow(examples):
    """Return settings of a property that is slow: so many by default, and all where many are."""
    is_usual = settings.default.max_examples == USUAL
    return settings(max_examples=examples) if is_usual else settings()
