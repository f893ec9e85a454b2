"""The alarm: what it claims against what it does on readings drawn at random.

The second opinion on λ is a dense covariance and its inverse; on the false alarms and the power it
is the alarm raised on readings with errors drawn from that covariance.
"""

from statistics import NormalDist

import numpy as np
import pytest
from modelled import BRANCHED, LINE, LONG, RULEBOOK
from planned import lineup

from faultfinder.coverage.power import Alarm, scatter_of
from faultfinder.diagnosis.catalogue import hypothesis
from faultfinder.wiring.fault import Fault

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced


def dense(alarm, numbers):
    """Return the covariance of the sound circuit's readings that are numbers."""
    spread = alarm.spread[numbers]
    return np.diag(alarm.variance[numbers]) + spread @ spread.T


def test_information_is_that_of_the_dense_covariance():
    alarm = Alarm(lineup(BRANCHED, ("terminated", "linked-out")), 0.01)
    read = alarm.lineup.samples.read[::37]
    moved, numbers = alarm.moved(read)
    for row, found in enumerate(alarm.information(read)):
        use = numbers[row]
        d = moved[row][use]
        wanted = d @ np.linalg.solve(dense(alarm, use), d) if use.any() else 0.0
        assert found == pytest.approx(wanted, rel=1e-6, abs=1e-9)


def test_more_readings_never_tell_less():
    alarm = Alarm(lineup(LINE, ("terminated", "linked-out")), 0.01)
    read = alarm.lineup.samples.read
    rows = np.array([spot.test == "terminated" for spot in alarm.lineup.spots])
    assert (alarm.information(read, rows) <= alarm.information(read) + 1e-6).all()
    assert (alarm.power(read, rows) <= alarm.power(read) + 1e-9).all()


@pytest.mark.parametrize("tests", [("terminated",), ("terminated", "linked-out")])
def test_as_many_sound_circuits_raise_the_alarm_as_are_allowed(tests):
    alarm = Alarm(lineup(LONG, tests), 0.05)
    sound = alarm.lineup.sound.read[0]
    numbers = np.isfinite(sound)
    covariance = dense(alarm, numbers)
    rng = np.random.default_rng(7)
    errors = rng.multivariate_normal(np.zeros(numbers.sum()), covariance, 3000)
    inverse = np.linalg.inv(covariance)
    moved, shown = alarm.moved(alarm.lineup.samples.read)
    directions = moved[shown[:, numbers].all(axis=1)][:, numbers]
    whitened = directions @ inverse
    lengths = np.sqrt((whitened * directions).sum(-1))
    useful = lengths >= 1  # what moves less is not looked for
    w = errors @ (whitened[useful] / lengths[useful, None]).T
    rate = (w.max(axis=1) > alarm.threshold).mean()
    assert rate == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / 3000))


def test_no_test_sees_more_than_one_that_knows_its_fault():
    alarm = Alarm(lineup(LONG), 0.01)
    looks = alarm.sampled
    assert (looks.power <= looks.most + 1e-12).all()
    assert looks.most[looks.root == 0] == pytest.approx(looks.surely[looks.root == 0])
    # 2.326 standard deviations leave 1 in 100 beyond them, so that at as many half are seen.
    at = np.abs(np.where(looks.surely < 1e-4, looks.root, 9) - 2.326).argmin()
    assert looks.root[at] == pytest.approx(2.326, abs=0.3)
    assert looks.most[at] == pytest.approx(0.5 + 0.4 * (looks.root[at] - 2.326), abs=0.01)


@pytest.mark.parametrize("r_ohm", [0.15, 0.25, 0.4])
def test_the_power_is_the_share_of_alarms_with_the_fault_in(r_ohm):
    """The alarm for this very fault; the others could only add to it."""
    alarm = Alarm(lineup(LONG), 0.01)
    fault = Fault("high-resistance", ("N",), "S4..S5")
    (way,) = hypothesis(RULEBOOK.modes[fault.mode], LONG, fault).ways
    read = alarm.lineup.bench.read([way.edit(r_ohm)])
    moved, numbers = alarm.moved(read)
    use = numbers[0]
    covariance, d = dense(alarm, use), moved[0][use]
    weights = np.linalg.solve(covariance, d) / np.sqrt(d @ np.linalg.solve(covariance, d))
    rng = np.random.default_rng(11)
    errors = rng.multivariate_normal(np.zeros(use.sum()), covariance, 4000)
    share = ((d + errors) @ weights > alarm.threshold).mean()
    assert alarm.power(read)[0] == pytest.approx(share, abs=0.03)


def test_an_open_is_seen_at_once_and_a_value_for_an_open_by_the_instruments_range():
    alarm = Alarm(lineup(LINE), 0.01)
    sound = alarm.lineup.sound.read
    lost = np.where(np.isfinite(sound), np.inf, sound)
    assert alarm.surely(lost) == [1.0]
    assert alarm.surely(sound)[0] == pytest.approx(0.0, abs=1e-9)
    appeared = sound.copy()
    (column,) = np.flatnonzero(~np.isfinite(sound[0]))[:1]
    appeared[0, column] = 2000.0  # half way in decades from 200 ohm to 20 kohm of 200 to 20 M
    assert alarm.surely(appeared)[0] == pytest.approx(0.8)


def test_a_reading_beyond_its_limit_is_a_finding_however_far_sound_circuits_spread():
    alarm = Alarm(lineup(LINE, ("insulation",)), 0.01)
    low = np.full((1, len(alarm.lineup.spots)), 1e5)
    low[0, 0] = 0.7  # Mohm, and the limit is 1
    by_test = NormalDist().cdf(np.sqrt(alarm.information(low)[0]) - alarm.threshold)
    assert by_test < 0.9
    assert alarm.power(low)[0] > 0.99


def test_the_scatter_is_the_groups_own():
    known = lineup(LINE)
    assert scatter_of(known) == pytest.approx(np.prod(known.tolerances.scatter) ** 0.25)
