"""What must hold of any diagnosis, on circuits and faults drawn at random, readings without error.

A fault is asked for only where it moves a reading by six standard deviations or more, instrument
and shared errors together, or takes one over range or back: less can be anything.
"""

import dataclasses
import json
import math
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from examples import slow
from hypothesis import assume, given
from hypothesis import strategies as st
from modelled import BRANCHED, LINE, MODES, RULEBOOK, TERMINATORS, UNKNOWN, case, readings
from strategies import circuits, faults

from faultfinder.coverage.lineup import line_up
from faultfinder.coverage.plan import plan_of
from faultfinder.coverage.power import Alarm, scatter_of
from faultfinder.diagnosis.catalogue import hypothesis, no_edit
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.weighing import weigh_case
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.meter import meter_for
from faultfinder.readings.file import load_case
from faultfinder.readings.writing import dump
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.source.content import content_folder
from faultfinder.strategies import cases
from faultfinder.wiring.circuit import Run
from faultfinder.wiring.fault import Fault

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

FEW = slow(12)
SOME = slow(25)
HANDFUL = slow(6)
WELL_OVER_SD = 6.0
RANGE_NATS = 3.0  # what ohms unknown over a range take off a likelihood
IMPOSSIBLE_NATS = 7.0  # less than one in a thousand: not listed
ROUNDING_NATS = 0.5  # of readings written to 0.01


def found(circuit, *faults, taken=None):
    return diagnose(case(circuit, faults, taken=taken), RULEBOOK)


def bare(fault):
    return replace(fault, r_ohm=None)


def leading(diagnosis):
    """Return the faults of the leading group without their ohms; None for the sound circuit."""
    return {bare(s.faults[0]) if s.faults else None for s in diagnosis.leading}


def effect_sd(circuit, fault):
    """Return the most that a fault moves a reading, in standard deviations of the sound one."""
    spots = spots_of(RULEBOOK.procedures["terminated"], circuit)
    bench = Bench(circuit, RULEBOOK.procedures, TERMINATORS, spots)
    (way, *_) = hypothesis(RULEBOOK.modes[fault.mode], circuit, bare(fault)).ways
    lean = bench.lean([no_edit, way.edit(fault.r_ohm or 0.0)])
    meter = meter_for(spots, RULEBOOK.procedures, UNKNOWN)
    spread = meter.shared_errors(lean, RULEBOOK.tolerances)[0]
    sd = np.sqrt(meter.sd(lean.read[0]) ** 2 + (spread**2).sum(axis=-1))
    opens = meter.chance_open(lean.read) > 0.5
    if (opens[0] != opens[1]).any():
        return math.inf
    sound, faulty = np.where(opens, 0.0, lean.read)
    return float((np.abs(faulty - sound) / sd).max())


@st.composite
def circuits_with_faults(draw, max_points=4):
    circuit = draw(circuits(max_points))
    return circuit, draw(faults(circuit))


# -- what is found -------------------------------------------------------------------------------


@SOME
@given(circuits(max_points=4))
def test_a_sound_circuit_is_never_blamed(circuit):
    diagnosis = found(circuit)
    assert diagnosis.verdict == "sound"
    assert not diagnosis.suspects[0].faults
    # A second way to earth beside a short one changes next to nothing, and so does an outlet taken
    # for one that reads alike: no reading rules them out.
    beside = {fault.set_up or fault.mode for fault in leading(diagnosis) if fault}
    assert beside <= {"parallel-earth", "row-of-another-outlet", "drawn-in-wrong-order"}
    assert all(reading.is_fine for reading in diagnosis.readings)


@pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.id)
def test_every_single_fault_is_in_the_leading_group(mode):
    """Where it shows: a thinner cable or a second way to earth may lie within the tolerances."""
    shown = 0
    for fault in mode.faults(LINE):
        true = replace(fault, r_ohm=3.0) if mode.ohms else fault
        if mode.id in {"undersized", "parallel-earth"} and effect_sd(LINE, true) < WELL_OVER_SD:
            continue
        shown += 1
        diagnosis = found(LINE, true)
        assert diagnosis.verdict == "fault", str(fault)
        assert {fault, _as_told(fault)} & leading(diagnosis), str(fault)
    assert shown or mode.id in {"undersized", "parallel-earth"}


def _as_told(fault):
    """Return a fault, or what it is called where two are the same piece of copper."""
    link = fault.mode == "link-extra" and fault.at != LINE.board
    return Fault("bridged", ("N", "E"), fault.at) if link else fault


