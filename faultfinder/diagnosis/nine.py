"""Readings of pairs at any ohms, from nine solutions of each.

In each of two ohms alone a reading is a ratio of two straight lines, so that nine solutions of a
pair, either ohms at nil, in the middle and open, give it for all ohms of both. Between nil and open
it only rises or only falls, so that the four of those that are corners bound it for all: most pairs
need no more.
"""

import numpy as np

from faultfinder.diagnosis.alone import Alone
from faultfinder.diagnosis.curves import ENDS_OHM, Curves
from faultfinder.diagnosis.family import Reader
from faultfinder.evidence.lean import Flags, Floats, Indices

_NIL, _OPEN = 0, len(ENDS_OHM) - 1
_CORNERS = [(i, j) for j in (_NIL, _OPEN) for i in (_NIL, _OPEN)]
_REST = [(i, j) for j in range(3) for i in range(3) if (i, j) not in _CORNERS]


class Nine:
    """Readings of n pairs at the three ends of either's ohms, solved for as far as they are wanted.

    Those without ohms are the same at all three.
    """

    def __init__(self, reader: Reader, alone: Alone, has_ohms: Flags, pairs: Indices) -> None:
        """Take what adds up as it is, and solve for the corners of what does not."""
        self._reader, self._pairs = reader, pairs
        self._nine, self._known = alone.nine(pairs)
        self._has_ohms = has_ohms[pairs]
        # Each batch of pairs that touch has its own network to set up: theirs is only one.
        touching = ~self._known & reader.touching[pairs[:, 0], pairs[:, 1]]
        self._solve(np.flatnonzero(touching), [*_CORNERS, *_REST])
        self._solve(np.flatnonzero(~self._known & ~touching), _CORNERS)
        self._known |= touching

    def range(self) -> tuple[Floats, Floats]:
        """Return the least and the most that readings are over all ohms, both (n, r)."""
        corners = self._nine[:, :: _OPEN - _NIL, :: _OPEN - _NIL]
        return corners.min(axis=(1, 2)), corners.max(axis=(1, 2))

    def all_of(self, some: Indices) -> Floats:
        """Return all nine of some of the pairs, (some, 3, 3, r), the second's ohms first."""
        self._solve(some[~self._known[some]], _REST)
        return self._nine[some]

    def _solve(self, those: Indices, ends: list[tuple[int, int]]) -> None:
        """Fill in these pairs at ends of the first's and the second's ohms."""
        first, second = self._has_ohms[those].T
        wanted = [those[(first | (i == _NIL)) & (second | (j == _NIL))] for i, j in ends]
        i, j = np.repeat(np.array(ends), [len(rows) for rows in wanted], axis=0).T
        rows = np.concatenate(wanted)
        if rows.size:
            self._nine[rows, j, i] = self._reader.read(self._pairs[rows], i, j)
        for end in range(1, len(ENDS_OHM)):
            self._nine[those[~first], :, end] = self._nine[those[~first], :, _NIL]
            self._nine[those[~second], end] = self._nine[those[~second], _NIL]


def over(nine: Floats, r_ohm: Floats, s_ohm: Floats) -> Floats:
    """Return readings (n, k, m, r) at all of k ohms (n, k) by m ohms (n, m), from nine."""
    ends = np.stack([Curves(nine[:, j]).at(r_ohm) for j in range(3)], axis=2)
    n, k, _, r = ends.shape
    flat = Curves(ends.reshape(n * k, 3, r)).at(np.repeat(s_ohm, k, axis=0))
    return flat.reshape(n, k, s_ohm.shape[1], r)
