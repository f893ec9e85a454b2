"""What a second fault could gain, against trying multiples of its change one by one."""

import numpy as np
import pytest

from diagnosis.juries import jury
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.room import most_gained
from faultfinder.evidence.lean import Lean


@pytest.mark.parametrize("least", [0.0, 0.7])
def test_most_gained_is_the_best_multiple_of_a_change(least):
    """Against trying multiples one by one; slopes of 5 % of all readings together, one scatter."""
    taken = jury(10.1, 10.35, 10.2, 10.6, 10.4)
    sound = Lean(np.full((1, 5), 10.0), ("all",), np.full((1, 5, 1), 10.0))
    told = Jury(taken.observed, taken.tolerances, sound)
    read = np.array([10.0, 10.1, 10.1, 10.2, 10.2])
    spread = np.full((5, 1), 0.5)
    changed = np.array([[10.0, 10.0, 10.0, 10.5, 10.5], [10.0, 10.2, 10.0, 10.0, 10.0]])

    def log_at(change, times):
        # Accuracy stays that of what is read first, as in the formula.
        joint = told.joint(read[None], spread[None])
        joint.error = joint.error - times * change
        again = type(joint)(joint.error, joint.variance, joint.spread, joint.used)
        return float(again.log()[0])

    gained = most_gained(told, read, spread, np.zeros(5, bool), changed, np.full(2, least))
    for change, gain in zip(changed - 10.0, gained.tolist(), strict=True):
        tried = [log_at(change, t) for t in np.linspace(-3, 3, 6001) if abs(t) >= least - 1e-9]
        assert gain == pytest.approx(max(tried) - log_at(change, 0.0), abs=1e-5)


def test_a_change_that_all_readings_share_gains_nothing_to_speak_of():
    taken = jury(11.0, 11.0, 11.0)
    sound = Lean(np.full((1, 3), 10.0), ("all",), np.full((1, 3, 1), 10.0))
    told = Jury(taken.observed, taken.tolerances, sound)
    none, least = np.zeros(3, bool), np.zeros(1)
    same, own = np.full((1, 3), 10.5), np.array([[10.5, 10.0, 10.0]])
    read, leaning = np.full(3, 10.0), np.full((3, 1), 1.0)
    assert most_gained(told, read, leaning, none, same, least)[0] < 1.0
    assert most_gained(told, read, np.zeros((3, 1)), none, same, least)[0] > 10.0
    assert most_gained(told, read, np.zeros((3, 1)), none, own, least)[0] > 3.0


def test_what_a_change_makes_open_is_left_aside():
    told = jury(10.0, 10.5)
    read, leaning = np.full(2, 10.0), np.zeros((2, 1))
    changed = np.array([[np.inf, 10.5], [10.0, 10.5]])
    one, other = most_gained(told, read, leaning, np.zeros(2, bool), changed, np.zeros(2))
    assert one == pytest.approx(other)


@pytest.mark.parametrize(
    ("which", "change", "called"),
    [
        pytest.param([1], [0.0, 3.0, 0.0, 0.0], [], id="the change explains the slip"),
        pytest.param([1], [0.0, 0.0, 0.4, 0.0], [1], id="it has nothing to do with the slip"),
        pytest.param([0, 1], [0.0, 3.0, 0.0, 0.0], [0], id="it explains one of two"),
        pytest.param([0, 1], [-2.0, 3.0, 0.0, 0.0], [], id="it explains both"),
        pytest.param([0, 1, 3], [0.0, 3.0, 0.0, 0.0], [0, 3], id="it explains one of three"),
        pytest.param([0, 1, 3], [-2.0, 3.0, 0.0, 0.0], [3], id="it explains two of three"),
    ],
)
def test_a_slip_that_a_change_explains_gains_what_a_slip_costs(which, change, called):
    """Against trying multiples one by one, with the readings that remain slips left out."""
    values = np.array([10.0, 10.0, 10.02, 10.0])
    values[which] = np.array([6.0, 16.0, 0.0, 25.0])[which]
    told = jury(*values.tolist(), "open")
    read, leaning, slips = np.full(5, 10.0), np.full((5, 1), 0.05), np.zeros(5, bool)
    slips[[*which, 4]] = True
    change = np.array([*change, 0.0])
    assert (told.weigh(read[None], leaning[None]).slips[0] == slips).all()

    def best(out, multiples):
        held = ~np.isin(np.arange(5), out)
        joint = told.joint(read[None], leaning[None])
        logs = []
        for times in multiples:
            error = joint.error - times * change
            tried = type(joint)(error, joint.variance, joint.spread, joint.used & held)
            at_each = tried.scaled(np.array(told.scatters)).log()
            logs.append(np.logaddexp.reduce(at_each) + told.slip_log[out].sum())
        return max(logs)

    most = best(called, np.linspace(-3, 3, 6001)) - best(which, [0.0])
    gained = most_gained(told, read, leaning, slips, read + change[None], np.zeros(1))
    assert gained[0] == pytest.approx(most, abs=1e-4)
    assert gained[0] < 20 * max(1, len(which) - len(called))
