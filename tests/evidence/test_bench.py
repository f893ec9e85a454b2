"""Readings of the model, and how they lean on lengths, leakage and terminators.

Slopes are per relative change of one: for a reading that is a sum, the part of the sum that the
parameter makes up. The bench takes forward differences with a step of 1e-3. On a sum they are
right to rounding, 2e-16 / 1e-3 of the reading. Otherwise a reading is, in one branch's ohms r,
a ratio of straight lines, c + r p / (r + p) at its most curved, whose r R''/R' is at most 2, so
that half a step of it is at most 1e-3 of the slope; 2e-3 is asked for, as a run has up to three
branches.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import AU_NZ, COPPER, circuits, faults

from faultfinder.diagnosis.catalogue import hypothesis
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Variation
from faultfinder.network.edits import Step, fault_edit
from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run
from faultfinder.wiring.fault import Fault

RULEBOOK = shipped_rulebook()
PROCEDURES = RULEBOOK.procedures
FITTED = Terminators(active_ohm=10.0, neutral_ohm=5.0)
OPEN = math.inf
ON_A_SUM = 1e-11  # rounding over the step, 2e-13, of 20 ohm, times a few steps of elimination
ON_A_CURVE = 2e-3
LEAKS = ("leak A-N", "leak A-E", "leak N-E")

# A 0.1, N 0.05 and E 0.2 ohm in 10 m of the first run; half of that in the others.
_TABLE = replace(
    COPPER,
    rows=tuple(
        replace(COPPER.rows[0], area_mm2=area_mm2, ohm_per_km_20c=ohm_per_km)
        for area_mm2, ohm_per_km in ((1.0, 20.0), (2.5, 10.0), (4.0, 5.0))
    ),
)
_CABLE = Cable(2.5, 4.0, 1.0, _TABLE)
CIRCUIT = Circuit(
    "DB",
    Device("C", 20.0),
    (Point("S1", "outlet", ("A",)), Point("S2"), Point("S3")),
    (Run("DB", "S1", 10.0, _CABLE), Run("S1", "S2", 5.0, _CABLE), Run("S1", "S3", 5.0, _CABLE)),
    AU_NZ,
)


def sound(_network):
    return {}


def bench(circuit, *tests, terminators=FITTED):
    spots = tuple(spot for test in tests for spot in spots_of(PROCEDURES[test], circuit))
    return Bench(circuit, PROCEDURES, terminators, spots)


def steps_of(at, conductors, r_ohm, *steps):
    return lambda network: fault_edit(network, CIRCUIT, steps, Fault("", conductors, at), r_ohm)


def built(circuit, fault):
    """Return the edits of every way a fault can be built."""
    ways = hypothesis(RULEBOOK.modes[fault.mode], circuit, fault).ways
    return [way.edit(fault.r_ohm or 0.0) for way in ways]


# -- readings ------------------------------------------------------------------------------------


def test_readings_of_each_test_in_its_unit():
    spots = (
        Spot("terminated", "S2", "", "A-N"),
        Spot("insulation", "DB", "", "A-N"),
        Spot("long-lead", "S2", "", "E"),
        Spot("linked-out", "S1", "off", "A-E"),
        Spot("terminated", "S1", "off", "N-E"),
    )
    ours = Bench(CIRCUIT, PROCEDURES, FITTED, spots)
    assert list(ours.unit_size) == [1.0, 1e6, 1.0, 1.0, 1.0]
    # Leakage of 1e12 ohm metre over 20 m, each pair beside the two others in series, in Mohm.
    insulation = 1e12 / 20 * 2 / 3 / 1e6
    expected = [15 + 0.15 + 0.075, insulation, 0.3, OPEN, 5 + 0.05 + 0.2]
    assert ours.read([sound])[0] == pytest.approx(expected, rel=1e-9)


def test_leakage_counts_in_the_insulation_test_only():
    """A break leaves long-lead open to the letter: no path through the insulation."""
    spots = (Spot("long-lead", "S2", "", "A"), Spot("insulation", "S2", "", "A-E"))
    broken = steps_of("S1..S2", ("A",), 0.0, Step("break"))
    read = Bench(CIRCUIT, PROCEDURES, None, spots).read([sound, broken])
    assert read[0, 0] == pytest.approx(0.15)
    assert read[1, 0] == OPEN
    assert math.isfinite(read[1, 1])


@given(st.data())
def test_edits_together_are_as_alone(data):
    circuit = data.draw(circuits(max_points=3))
    drawn = data.draw(st.lists(faults(circuit), min_size=1, max_size=3))
    made = [edit for fault in drawn for edit in built(circuit, fault)]
    ours = bench(circuit, "terminated", "insulation")
    together = ours.read([sound, *made])
    alone = np.concatenate([ours.read([edit]) for edit in (sound, *made)])
    assert together == pytest.approx(alone, rel=1e-12, abs=0)


def test_no_spots_and_no_edits():
    assert Bench(CIRCUIT, PROCEDURES, FITTED, ()).read([sound]).shape == (1, 0)
    assert bench(CIRCUIT, "terminated").read([]).shape == (0, 12)


# -- slopes of sums ------------------------------------------------------------------------------


def test_names_of_the_parameters():
    runs = ("DB..S1", "S1..S2", "S1..S3")
    terminators = ("terminator A", "terminator N")
    assert bench(CIRCUIT, "terminated").lean([sound]).names == (*runs, *terminators)
    assert bench(CIRCUIT, "long-lead", terminators=None).lean([sound]).names == runs
    both = bench(CIRCUIT, "terminated", "insulation").lean([sound]).names
    assert both == (*runs, *LEAKS, *terminators)


def test_slopes_at_a_sound_outlet():
    """A run on the path counts with its two conductors, one off it not at all."""
    spots = tuple(Spot("terminated", "S2", "", pair) for pair in ("A-N", "A-E", "N-E"))
    lean = Bench(CIRCUIT, PROCEDURES, FITTED, spots).lean([sound])
    expected = [  # DB..S1, S1..S2, S1..S3, terminator A, terminator N
        [0.15, 0.075, 0, 10, 5],
        [0.30, 0.150, 0, 10, 0],
        [0.25, 0.125, 0, 0, 5],
    ]
    assert lean.slopes[0] == pytest.approx(np.array(expected), rel=0, abs=ON_A_SUM)


@given(circuits())
def test_slopes_of_any_sound_circuit(circuit):
    """d R / d ln length of a run is its own ohms in the path, d R / d ln terminator its ohms."""
    ours = bench(circuit, "terminated", "long-lead", "linked-out")
    lean = ours.lean([sound])
    for spot, read, slopes in zip(ours.spots, lean.read[0], lean.slopes[0], strict=True):
        conductors = spot.between.split("-")
        on_path = {run.name: run for run in circuit.path(spot.at)}
        expected = dict.fromkeys(lean.names, 0.0)
        if math.isfinite(read):
            for name, run in on_path.items():
                expected[name] = sum(circuit.conductor_ohm(run, c) for c in conductors)
            if spot.test == "terminated":
                expected["terminator A"] = FITTED.active_ohm * ("A" in conductors)
                expected["terminator N"] = FITTED.neutral_ohm * ("N" in conductors)
        exact = np.array([*expected.values()])
        rounding = ON_A_SUM * (max(1.0, read) if math.isfinite(read) else 1.0)
        assert slopes == pytest.approx(exact, rel=0, abs=rounding), spot


def test_leakage_has_a_slope_of_the_reading_itself():
    """Twice the insulation, twice the reading; lengths enter by parts in 1e9 only.

    A run's own slope is that of its conductors' ohms; how its length bears on leakage is left to
    the parameters ``leak``, which are far less certain.
    """
    lean = bench(CIRCUIT, "insulation").lean([sound])
    assert lean.names[3:6] == LEAKS
    finite = np.isfinite(lean.read[0])
    assert finite.any()
    shares = lean.slopes[0][finite] / lean.read[0][finite, None]
    # Each leak bends its reading: by up to the step, as any slope on a curve.
    assert shares[:, 3:6].sum(axis=-1) == pytest.approx(1.0, rel=ON_A_CURVE)
    assert np.delete(shares, (3, 4, 5), axis=-1) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("between", "shares"),
    [
        ("A-N", [2 / 3, 1 / 6, 1 / 6]),
        ("A-E", [1 / 6, 2 / 3, 1 / 6]),
        ("N-E", [1 / 6, 1 / 6, 2 / 3]),
        ("A+N-E", [0, 1 / 2, 1 / 2]),
    ],
)
def test_the_leakage_of_each_pair_has_its_share(between, shares):
    """All alike, r: a pair is r beside two r in series, and 2 r / 3 of it is its own.

    The slope of r p / (r + p) by ln r is the reading times what of the current r carries, and each
    of the two in series has half of the rest. With A and N joined two r are in parallel.
    """
    ours = Bench(CIRCUIT, PROCEDURES, FITTED, (Spot("insulation", "DB", "", between),))
    lean = ours.lean([sound])
    found = lean.slopes[0, 0, 3:6] / lean.read[0, 0]
    assert found == pytest.approx(shares, rel=ON_A_CURVE, abs=1e-9)


def test_terminator_slopes_share_out_in_parallel():
    """A-N bridged by b where it is read: b beside the loop r, whose share is (b / (b + r))^2."""
    spots = (Spot("terminated", "S1", "on", "A-N"),)
    bridge = steps_of("S1", ("A", "N"), 20.0, Step("bridge"))
    lean = Bench(CIRCUIT, PROCEDURES, FITTED, spots).lean([bridge])
    loop = 15 + 0.15
    share = (20 / (20 + loop)) ** 2
    expected = [0.15 * share, 0, 0, 10 * share, 5 * share]
    assert lean.read[0, 0] == pytest.approx(20 * loop / (20 + loop), rel=1e-12)
    assert lean.slopes[0, 0] == pytest.approx(np.array(expected), rel=ON_A_CURVE, abs=ON_A_SUM)


# -- slopes of anything --------------------------------------------------------------------------


def changed(circuit, terminators, name, factor):
    """Return circuit and terminators with one parameter times a factor, by drawing it anew."""
    if name == "terminator A":
        return circuit, replace(terminators, active_ohm=terminators.active_ohm * factor)
    if name == "terminator N":
        return circuit, replace(terminators, neutral_ohm=terminators.neutral_ohm * factor)
    runs = tuple(
        replace(run, length_m=run.length_m * factor) if run.name == name else run
        for run in circuit.runs
    )
    return replace(circuit, runs=runs), terminators


@given(st.data())
def test_slopes_against_central_differences(data):
    """A circuit drawn with other lengths and the fault put into that; step 1e-4 to either side."""
    circuit = data.draw(circuits(max_points=3))
    fault = data.draw(faults(circuit))
    tests = ("terminated", "long-lead", "linked-out")
    edits = built(circuit, fault)
    ours = bench(circuit, *tests)
    lean, glimpsed = ours.lean(edits), ours.glimpse_lean(edits)
    for column, name in enumerate(lean.names):
        ends = []
        for factor in (1 + 1e-4, 1 - 1e-4):
            other, terminators = changed(circuit, FITTED, name, factor)
            ends.append(bench(other, *tests, terminators=terminators).read(built(other, fault)))
        up, down = (np.where(np.isfinite(end), end, 0.0) for end in ends)
        central = (up - down) / 2e-4
        # Rounding of a reading over the step: 2e-16 / 1e-4, times a few steps of elimination.
        rounding = 1e-10 * np.where(np.isfinite(lean.read), lean.read, 0.0)
        within = ON_A_CURVE * np.abs(central) + rounding + 1e-12
        assert np.all(np.abs(lean.slopes[:, :, column] - central) <= within), (name, str(fault))
        # A glimpse is right to six figures, and so are its slopes, of the reading.
        within += 1e-6 * np.where(np.isfinite(lean.read), lean.read, 0.0)
        assert np.all(np.abs(glimpsed.slopes[:, :, column] - central) <= within), (name, str(fault))


@given(st.data())
def test_each_edit_on_a_circuit_of_its_own(data):
    """As read on a circuit drawn with those lengths, with those terminators."""
    circuit = data.draw(circuits(max_points=3))
    tests = ("terminated", "long-lead", "linked-out")
    edits, variations, alone = [], [], []
    for fault in data.draw(st.lists(faults(circuit), min_size=1, max_size=3)):
        name = data.draw(st.sampled_from([run.name for run in circuit.runs]))
        factors = data.draw(st.tuples(*[st.floats(0.5, 2.0)] * 2))
        other, _ = changed(circuit, FITTED, name, factors[0])
        fitted = Terminators(FITTED.active_ohm * factors[1], FITTED.neutral_ohm)
        made = built(other, fault)
        edits += built(circuit, fault)
        variations += [Variation(fitted, {name: factors[0]})] * len(made)
        alone.append(bench(other, *tests, terminators=fitted).read(made))
    read = bench(circuit, *tests).read_varied(edits, variations)
    assert read == pytest.approx(np.concatenate(alone), rel=1e-12, abs=0)


@given(st.data())
def test_readings_with_slopes_are_the_readings(data):
    circuit = data.draw(circuits(max_points=3))
    edits = [sound, *built(circuit, data.draw(faults(circuit)))]
    ours = bench(circuit, *(test for test, p in PROCEDURES.items() if not p.is_live))
    lean = ours.lean(edits)
    assert lean.read == pytest.approx(ours.read(edits), rel=1e-12, abs=0)
    assert lean.slopes.shape == (len(edits), len(ours.spots), len(lean.names))
    assert np.all(np.isfinite(lean.slopes))
    assert np.all(lean.slopes[~np.isfinite(lean.read)] == 0)
    # More ohms anywhere never lower a reading, and never raise it by more than their share.
    assert np.all(lean.slopes >= -1e-9 * np.where(np.isfinite(lean.read), lean.read, 0)[..., None])


@pytest.mark.parametrize("at_once", [1, 3, 4])
def test_slopes_are_the_same_however_many_edits_are_solved_at_once(monkeypatch, at_once):
    """Where a batch begins with a terminator off what is drawn, too."""
    edits = [sound, steps_of("S1", ("A", "N"), 20.0, Step("bridge"))]
    whole = bench(CIRCUIT, "terminated").lean(edits)
    monkeypatch.setattr("faultfinder.evidence.bench._AT_ONCE", at_once)
    parts = bench(CIRCUIT, "terminated").lean(edits)
    assert parts.read == pytest.approx(whole.read, rel=1e-12)
    assert parts.slopes == pytest.approx(whole.slopes, abs=10 * ON_A_SUM)


def test_the_first_spots_alone():
    lean = bench(CIRCUIT, "terminated").lean([sound])
    first = lean.first(4)
    assert first.names == lean.names
    assert np.array_equal(first.read, lean.read[:, :4])
    assert np.array_equal(first.slopes, lean.slopes[:, :4])
