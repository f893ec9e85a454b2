"""What each of many faults does by itself, and what that says of any two of them together.

Where neither of two faults acts on the other, what they change in a reading adds up: no pair need
be solved for. Where the sound circuit reads open there is no change to add to, but a fault that
lets it read a number does so alone if the other is not on the way: if it moves no reading there.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from faultfinder.diagnosis.catalogue import no_edit
from faultfinder.diagnosis.family import Family, Reader, rows_of
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Flags, Floats, Indices

_UNMOVED = 1e-6  # relative change of a reading that is but rounding


@dataclass(frozen=True, slots=True, eq=False)
class Alone:
    """Faults, each by itself, in some readings.

    Shapes, of f families and r readings.

    Attributes
    ----------
    ends : ndarray, shape (f, 3, r)
        Readings with the ohms of each at nil, in the middle, and open.
    sound : ndarray, shape (r,)
        Those of the sound circuit.
    moved : ndarray of bool, shape (f, r)
        Which of them it moves.
    felt : ndarray of bool, shape (f, r)
        Where the sound circuit reads open: which it would move if they did not.
    acting : ndarray of bool, shape (f, f)
        Which act on each other.
    """

    ends: Floats
    sound: Floats
    moved: Flags
    felt: Flags
    acting: Flags

    def adds_up(self, pairs: Indices) -> Flags:
        """Return for which pairs (n, 2) changes of readings add up."""
        i, j = pairs.T
        return np.asarray(~self.acting[i, j])

    def nine(self, pairs: Indices) -> tuple[Floats, Flags]:
        """Return readings of pairs at all ends of either's ohms, and for which that is known.

        Shapes (n, 3, 3, r), the second's ohms first, and (n,).
        """
        i, j = pairs.T
        opens = np.isinf(self.sound)
        with np.errstate(invalid="ignore"):
            nine = self.ends[i][:, None] + self.ends[j][:, :, None] - self.sound
        known = self.adds_up(pairs)
        if opens.any():
            moved, felt = self.moved[:, opens], self.felt[:, opens]
            known &= ~((moved[i] & felt[j]) | (moved[j] & felt[i])).any(axis=1)
            one, other = self.ends[i][..., opens], self.ends[j][..., opens]
            nine[..., opens] = np.minimum(one[:, None], other[:, :, None])
        return nine, known


def alone(
    bench: Bench, families: Sequence[Family], reader: Reader, readings: Sequence[int]
) -> Alone:
    """Return what each family does by itself in some readings of a bench."""
    edits = [make for family in families for make in family.makes()]
    read = bench.glimpse([no_edit, *edits])[:, list(readings)]
    sound = read[0]
    ends = read[1 + rows_of(families)]
    with np.errstate(invalid="ignore"):
        same = (ends == sound) | (np.isfinite(sound) & (np.abs(ends - sound) <= _UNMOVED * sound))
    moved = ~same.all(axis=1)
    felt = moved.copy()
    spots = [bench.spots[i] for i in readings]
    finite = {
        (spot.test, spot.at, spot.between): column
        for column, spot in enumerate(spots)
        if np.isfinite(sound[column])
    }
    for column in np.flatnonzero(np.isinf(sound)).tolist():
        spot = spots[column]
        sibling = finite.get((spot.test, spot.at, spot.between))
        felt[:, column] |= True if sibling is None else moved[:, sibling]
    return Alone(ends, sound, moved, felt, reader.touching | reader.interacting)
