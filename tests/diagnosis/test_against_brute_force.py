"""Probabilities against brute force: every unknown drawn, nothing made linear (``brute.py``).

Each case has several suspects that share the probability. More of them, and how the differences
lie, by hand: ``agreement.py``.
"""

import numpy as np
import pytest
from modelled import LINE, RULEBOOK, TERMINATORS, readings

from diagnosis import brute
from diagnosis.agreement import compared
from faultfinder.diagnosis.catalogue import catalogue
from faultfinder.evidence.bench import Bench

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

WITHIN = 0.01
ENDS_WITHIN = 0.05  # of the interval's width
# Joints near what readings can show, a switch; with all read, one spoiled, two in three.
# Bridges that may lie in an outlet or anywhere along the runs beside it: 1003, 1008, 1019.
SEEDS = (1002, 1003, 1006, 1008, 1014, 1018, 1019, 1020)


@pytest.mark.parametrize("seed", SEEDS)
def test_probabilities_are_those_of_brute_force(seed):
    found = compared(seed)
    assert found.theirs.max() < 0.99, "nothing is shared, and nothing shown"
    assert found.error.max() < WITHIN, "too few points to tell"
    assert found.worst < WITHIN
    assert np.abs(found.ends).max(initial=0.0) < ENDS_WITHIN


def test_meshes_read_what_the_network_does():
    """Brute force rests on electricity of its own: the same for every fault of three outlets."""
    spots = tuple(reading.spot for reading in readings(LINE))
    bench = Bench(LINE, RULEBOOK.procedures, TERMINATORS, spots)
    as_drawn = np.zeros((1, brute.size(LINE)))
    for one in catalogue(LINE, brute.MODES)[1:]:
        unknowns = brute.Unknowns(LINE, one.ohms, as_drawn)
        r_ohm = float(unknowns.r_ohm[0])
        for way, theirs in zip(one.ways, brute.ways_of(LINE, one.faults[0]), strict=True):
            found = brute.predicted(LINE, theirs, spots, unknowns)
            assert found[0] == pytest.approx(bench.read([way.edit(r_ohm)])[0], rel=1e-9)
