"""Readings of pairs at any ohms, from nine solutions of each.

In each of two ohms alone a reading is a ratio of two straight lines, so that nine solutions of a
pair, either ohms at nil, in the middle and open, give it for all ohms of both.
"""

import numpy as np

from faultfinder.diagnosis.curves import Curves
from faultfinder.evidence.lean import Floats


def over(nine: Floats, r_ohm: Floats, s_ohm: Floats) -> Floats:
    """Return readings (n, k, m, r) at all of k ohms (n, k) by m ohms (n, m), from nine."""
    ends = np.stack([Curves(nine[:, j]).at(r_ohm) for j in range(3)], axis=2)
    n, k, _, r = ends.shape
    flat = Curves(ends.reshape(n * k, 3, r)).at(np.repeat(s_ohm, k, axis=0))
    return flat.reshape(n, k, -1, r)
