"""Studies: the same cases every time, taken up where they stopped, marked as they were made."""

import math
import sqlite3
from dataclasses import astuple, replace
from pathlib import Path

import numpy as np
import pytest
from joblib import parallel_config
from modelled import RULEBOOK

from faultfinder.coverage.study.family import load_family
from faultfinder.coverage.study.marking import Mark, marks_of
from faultfinder.coverage.study.running import run_study
from faultfinder.coverage.study.simulation import draw_circuit, make_cases, random_circuit
from faultfinder.coverage.study.store import OtherStudy, Store
from faultfinder.coverage.study.summary import summary_of
from faultfinder.readings.file import load_case
from faultfinder.readings.writing import dump
from faultfinder.source.problem import BadInput

ABOUT = {"family": "f", "rules": "r", "seed": "1"}


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def family(text="outlets: [1, 2]\n"):
    Path("family.yaml").write_text(text, "utf-8")
    return load_family(Path("family.yaml"), RULEBOOK.procedures)


def made(drawn, number, seed=1):
    circuit = draw_circuit(drawn, RULEBOOK, seed, number)
    return make_cases(drawn, RULEBOOK, seed, [number], circuit)[0]


def complaints(text):
    with pytest.raises(BadInput) as caught:
        family(text)
    return [f"{p.position.line}: {p.found} -> {p.nearest}" for p in caught.value.problems]


def a_mark(number, **changes):
    found = "open E at S1", "open", True, "fault", True, 2, 1
    plain = Mark(number, 3, *found, probability=0.5, top=0.5, is_top=False, weight=1, seconds=0.1)
    return replace(plain, **changes)


def honest_marks(seed, cases, *, share, faulty, boldness=1.0):
    """Return marks of a diagnosis by Bayes' rule of one Gaussian reading, sound 0 and faulty 2.

    ``share`` are faulty by the priors, ``faulty`` of those made; one that is bolder than 1 makes
    more of the reading than is in it.
    """
    rng = np.random.default_rng(seed)
    for number in range(cases):
        bad = rng.random() < faulty
        log_odds = math.log(share / (1 - share)) + boldness * (2 * rng.normal(2.0 * bad) - 2)
        p = 1 / (1 + math.exp(-log_odds))
        weight = share / faulty if bad else (1 - share) / (1 - faulty)
        truth = "open E at S1" if bad else ""
        yield a_mark(number, truth=truth, top=max(p, 1 - p), is_top=(p > 0.5) == bad, weight=weight)


def test_a_family_is_what_its_file_says():
    drawn = family(
        "title: Flats\noutlets: [4, 6]\nbranches: [0, 1]\nfirst run: [8 m, 20 m]\n"
        "cables: [{active: 2.5, earth: 1.5}]\nswitched: 0.5\ntests: [linked-out]\n"
        "instrument: {resistance: {percent: 2, plus: 0.02}}\n"
    )
    assert (drawn.title, drawn.outlets, drawn.cables[0].earth_mm2) == ("Flats", (4, 6), 1.5)
    for seed in range(30):
        circuit = random_circuit(drawn, np.random.default_rng(seed))
        assert 4 <= len(circuit.outlets()) <= 6
        assert 8 <= circuit.runs[0].length_m <= 20
        leaves = sum(1 for point in circuit.points if not circuit.beyond(point.name))
        assert leaves <= 2


def test_mistakes_in_a_family_are_told_with_their_lines():
    assert complaints("outlets: [6, 3]\n")[0].startswith("1: outlets from 6 to 3")
    assert complaints("tests: [terminatd, loop]\ncables: [{active: 2.6, earth: 2.5}]\n") == [
        '1: no dead test "terminatd" -> terminated',
        '1: no dead test "loop" -> ',
        "2: unknown size 2.6 mm² in as-nzs-copper -> 2.5 or 4",
    ]
    assert "region" in complaints("region: nowhere\n")[0]
    assert complaints("outlet: [3, 4]\n")[0].endswith("-> outlets")


def test_a_case_follows_from_seed_and_number():
    one, two = (made(family(), 5, seed=3) for _ in range(2))
    assert one == two
    assert made(family(), 6, seed=3).case.readings != one.case.readings


def test_a_made_case_is_a_case_a_person_could_have_written():
    drawn = family("outlets: [2, 4]\ntests: [terminated, insulation]\n")
    for number in range(12):
        case = made(drawn, number).case
        Path("made.yaml").write_text(dump(case, RULEBOOK.procedures), "utf-8")
        known = RULEBOOK.procedures, RULEBOOK.modes, RULEBOOK.set_ups
        again = load_case(Path("made.yaml"), *known)
        assert again.readings == case.readings
        assert [str(f) for f in again.found.faults] == [str(f) for f in case.found.faults]


