"""What the instrument and the drawing may be off by."""

import math

import numpy as np
import pytest
from modelled import LINE, RULEBOOK, TERMINATORS

from faultfinder.diagnosis.catalogue import no_edit
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Lean
from faultfinder.evidence.meter import meter_for
from faultfinder.readings.reading import Accuracy, Instrument, Spot

OPEN = math.inf
LOW = Spot("terminated", "S1", "on", "A-E")
HIGH = Spot("insulation", "S1", "on", "A-E")
KNOWN = Instrument(
    resistance=Accuracy(0.02, 0.05, 2000.0, stated=True),
    insulation=Accuracy(0.03, 0.1, 500.0, stated=True),
)


def meter(*spots, instrument=KNOWN, shown=None):
    return meter_for(spots, RULEBOOK.procedures, instrument, shown)


def lean(read, slopes, *names):
    return Lean(np.array([read], dtype=float), names, np.array([slopes], dtype=float))


def test_accuracy_is_a_share_and_a_fixed_part_and_the_last_digits_rounding():
    assert meter(LOW).sd(np.array([10.0])) == pytest.approx(0.02 * 10 + 0.05)
    # Rounding to a step spreads evenly over it, with a standard deviation of step / √12.
    with_step = meter(LOW).sd(np.array([10.0]), np.array([0.5]))
    assert with_step == pytest.approx(math.hypot(0.25, 0.5 / math.sqrt(12)))


def test_accuracy_of_insulation_is_its_share_on_the_scale_it_is_judged_on():
    for read in (0.0, 0.1, 50.0, 400.0):
        assert meter(HIGH).sd(np.array([read])) == pytest.approx(0.03)
    with_step = meter(HIGH).sd(np.array([50.0]), np.array([1.0]))
    shift = 0.1 / 0.03
    expected = math.hypot(0.03 * 50 + 0.1, 1 / math.sqrt(12)) / (50 + shift)
    assert with_step == pytest.approx(expected)


def test_an_open_prediction_has_a_finite_accuracy():
    assert np.isfinite(meter(LOW, HIGH).sd(np.array([OPEN, OPEN]))).all()


def test_the_scale_of_ohms_is_themselves_and_of_insulation_a_logarithm():
    both = meter(LOW, HIGH)
    scaled = both.scale(np.array([20.0, 20.0]))
    assert scaled == pytest.approx([20.0, math.log(20.0 + 0.1 / 0.03)])
    assert both.unscale(scaled) == pytest.approx([20.0, 20.0])


@pytest.mark.parametrize("fixed", [0.0, 0.1])
def test_the_scale_has_a_place_for_zero_whatever_the_leaflet_says(fixed):
    shorted = meter(HIGH, instrument=Instrument(insulation=Accuracy(0.05, fixed, stated=True)))
    zero = shorted.scale(np.array([0.0]))
    assert np.isfinite(zero)
    assert np.isfinite(shorted.sd(np.array([0.0])))
    assert shorted.unscale(zero) == pytest.approx([0.0], abs=1e-12)


@pytest.mark.parametrize(
    ("read", "chance"), [(0.0, 0.0), (1999.0, 0.0), (2000.0, 0.0), (2001.0, 1.0), (OPEN, 1.0)]
)
def test_a_known_range_ends_at_its_end(read, chance):
    assert meter(LOW).chance_open(np.array([read])) == chance


@pytest.mark.parametrize(
    ("spot", "read", "chance"),
    [
        (LOW, 0.0, 0.0),
        (LOW, 200.0, 0.0),
        (LOW, math.sqrt(200.0 * 2e7), 0.5),  # half of the ratios between 200 ohm and 20 Mohm
        (LOW, 2e7, 1.0),
        (LOW, OPEN, 1.0),
        (HIGH, 100.0, 0.0),
        (HIGH, 1000.0, 0.5),
        (HIGH, 1e4, 1.0),
        (HIGH, OPEN, 1.0),
    ],
)
def test_an_unknown_range_may_end_at_any_ratio(spot, read, chance):
    unknown = meter(spot, instrument=Instrument())
    assert unknown.chance_open(np.array([read])) == pytest.approx(chance)


def test_what_it_has_shown_is_within_its_range():
    unknown = meter(LOW, HIGH, instrument=Instrument(), shown={"resistance": 5000.0})
    assert (unknown.chance_open(np.array([5000.0, 5000.0])) == [0.0, 0.0]).tolist() == [True, False]
    assert unknown.chance_open(np.array([5001.0, 100.0]))[0] > 0
    # Even where the case says that the range ends below it.
    assert meter(LOW, shown={"resistance": 2500.0}).chance_open(np.array([2400.0])) == 0.0
    above_all = meter(LOW, instrument=Instrument(), shown={"resistance": 3e7})
    assert above_all.chance_open(np.array([3e7])) == 0.0


def test_it_knows_whether_the_case_states_its_accuracy():
    assert meter(LOW).stated
    assert not meter(LOW, instrument=Instrument()).stated


def test_shared_errors_are_slopes_times_standard_deviations():
    t = RULEBOOK.tolerances
    tried = lean([10.0], [[0.3, 0.2, 9.0, 4.0]], "DB..S1", "S1..S2", "terminator A", "terminator N")
    gain = t.gain * 0.02 * 10.0
    expected = [
        0.3 * t.run_length,
        0.2 * t.run_length,
        0.5 * t.cable,
        9.0 * t.terminator,
        4.0 * t.terminator,
        gain,
        t.leads,
    ]
    assert meter(LOW).shared_errors(tried, t)[0, 0].tolist() == pytest.approx(expected)


def test_shared_errors_of_insulation_are_on_its_scale_and_leads_do_not_count():
    t = RULEBOOK.tolerances
    tried = lean([50.0], [[0.001, 40.0, 7.0]], "DB..S1", "leak A-N", "leak A-E")
    per = 50 + 0.1 / 0.03
    expected = [
        0.001 * t.run_length / per,
        0.001 * t.cable / per,
        40.0 * t.leak_of_pair / per,
        7.0 * t.leak_of_pair / per,
        47.0 * t.leak / per,
        t.gain * 0.03 * 50 / per,
        0.0,
    ]
    assert meter(HIGH).shared_errors(tried, t)[0, 0].tolist() == pytest.approx(expected)


def test_two_quantities_have_a_gain_each():
    t = RULEBOOK.tolerances
    tried = lean([10.0, 50.0], [[0.0], [0.0]], "DB..S1")
    spread = meter(LOW, HIGH).shared_errors(tried, t)[0]
    assert ((spread[:, -3:-1] > 0) == np.eye(2, dtype=bool)).all()


def test_a_point_may_be_called_like_a_terminator():
    tried = lean([10.0], [[0.3, 9.0]], "terminator..S2", "terminator A")
    named = lean([10.0], [[0.3, 9.0]], "S1..S2", "terminator A")
    one, other = (meter(LOW).shared_errors(x, RULEBOOK.tolerances) for x in (tried, named))
    assert one.shape == other.shape


def test_shared_errors_of_an_open_prediction_are_finite():
    spots = tuple(Spot("terminated", "S1", "off", pair) for pair in ("A-E", "N-E"))
    bench = Bench(LINE, RULEBOOK.procedures, TERMINATORS, spots)
    opened = bench.lean([no_edit])
    assert np.isinf(opened.read[0, 0])
    spread = meter(*spots, instrument=Instrument()).shared_errors(opened, RULEBOOK.tolerances)
    assert np.isfinite(spread).all()