@given(circuits_with_faults())
def test_a_fault_well_over_the_tolerance_leads(drawn):
    """Or comes behind what is only held to be met more often.

    A bridge a tenth along a run reads nearly as one in the outlet before it, and is met less; so
    does a second link near the board as a neutral left on its bar.
    """
    circuit, fault = drawn
    assume(effect_sd(circuit, fault) > WELL_OVER_SD)
    listed = weigh_case(case(circuit, (fault,)), RULEBOOK, telling=False).listed
    said = [(*map(str, s.faults), s.probability, group) for s, group in listed]
    ((truth, group),) = [(s, n) for s, n in listed if [*map(bare, s.faults)] == [bare(fault)]]
    leader = listed[0][0]
    behind = math.log(leader.probability / truth.probability)
    rarer = leader.hypothesis.log_prior - truth.hypothesis.log_prior
    wide = RANGE_NATS if truth.hypothesis.ohms else 0.0
    assert leader.faults, said
    met_less = rarer > -ROUNDING_NATS and behind < rarer + wide + ROUNDING_NATS
    assert group == 1 or met_less, said


# -- what changes nothing ------------------------------------------------------------------------


def renamed(circuit, names):
    return replace(
        circuit,
        board=names[circuit.board],
        points=tuple(replace(point, name=names[point.name]) for point in circuit.points),
        runs=tuple(
            Run(names[run.upstream], names[run.downstream], run.length_m, run.cable)
            for run in circuit.runs
        ),
    )


def judgement(one, back=None):
    """Return verdict of a case and, by fault, its probability and all in its group.

    Groups that are equally probable may come in either order. ``back`` gives places their names.
    """

    def name(at):
        """Of a place, of a run, or of two outlets in any order, whose rows were exchanged."""
        places = [place.split("..") for place in at.split(",")]
        return sorted("..".join((back or {}).get(part, part) for part in place) for place in places)

    weighed = weigh_case(one, RULEBOOK, telling=False)
    groups = {}
    for s, number in weighed.listed:
        if s.probability > 0.003:  # the rest comes and goes at the edge of what is listed
            f = next(iter(s.faults), None)
            who = (f.mode, f.conductors, *name(f.at)) if f else None
            groups.setdefault(number, {})[who] = pytest.approx(s.probability, abs=1e-4)
    return weighed.verdict, {who: group for group in groups.values() for who in group}


def likelihoods(circuit, taken):
    """Return by how many nats each wiring fault alone is likelier than the sound circuit."""
    suspects = weigh_case(case(circuit, taken=taken), RULEBOOK, telling=False).judged.singles
    sound = next(s.log_likelihood for s in suspects if not s.faults)
    return {
        bare(s.faults[0]): pytest.approx(s.log_likelihood - sound, abs=1e-3)
        for s in suspects
        if s.faults and not s.faults[0].set_up and s.log_likelihood > sound + ROUNDING_NATS
    }


@FEW
@given(circuits_with_faults(), st.randoms(use_true_random=False))
def test_names_change_nothing_but_names(drawn, random):
    circuit, fault = drawn
    places = [circuit.board, *(point.name for point in circuit.points)]
    others = [f"P{number}" for number in range(len(places))]
    random.shuffle(others)
    names = dict(zip(places, others, strict=True))
    moved = replace(fault, at="..".join(names[part] for part in fault.at.split("..")))
    back = {new: old for old, new in names.items()}
    other = renamed(circuit, names)
    again = judgement(case(other, [moved]), back)
    assert again == judgement(case(circuit, [fault]))


@FEW
@given(circuits_with_faults(), st.randoms(use_true_random=False))
def test_the_order_of_runs_changes_nothing(drawn, random):
    circuit, fault = drawn
    runs = list(circuit.runs)
    random.shuffle(runs)
    taken = readings(circuit, [fault])
    other = replace(circuit, runs=tuple(runs))
    assert judgement(case(other, taken=taken)) == judgement(case(circuit, taken=taken))


@FEW
@given(circuits_with_faults(), st.randoms(use_true_random=False))
def test_the_order_of_points_changes_only_which_are_mistaken_for_one_another(drawn, random):
    """One slips to the next row, and walks into the next room, sooner than to the fifth."""
    circuit, fault = drawn
    points = list(circuit.points)
    random.shuffle(points)
    taken = readings(circuit, [fault])
    other = replace(circuit, points=tuple(points))
    assert likelihoods(other, taken) == likelihoods(circuit, taken)


@HANDFUL
@given(cases(max_points=3, exact=True))
def test_a_repaired_circuit_is_sound_by_the_tests_its_remedy_asks_for(drawn):
    """What was wrong is put right, and what the leading suspect says to test again is tested."""
    first = diagnose(drawn, RULEBOOK)
    asked = dict.fromkeys(test for s in first.leading for test in s.retest)
    usual = [test for test in asked if RULEBOOK.procedures[test].quantity == "resistance"]
    tests = tuple(dict.fromkeys([*usual, "terminated"]))
    again = readings(drawn.circuit, [], tests, drawn.instrument)
    repaired = case(drawn.circuit, taken=again, instrument=drawn.instrument)
    assert diagnose(repaired, RULEBOOK).verdict == "sound"


