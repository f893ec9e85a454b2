"""What a fault could be taken for, against every pair weighed outright over a fine grid of ohms."""

import numpy as np
import pytest
from modelled import LINE, RULEBOOK, case
from planned import covered, group_of, lineup, of

from faultfinder.coverage.by_model import chosen_samples
from faultfinder.coverage.isolation import Isolation
from faultfinder.coverage.power import Alarm, scatter_of
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.groups import BOUND_NATS

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced


def looked_at(known):
    """Return the isolation of samples that are surely seen, and those samples."""
    alarm = Alarm(known, 0.01)
    power = alarm.power(known.samples.read)
    some = known.samples[chosen_samples(known) & (power > 0.5)]
    rows = np.ones(len(known.spots), dtype=bool)
    return Isolation(known, alarm.spread, alarm.variance, some, rows)


def outright(isolation, sample):
    """Return the nats to every family at its best ohms of a fine grid, by a dense covariance.

    The sample's own ohms are tried too: of a fault of many ohms a grid may miss even itself.
    """
    known, read = isolation.lineup, isolation.samples.read[sample]
    number = np.isfinite(read) & (known.meter.chance_open(read) < 0.5)
    sound = known.sound.read[0]
    both = np.isfinite(read) & np.isfinite(sound) & (sound > 0)
    grown = np.clip(np.where(both, read, 1) / np.where(both, sound, 1), 1, 3)
    spread = (isolation.spread * grown[:, None])[number]
    sd = scatter_of(known) * known.meter.sd(read)[number]
    inverse = np.linalg.inv(np.diag(sd**2) + spread @ spread.T)
    found = []
    for family in range(len(known.of)):
        ohms = np.geomspace(known.low[family], known.high[family], 1200)
        ohms = np.append(ohms, np.clip(isolation.samples.r_ohm[sample], ohms[0], ohms[-1]))
        if not known.ranged[family]:
            ohms = ohms[:1]
        curve = known.read_at(np.full(len(ohms), family), ohms)
        other = np.isfinite(curve) & (known.meter.chance_open(curve) < 0.5)
        strays = (other != number).sum(-1)
        off = (np.where(other, curve, 0.0) - np.where(number, read, 0.0))[:, number]
        nats = 0.5 * np.einsum("ki,ij,kj->k", off, inverse, off)
        found.append(np.where(strays > 0, np.inf, nats).min())
    return np.array(found)


@pytest.mark.parametrize("tests", [("terminated",), ("linked-out",)])
def test_no_pair_is_lost_and_none_invented(tests):
    isolation = looked_at(lineup(LINE, tests))
    samples, families, _ = isolation.pairs
    checked = 0
    for sample in range(0, len(isolation.samples.family), 31):
        nats = outright(isolation, sample)
        told = set(families[samples == sample].tolist())
        # A grid is never at the very best ohms: what is near the bound may fall either way.
        assert set(np.flatnonzero(nats < 0.6 * BOUND_NATS)) <= told
        assert told <= set(np.flatnonzero(nats < 1.6 * BOUND_NATS))
        checked += len(told)
    assert checked > 8


def test_a_fault_without_ohms_shares_its_group_with_what_a_diagnosis_puts_there():
    coverage = covered(LINE)
    for said in ("open E at S3", "transposed A-N at S1", "switch-stuck-on at S1"):
        fault = of(coverage, said).fault
        diagnosis = diagnose(case(LINE, [fault]), RULEBOOK)
        leading = {
            str(s.faults[0]).split(" ohm")[0]
            for s in diagnosis.leading
            if s.faults and s.faults[0].r_ohm is None and not s.faults[0].set_up
        }
        plain = {one for one in group_of(coverage, said) if "bridged" not in one}
        assert {one for one in plain if "high-resistance" not in one} == leading


def test_the_last_outlet_cannot_be_told_from_the_run_that_feeds_it():
    coverage = covered(LINE)
    for mode in ("open A", "open N", "open E", "transposed A-N", "transposed N-E"):
        assert group_of(coverage, f"{mode} at S3") == {f"{mode} at S2..S3", f"{mode} at S3"}
        assert of(coverage, f"{mode} at S3").places == 2
        assert of(coverage, f"{mode} at S1").places == 1


def test_shares_grow_with_the_places_allowed():
    first = covered(LINE)
    assert first.isolated[1] <= first.isolated[2] <= first.isolated[3] <= 1
    assert all(first.isolated_of_all[n] <= first.isolated[n] for n in (1, 2, 3))
