"""Live readings diagnosed: what the quick look takes them for, and what is made of them."""

import math
from dataclasses import replace

import numpy as np
import pytest
from evidence.test_live import CABLE, HALL, KITCHEN, RULEBOOK, made, site

from faultfinder.diagnosis import curves as curving
from faultfinder.diagnosis.catalogue import hypothesis
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.meter import meter_for
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Instrument, Reading, Terminators
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.source.quantity import Amount
from faultfinder.wiring.circuit import Point, Run
from faultfinder.wiring.fault import Fault

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

TWO = replace(
    KITCHEN,
    points=(Point("K1", "outlet", ("A",)), Point("K2", "outlet")),
    runs=(Run("DB", "K1", 20.0, CABLE), Run("K1", "K2", 9.0, CABLE)),
)
SITES = {
    "TN-C-S": site(TWO, HALL),
    "TT": site(TWO, HALL, system="TT", electrode_ohm=80.0),
}
LIVE = [procedure for procedure in RULEBOOK.procedures.values() if procedure.is_live]
WITH_OHMS = [mode for mode in RULEBOOK.modes.values() if mode.ohms]


@pytest.mark.parametrize("system", SITES)
@pytest.mark.parametrize("procedure", LIVE, ids=lambda procedure: procedure.id)
def test_the_quick_look_is_within_half_a_standard_deviation(procedure, system):
    """Between samples a straight line stands in; 0.31 of the usual instrument's was the worst."""
    spots = spots_of(procedure, TWO)
    bench = Bench(TWO, RULEBOOK.procedures, None, spots, SITES[system])
    meter = meter_for(spots, RULEBOOK.procedures, Instrument())
    for mode in WITH_OHMS:
        ways = [w for fault in mode.faults(TWO) for w in hypothesis(mode, TWO, fault).ways]
        bounds = mode.ohms.from_ohm, mode.ohms.to_ohm
        ohms = np.geomspace(*bounds, 12)
        ends = bench.read([way.edit(r) for way in ways for r in (0.0, 5.0, math.inf)])
        sampled = curving.sampled_over(bench, ways, np.tile(bounds, (len(ways), 1)))
        curves = curving.Curves(ends.reshape(len(ways), 3, -1), sampled)
        found = curves.at(np.broadcast_to(ohms, (len(ways), len(ohms))))
        exact = bench.read([way.edit(r) for way in ways for r in ohms]).reshape(found.shape)
        number = np.isfinite(exact) & np.isfinite(found)
        one, two = (meter.scale(np.where(number, read, 1.0)) for read in (found, exact))
        off = np.where(number, np.abs(one - two) / meter.sd(np.where(number, exact, 1.0)), 0.0)
        bad = (np.isfinite(found) != np.isfinite(exact)) | (off >= 0.5)
        # A loop is lost where too little drives it, and a device trips or does not: between two
        # samples that is known no closer.
        jumps = procedure.quantity in {"loop", "fault-current", "trip-time"}
        assert bad.mean() <= (0.03 if jumps else 0.0)


def test_samples_end_where_ranges_do():
    """At either end of any range a sample is what was worked out there, and never past it."""
    live = np.array([True])
    ohms = np.array([[0.01, 2e6], [0.05, 20.0], [1.0, 1.0]])
    x = curving.ohms_grid(ohms)
    read = np.linspace(5.0, 0.0, x.shape[1]) * np.ones((len(x), 1))
    samples = curving.Sampled(live, x, read[..., None])
    ends = samples.at(np.log(ohms))[..., 0]
    last = [read[row, np.flatnonzero(x[row] == x[row].max())[0]] for row in range(2)]
    assert ends[:2, 0] == pytest.approx(5.0)
    assert ends[:2, 1] == pytest.approx(last)
    assert (samples.at(np.log(ohms) + 1e-12) >= 0.0).all()


def found(fault, *tests):
    """Return the diagnosis of readings as the model gives them, to the last digit people write."""
    spots = tuple(s for test in tests for s in spots_of(RULEBOOK.procedures[test], TWO))
    whole = SITES["TN-C-S"]
    row = Bench(TWO, RULEBOOK.procedures, None, spots, whole).read([made(fault, TWO)])[0]
    taken = []
    for spot, value in zip(spots, row.tolist(), strict=True):
        in_ohm = RULEBOOK.procedures[spot.test].unit == "ohm"
        step = 0.01 if in_ohm else 1.0
        over = in_ohm and value > 2000
        amount = Amount(math.inf, "open") if over else Amount(round(value / step) * step, "=")
        taken.append(Reading(spot, amount, 0.0 if over else step))
    fitted = Terminators(10.0, 5.0)
    case = Case("", "", TWO, fitted, Instrument(), tuple(taken), installation=whole)
    return diagnose(case, RULEBOOK)


@pytest.mark.parametrize(
    ("fault", "tests"),
    [
        (Fault("open", ("N",), "K1..K2"), ("voltage", "voltage-low-impedance")),
        (Fault("open", ("E",), "K1..K2"), ("loop",)),
        (Fault("transposed", ("A", "N"), "DB..K1"), ("voltage",)),
        (Fault("high-resistance", ("N",), "K1..K2", 2.0), ("voltage-loaded", "loop")),
        (Fault("cross-circuit", ("N",), "K2", 0.3, "hall"), ("residual",)),
    ],
    ids=str,
)
def test_a_fault_is_found_from_live_readings(fault, tests):
    diagnosis = found(fault, *tests)
    assert diagnosis.verdict == "fault"
    leading = {
        (one.mode, one.conductors, one.at)
        for suspect in diagnosis.suspects
        if suspect.group == 1
        for one in suspect.faults
    }
    assert (fault.mode, fault.conductors, fault.at) in leading
    assert all(check.risk != "live" for check in diagnosis.next_checks)
    live = {procedure.id for procedure in LIVE}
    assert not live & {check.test for check in diagnosis.next_checks}


def test_a_sound_circuit_reads_sound():
    assert found(None, "voltage", "loop", "residual").verdict == "sound"