def test_cases_are_the_same_alone_and_together():
    drawn = family("outlets: [2, 4]\ntests: [terminated, insulation]\n")
    numbers = [1, 2, 5, 11]
    circuit = draw_circuit(drawn, RULEBOOK, 1, numbers[0])
    together = make_cases(drawn, RULEBOOK, 1, numbers, circuit)
    assert together == [made(drawn, number) for number in numbers]


def test_sound_readings_scatter_as_the_tolerances_say():
    """Mean and spread of many sound readings against what is expected of them."""
    drawn = family("outlets: [1, 1]\nfaulty: 0\nfirst run: [20, 20]\nswitched: 0\n")
    values = np.array([[r.amount.value for r in made(drawn, n).case.readings] for n in range(300)])
    mean, spread = values.mean(axis=0), values.std(axis=0)
    assert mean[1] == pytest.approx(10 + 2 * 20 * 0.00741, abs=0.05)
    assert 0.08 < spread[1] < 0.25


def test_a_clear_fault_is_marked_found_and_a_sound_circuit_sound():
    marks = list(marks_of(family(), RULEBOOK, 1, range(8)))
    shown = [one for one in marks if one.truth and one.shows]
    assert shown
    assert sum(one.leads for one in shown) >= len(shown) - 1
    assert all(one.verdict == "sound" for one in marks if not one.truth)
    assert all(0 <= one.probability <= 1 + 1e-9 and one.seconds > 0 for one in marks)


def test_a_study_is_taken_up_where_it_stopped():
    drawn = family("outlets: [1, 1]\n")
    store = Store(Path("marks.sqlite"), ABOUT)
    told = []
    with parallel_config(backend="sequential"):
        run_study(drawn, RULEBOOK.shelf, 1, 3, store, 1, told.append)
        run_study(drawn, RULEBOOK.shelf, 1, 5, Store(Path("marks.sqlite"), ABOUT), 1, told.append)
    assert told == [0, 3, 3, 2]
    marks = list(store.marks(5))
    assert [one.number for one in marks] == [0, 1, 2, 3, 4]
    (anew,) = marks_of(drawn, RULEBOOK, 1, [2])
    assert replace(marks[2], seconds=0.0) == replace(anew, seconds=0.0)


def test_a_study_on_a_local_dask_cluster_gives_the_same():
    distributed = pytest.importorskip("dask.distributed", reason="the dask extra is not installed")
    drawn = family("outlets: [1, 1]\n")
    store = Store(Path("marks.sqlite"), ABOUT)
    cluster = {"n_workers": 1, "threads_per_worker": 1, "dashboard_address": None}
    with (
        distributed.Client(processes=False, **cluster),
        parallel_config(backend="dask"),
    ):
        run_study(drawn, RULEBOOK.shelf, 1, 3, store)
    here = list(marks_of(drawn, RULEBOOK, 1, range(3)))
    assert [replace(m, seconds=0.0) for m in store.marks(3)] == [
        replace(m, seconds=0.0) for m in here
    ]


def test_marks_come_back_as_they_were_kept():
    store = Store(Path("marks.sqlite"), ABOUT)
    marks = [a_mark(2), a_mark(0, truth="", mode="", shows=False)]
    store.add(marks)
    assert list(store.marks(10)) == sorted(marks, key=lambda m: m.number)
    assert list(store.marks(1)) == [marks[1]]
    assert store.done() == {0, 2}
    assert len(astuple(marks[0])) == 14


def test_another_studys_results_are_not_added_to():
    Store(Path("marks.sqlite"), ABOUT)
    with pytest.raises(OtherStudy, match="another seed"):
        Store(Path("marks.sqlite"), {**ABOUT, "seed": "2"})
    with sqlite3.connect("other.sqlite") as base:
        base.execute("CREATE TABLE accounts (name TEXT)")
    with pytest.raises(OtherStudy, match="holds no study"):
        Store(Path("other.sqlite"), ABOUT)
    with sqlite3.connect("other.sqlite") as base:
        assert base.execute("SELECT name FROM sqlite_master").fetchall() == [("accounts",)]
    Path("text.sqlite").write_text("not a base" * 100, "utf-8")
    with pytest.raises(OtherStudy, match="holds no study"):
        Store(Path("text.sqlite"), ABOUT)
    with sqlite3.connect("marks.sqlite") as base:
        assert base.execute("SELECT count(*) FROM marks").fetchone() == (0,)


def test_marks_without_a_weight_are_refused_and_left_alone():
    Store(Path("marks.sqlite"), ABOUT)
    with sqlite3.connect("marks.sqlite") as base:
        base.execute("ALTER TABLE marks DROP COLUMN weight")
    before = Path("marks.sqlite").read_bytes()
    with pytest.raises(OtherStudy, match="not of this version"):
        Store(Path("marks.sqlite"), ABOUT)
    assert Path("marks.sqlite").read_bytes() == before