@HANDFUL
@given(cases(max_points=3))
def test_a_case_written_and_read_is_diagnosed_the_same(drawn):
    with TemporaryDirectory() as folder:
        path = Path(folder) / "case.yaml"
        path.write_text(dump(drawn, RULEBOOK.procedures), "utf-8")
        again = load_case(path, RULEBOOK.procedures, RULEBOOK.modes, RULEBOOK.set_ups)
    assert [r.spot for r in again.readings] == [r.spot for r in drawn.readings]
    assert [r.amount for r in again.readings] == [r.amount for r in drawn.readings]
    assert again.found == drawn.found
    assert judgement(again) == judgement(drawn)


@HANDFUL
@given(circuits(max_points=3), st.data())
def test_what_a_plan_surely_shows_is_found(circuit, data):
    """What coverage calls surely seen is called a fault, with the truth in the leading groups.

    By who knows the instrument's scatter, as coverage does: a few readings do not tell it, and what
    may be large scatter is no fault yet.
    """
    plan = plan_of(("terminated",), circuit, RULEBOOK.procedures)
    lineup = line_up(circuit, RULEBOOK, plan.spots, TERMINATORS, UNKNOWN)
    alarm = Alarm(lineup, 0.001)
    sure = np.flatnonzero(alarm.power(lineup.samples.read) > 0.999)
    assume(len(sure))
    sample = int(data.draw(st.sampled_from(sure.tolist())))
    family = int(lineup.samples.family[sample])
    (at,) = lineup.hypotheses[lineup.of[family]].faults
    own = [f for f in range(len(lineup.of)) if lineup.of[f] == lineup.of[family]]
    assume(own[0] == family)  # foretold readings are of the first way a mode lists
    ranged = lineup.ranged[family]
    real = replace(at, r_ohm=float(lineup.samples.r_ohm[sample])) if ranged else at
    usual = RULEBOOK.tolerances.model_copy(update={"scatter": (scatter_of(lineup),)})
    diagnosis = diagnose(case(circuit, (real,)), replace(RULEBOOK, tolerances=usual))
    assert diagnosis.verdict == "fault", str(real)
    groups = {s.group for s in diagnosis.suspects if s.faults and bare(s.faults[0]) == at}
    assert groups & {1, 2}, str(real)


@FEW
@given(circuits_with_faults(), st.randoms(use_true_random=False))
def test_the_order_of_readings_changes_nothing(drawn, random):
    circuit, fault = drawn
    taken = list(readings(circuit, [fault]))
    first = judgement(case(circuit, taken=taken))
    random.shuffle(taken)
    assert judgement(case(circuit, taken=taken)) == first


@FEW
@given(circuits_with_faults(), st.randoms(use_true_random=False))
def test_no_reading_makes_the_truth_impossible(drawn, random):
    """However few are taken, and whichever come next, nothing explains them far better.

    While they do not show it, the truth is no suspect; then nothing does better than no fault.
    """
    circuit, fault = drawn
    taken = list(readings(circuit, [fault]))
    assume(effect_sd(circuit, fault) > WELL_OVER_SD)
    random.shuffle(taken)
    some = taken[: random.randint(1, len(taken))]
    suspects = weigh_case(case(circuit, taken=some), RULEBOOK, telling=False).judged.suspects
    logs = {(*map(bare, s.faults),): s.log_likelihood for s in suspects}
    truth, sound = logs.get((bare(fault),)), logs[()]
    told = {(*map(str, faults),): log - sound for faults, log in logs.items()}
    least = sound if truth is None else truth + IMPOSSIBLE_NATS
    assert max(logs.values()) < least + ROUNDING_NATS, told


def test_the_same_case_gives_the_same_diagnosis():
    fault = BRANCHED.runs[3].name
    taken = readings(BRANCHED, [Fault("high-resistance", ("A",), fault, 1.0)])
    one, two = (found(BRANCHED, taken=taken) for _ in range(2))
    told = [dataclasses.astuple(replace(each, prospect=None)) for each in (one, two)]
    assert told[0] == told[1]


def test_the_answer_is_the_same_in_every_process():
    """Nothing hangs on the order of a set: Python shuffles that anew with every seed."""
    demo = content_folder("cases") / "marram-hall" / "partly-read.yaml"
    command = [sys.executable, "-m", "faultfinder", "diagnose", "--format", "json", str(demo)]
    path = os.pathsep.join(sys.path)
    answers = {
        subprocess.run(  # noqa: S603 - our own program
            command,
            capture_output=True,
            text=True,
            check=False,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": path},
        ).stdout
        for seed in ("0", "1", "2")
    }
    (answer,) = answers
    assert json.loads(answer)["verdict"] == "fault"
