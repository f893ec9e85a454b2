"""What facts may hold: their kinds, the fields of each kind, and the words of each field.

Signs are checked against it when they are read, and ``faultfinder.evidence`` makes facts in it, so
that a sign can ask for nothing that no fact will ever say.

``reading``, one for each reading: ``test``, ``at``, ``switch``, ``between``, ``grade``, ``like``
(the pair whose value it reads instead, or none), ``spread`` (below), ``lowest`` (yes for the lowest
of its pair among all places read), ``switched`` (whether the point has a switch).

``switch``, one for each point and pair read in both positions: ``test``, ``at``, ``between``,
``effect`` (``opens``: a value with the switch on, open with it off; ``closes``: the reverse;
``none``: alike in both; ``other``), ``should`` (the effect the drawing calls for).

``spread`` of a reading that is off looks at the same pair read elsewhere:

========================  ========================================================================
``fine``                  it is as expected
``beyond``                the last point read on the way to the board is off too
``everywhere``            nothing nearer the board was read, and all that was read is off
``here-and-beyond``       right up to here, off here and at all points read that are fed from here
``only-here``             off here, right at all points read that are fed from here
``last-read``             off here, right before, and nothing fed from here was read
``scattered``             off here and at some of the points fed from here, but not all
``on-ring``               off, at a point that a ring feeds from both sides
========================  ========================================================================
"""

from collections.abc import Mapping
from typing import Literal, get_args

FactKind = Literal["reading", "switch"]
Grade = Literal["as-expected", "high", "low", "open", "short", "conducts"]
Spread = Literal[
    "fine",
    "beyond",
    "everywhere",
    "here-and-beyond",
    "only-here",
    "last-read",
    "scattered",
    "on-ring",
]
Effect = Literal["opens", "closes", "none", "other"]
Should = Literal["opens", "none"]

NOTHING = "none"
"""The word of a field that has nothing to say."""
_YES_NO = ("yes", "no")

FIELDS: Mapping[str, Mapping[str, tuple[str, ...] | None]] = {
    "reading": {
        "test": None,
        "at": None,
        "switch": ("on", "off", NOTHING),
        "between": None,
        "grade": get_args(Grade),
        "like": None,
        "spread": get_args(Spread),
        "lowest": _YES_NO,
        "switched": _YES_NO,
    },
    "switch": {
        "test": None,
        "at": None,
        "between": None,
        "effect": get_args(Effect),
        "should": get_args(Should),
    },
}
"""The words of each field; None where tests and circuits have them: a test's id, a point, a pair
that a test reads (``like`` may be ``none`` too)."""