def test_figures_of_a_study_by_hand():
    marks = [
        a_mark(0, top=0.9, is_top=True),
        a_mark(1, leads=False, group=1, places=1, top=0.7),
        a_mark(2, shows=False, leads=False, top=0.6),
        a_mark(3, truth="", mode="", verdict="sound", shows=False, top=0.99, is_top=True),
        a_mark(4, truth="", mode="", verdict="fault", shows=False, top=0.5),
    ]
    summary = summary_of(marks)
    (opens, whole) = summary.modes
    assert (opens.cases, opens.shown, opens.leads, opens.group) == (3, 2, 0.5, 1.5)
    assert whole.mode == "all"
    assert (summary.sound, summary.false_alarms) == (2, 1)
    (only,) = summary.calibration
    assert only.said == pytest.approx((0.9 + 0.7 + 0.6 + 0.99 + 0.5) / 5)
    assert only.right == pytest.approx(0.4)
    assert (only.cases, only.weight) == (5, 1)
    assert summary.off == pytest.approx(only.said - only.right)
    left = (0.1, 0.7, 0.6, 0.01, 0.5)
    assert only.sd == pytest.approx(math.sqrt(sum(one**2 for one in left)) / 5)
    assert summary.by_chance == pytest.approx(only.sd * 0.7979, rel=1e-4)
    assert summary_of([]).cases == 0


def test_cases_count_by_their_weight():
    """Two sound cases of weight 3, one right; two faulty of weight 1, both wrong."""
    marks = [
        a_mark(0, truth="", top=0.9, is_top=True, weight=3),
        a_mark(1, truth="", top=0.8, is_top=False, weight=3),
        a_mark(2, top=0.6, weight=1),
        a_mark(3, top=0.5, weight=1),
    ]
    (only,) = summary_of(marks).calibration
    assert only.said == pytest.approx((2.7 + 2.4 + 0.6 + 0.5) / 8)
    assert only.right == pytest.approx(3 / 8)


def test_honest_probabilities_are_off_by_chance_alone():
    """Off as much as ``by_chance`` says, over many studies; far off if not weighed, or if bold."""

    def mean_of(summaries, name):
        return np.mean([getattr(summary, name) for summary in summaries])

    made = [list(honest_marks(seed, 600, share=0.1, faulty=0.8)) for seed in range(20)]
    honest = [summary_of(marks) for marks in made]
    assert mean_of(honest, "off") == pytest.approx(mean_of(honest, "by_chance"), rel=0.15)
    assert all(len(summary.calibration) == 10 for summary in honest)
    weights = [one.weight for summary in honest for one in summary.calibration]
    assert max(abs(weight - 0.1) for weight in weights) < 0.02
    unweighed = [summary_of([replace(mark, weight=1) for mark in marks]) for marks in made]
    assert mean_of(unweighed, "off") > 10 * mean_of(honest, "off")
    bold = summary_of(list(honest_marks(1, 3000, share=0.1, faulty=0.8, boldness=2)))
    assert bold.off > 2 * bold.by_chance


def test_all_sound_or_all_faulty_says_nothing_of_honesty():
    for marks in ([a_mark(0), a_mark(1)], [a_mark(0, truth=""), a_mark(1, truth="")]):
        summary = summary_of(marks)
        assert (summary.calibration, summary.off, summary.by_chance) == ((), None, None)


def test_a_case_weighs_as_much_oftener_as_the_rules_expect_it():
    """Shares of the family times weights sum to one; the rules' odds are those of the priors."""
    drawn = family("outlets: [2, 2]\nfirst run: [20, 20]\nnext runs: [5, 5]\nbranches: [0, 0]\n")
    cases = [made(drawn, number) for number in range(12)]
    (faulty,) = {one.weight for one in cases if one.case.found.faults}
    (sound,) = {one.weight for one in cases if not one.case.found.faults}
    assert 0.8 * faulty + 0.2 * sound == pytest.approx(1)
    circuit, modes = cases[0].case.circuit, RULEBOOK.modes.values()
    found = {(mode, fault.at) for mode in modes for fault in mode.faults(circuit)}
    chances = [mode.chance(circuit, at) for mode, at in found]
    odds = sum(chances) / math.prod(1 - chance for chance in chances)
    assert 0.8 * faulty / (0.2 * sound) == pytest.approx(odds)
    only = family("outlets: [1, 1]\nfaulty: 1\n")
    assert 0 < made(only, 0).weight < 1


def test_cases_in_a_row_are_of_one_circuit():
    drawn = family("outlets: [2, 9]\nfirst run: [6, 60]\ncases a circuit: 3\n")
    circuits = [made(drawn, number).case.circuit for number in range(9)]
    assert [circuits.index(circuit) for circuit in circuits] == [0, 0, 0, 3, 3, 3, 6, 6, 6]
    marks = list(marks_of(drawn, RULEBOOK, 1, range(2, 5)))
    assert [mark.number for mark in marks] == [2, 3, 4]
    assert replace(marks[-1], seconds=0) == replace(
        next(marks_of(drawn, RULEBOOK, 1, [4])), seconds=0
    )
