"""Quick scores: near the readings as the model of scatter has it, far off with a floor."""

import math

import numpy as np
import pytest
from modelled import LINE

from diagnosis.simulated import bench_and_jury, seeded, taken
from faultfinder.diagnosis.catalogue import no_edit
from faultfinder.diagnosis.quick import Quick


@pytest.fixture(scope="module")
def jury():
    _, found = bench_and_jury(LINE, taken(LINE, no_edit, seeded(3)))
    return found


def test_what_was_read_scores_best(jury):
    """Against predictions a little off, each reading in turn."""
    quick, value = Quick(jury), jury.observed.value
    best = quick.scores(value)
    for index in np.flatnonzero(jury.observed.number).tolist():
        off = value.copy()
        off[index] *= 1.05
        assert quick.scores(off) < best


def test_near_the_readings_it_is_the_score_of_each_by_itself(jury):
    """Accuracy at what was read for that at what is predicted: 1 % of a reading changes little."""
    sound = jury.sound.read
    assert Quick(jury).scores(sound)[0] == pytest.approx(jury.glance(sound)[0], abs=0.1)


def test_a_number_that_cannot_be_costs_a_slip_and_no_more(jury):
    quick, value = Quick(jury), jury.observed.value
    index = int(np.flatnonzero(jury.observed.number)[0])
    costs = []
    for wrong in (10.0, 1e3, math.inf):
        off = value.copy()
        off[index] = wrong * value[index]
        costs.append(float(quick.scores(value) - quick.scores(off)))
    assert costs == pytest.approx([costs[0]] * 3)
    assert 5.0 < costs[0] < 15.0


def test_any_shape_of_predictions_will_do(jury):
    read = np.broadcast_to(jury.sound.read, (2, 3, jury.sound.read.shape[1]))
    assert Quick(jury).scores(read).shape == (2, 3)
