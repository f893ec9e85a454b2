"""The second witness is held to closed forms, to networkx, and to itself."""

import json
import math
import random
import sys
from collections import defaultdict
from dataclasses import replace
from fractions import Fraction
from itertools import permutations

import networkx as nx
import numpy as np
import pytest
import scoring
import yaml
import yardstick
from drawing import MODES, PAIRS, Circuit, Fault, Run, faults_of, label
from identical import identical_faults
from resistances import _grounded_inverse, network, readings, sweep
from simulator import Settings, as_yaml, cases, random_circuit

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

# IEC 60228 class 1, 2.5 and 4 mm² at 20 °C. [ohm/m]
OHM_2_5, OHM_4 = 0.00741, 0.00461

CIRCUIT = Circuit(
    points=("S1", "S2", "S3"),
    boxes=frozenset(),
    switched=frozenset({"S1", "S3"}),
    runs=(Run("DB", "S1", 14), Run("S1", "S2", 6), Run("S2", "S3", 10)),
    active_mm2=4.0,
    earth_mm2=2.5,
    terminators=(10.0, 5.0),
)


def read(outlet, switch="", fault=None, circuit=CIRCUIT):
    """Return A-N, A-E and N-E at one outlet."""
    return readings(circuit, fault, [(outlet, switch, pair) for pair in PAIRS]).tolist()


def test_a_sound_outlet_reads_the_terminators_and_its_conductors():
    live, earth = 20 * OHM_4, 20 * OHM_2_5
    wanted = [15 + 2 * live, 10 + live + earth, 5 + live + earth]
    assert read("S2") == pytest.approx(wanted)


def test_a_switch_that_is_off_leaves_neutral_to_earth():
    assert read("S1", "off") == [math.inf, math.inf, pytest.approx(5 + 14 * (OHM_4 + OHM_2_5))]


def test_warm_copper_reads_more():
    warm = replace(CIRCUIT, temperature_c=30.0)
    rise = np.array(read("S2", circuit=warm)) - [15, 10, 5]
    cold = np.array(read("S2")) - [15, 10, 5]
    assert rise == pytest.approx(1.0393 * cold)


@pytest.mark.parametrize("at", ["S2", "S1..S2"])
def test_active_and_neutral_exchanged_exchange_their_readings(at):
    live, earth = 20 * OHM_4, 20 * OHM_2_5
    wanted = [15 + 2 * live, 5 + live + earth, 10 + live + earth]
    assert read("S2", fault=Fault("transposed", ("A", "N"), at)) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("order", "wanted"),
    # A, N, E: the contacts A, N, E are fed by E, A, N in turn; A, E, N: by N, E, A.
    [(("A", "N", "E"), [10, 5, 15]), (("A", "E", "N"), [5, 15, 10])],
)
@pytest.mark.parametrize("at", ["S2", "S1..S2"])
def test_a_cyclic_exchange_goes_in_the_order_given(order, wanted, at):
    assert read("S2", fault=Fault("transposed", order, at)) == pytest.approx(wanted, abs=0.5)


def test_an_exchange_in_a_run_is_undone_by_nothing_beyond_it():
    fault = Fault("transposed", ("A", "E"), "S1..S2")
    assert read("S1", "on", fault) == pytest.approx(read("S1", "on"))
    assert read("S3", "on", fault) == pytest.approx([5, 10, 15], abs=0.6)


def test_an_open_in_a_run_is_seen_beyond_it_and_one_in_an_outlet_there_only():
    in_run = Fault("open", ("E",), "S1..S2")
    assert read("S1", "on", in_run) == pytest.approx(read("S1", "on"))
    assert [math.isinf(ohm) for ohm in read("S3", "on", in_run)] == [False, True, True]
    in_outlet = Fault("open", ("E",), "S2")
    assert [math.isinf(ohm) for ohm in read("S2", fault=in_outlet)] == [False, True, True]
    assert read("S3", "on", in_outlet) == pytest.approx(read("S3", "on"))


@pytest.mark.parametrize("at", ["S2", "S1..S2"])
def test_a_poor_joint_adds_its_ohms(at):
    fault = Fault("high-resistance", ("N",), at, 2.5)
    rise = np.array(read("S2", fault=fault)) - read("S2")
    assert rise == pytest.approx([2.5, 0, 2.5])


def test_a_bridge_is_parallel_to_what_lies_behind_it():
    live, earth = 20 * OHM_4, 20 * OHM_2_5
    behind = 10 + live + earth
    fault = Fault("bridged", ("A", "E"), "S2", 0.5)
    assert read("S2", fault=fault)[1] == pytest.approx(0.5 * behind / (0.5 + behind))
    in_run = Fault("bridged", ("A", "E"), "S1..S2", 0.5, along=0.25)
    near = 10 + 15.5 * (OHM_4 + OHM_2_5)
    beyond = 4.5 * (OHM_4 + OHM_2_5)
    assert read("S2", fault=in_run)[1] == pytest.approx(0.5 * near / (0.5 + near) + beyond)


def test_a_bridge_behind_a_switch_is_seen_through_that_switch_only():
    fault = Fault("bridged", ("A", "N"), "S1", 0.5, behind=True)
    assert read("S3", "on", fault) == pytest.approx(read("S3", "on"))
    assert read("S2", fault=fault) == pytest.approx(read("S2"))
    assert read("S1", "off", fault)[0] == pytest.approx(0.5)
    assert read("S1", "on", fault)[0] == pytest.approx(1 / (1 / 0.5 + 1 / read("S1", "on")[0]))


@pytest.mark.parametrize(
    ("mode", "opens_on", "opens_off"),
    [
        ("switch-in-neutral", [], [0, 2]),
        ("switch-bypassed", [], []),
        ("switch-stuck-on", [], []),
        ("switch-stuck-off", [0, 1], [0, 1]),
    ],
)
def test_switch_faults(mode, opens_on, opens_off):
    fault = Fault(mode, (), "S1")
    on, off = read("S1", "on", fault), read("S1", "off", fault)
    assert [i for i in range(3) if math.isinf(on[i])] == opens_on
    assert [i for i in range(3) if math.isinf(off[i])] == opens_off


def random_pairs(number):
    """Yield circuits, each with a fault that has its ohms."""
    settings = Settings(in_runs=True, behind_switches=True, box_share=0.3)
    for case in cases(number, 7, settings, faulty=True):
        yield case.circuit, case.fault


def one_at_a_time(number):
    """Yield each reading with its own graph of resistors: only its own switch closed."""
    for circuit, fault in random_pairs(number):
        keys = circuit.keys()
        for key, ohm in zip(keys, readings(circuit, fault, keys).tolist(), strict=True):
            outlet, switch, pair = key
            closed = {outlet} if switch == "on" else set()
            links, _ = network(circuit, fault, closed, fault.r_ohm or 1.0)
            joints = nx.Graph([(first, second) for first, second, ohm in links if ohm == 0])
            joints.add_nodes_from(node for first, second, _ in links for node in (first, second))
            node_of = {n: i for i, part in enumerate(nx.connected_components(joints)) for n in part}
            graph = nx.MultiGraph()
            graph.add_nodes_from(node_of.values())
            for first, second, r_ohm in links:
                if node_of[first] != node_of[second]:
                    graph.add_edge(node_of[first], node_of[second], ohm=r_ohm)
            p, q = (node_of[outlet, conductor, "contact"] for conductor in pair)
            part = graph.subgraph(nx.node_connected_component(graph, p))
            yield ohm, part, p, q


def exact_ohm(graph, p, q):
    """Return the resistance between two nodes by star-mesh elimination in exact fractions."""
    siemens = {node: defaultdict(Fraction) for node in graph}
    for u, v, ohm in graph.edges(data="ohm"):
        siemens[u][v] += 1 / Fraction(ohm)
        siemens[v][u] += 1 / Fraction(ohm)
    for node in set(graph) - {p, q}:
        star = siemens.pop(node)
        total = sum(star.values())
        for u, v in permutations(star, 2):
            siemens[u][v] += star[u] * star[v] / total
        for u in star:
            del siemens[u][node]
    return float(1 / siemens[p][q])


def test_against_exact_fractions():
    for ours, graph, p, q in one_at_a_time(12):
        assert ours == pytest.approx(exact_ohm(graph, p, q) if q in graph else math.inf, rel=1e-10)


def test_against_networkx():
    pytest.importorskip("scipy", reason="networkx needs it for resistance_distance")
    for ours, graph, p, q in one_at_a_time(4):
        if q in graph:
            theirs = nx.resistance_distance(graph, p, q, weight="ohm")
            assert ours == pytest.approx(theirs, rel=1e-6)  # its pseudo-inverse costs digits


def test_one_inverse_serves_every_value_of_ohms():
    for fault in faults_of(CIRCUIT, in_runs=True, behind_switches=True):
        family = sweep(CIRCUIT, fault, CIRCUIT.keys())
        for r_ohm in (0.02, 0.7, 30.0):
            direct = readings(CIRCUIT, replace(fault, r_ohm=r_ohm), CIRCUIT.keys())
            assert family.at(r_ohm) == pytest.approx(direct, rel=1e-9)


def test_parts_without_a_path_have_a_ground_each():
    inverse, node_of, part_of = _grounded_inverse([(("a",), ("b",), 2.0), (("c",), ("d",), 3.0)])
    assert part_of[node_of["a",]] != part_of[node_of["c",]]
    assert sorted(np.diag(inverse)) == pytest.approx([0, 0, 2, 3])


def test_circuits_are_trees_within_the_settings():
    for seed in range(50):
        circuit = random_circuit(random.Random(seed), Settings(outlets=(3, 12), box_share=0.2))
        graph = nx.DiGraph([(run.upstream, run.downstream) for run in circuit.runs])
        assert nx.is_arborescence(graph)
        assert set(graph) == {"DB", *circuit.points}
        assert 3 <= len(circuit.outlets) <= 12
        assert all(2 <= run.length_m <= 25 for run in circuit.runs)


def test_cases_follow_from_the_seed_and_every_mode_comes_up():
    made = [as_yaml(case) for case in cases(5, 3, Settings(), faulty=True)]
    assert made == [as_yaml(case) for case in cases(5, 3, Settings(), faulty=True)]
    assert made != [as_yaml(case) for case in cases(5, 4, Settings(), faulty=True)]
    assert {case.fault.mode for case in cases(80, 1, Settings(), faulty=True)} == set(MODES)


@pytest.mark.parametrize("how", ["all", "two-in-three", "failed-and-one"])
def test_every_fault_shows_where_it_is_read(how):
    settings = Settings(read=how, length_error=0.1, terminator_error=0.01)
    for case in cases(20, 2, settings, faulty=True):
        exact = readings(case.circuit, None, case.keys)
        opens = np.isinf(exact) != np.isinf(case.values)
        both = np.isfinite(exact) & np.isfinite(case.values)
        # 3 of its standard deviations at the least, less what length and noise may hide of it.
        assert opens.any() or np.max(np.abs(exact[both] - case.values[both])) > 0.02


def test_a_case_file_says_what_was_drawn_and_read_but_not_the_fault():
    (case,) = cases(1, 1, Settings(read="two-in-three"), faulty=True)
    text = as_yaml(case)
    raw = yaml.load(text, Loader=yaml.BaseLoader)  # noqa: S506 (text only, and our own)
    assert set(raw) == {"circuit", "terminators", "readings"}
    assert len(raw["readings"]) * 3 == len(case.keys)
    assert case.fault.mode not in text


def test_what_reads_alike_is_found():
    every = CIRCUIT.keys()
    faults = list(faults_of(CIRCUIT, in_runs=True))

    def labels(truth, keys=every):
        return {str(f) for f in identical_faults(CIRCUIT, truth, keys, faults)}

    last = Fault("open", ("A",), "S2..S3")
    assert labels(last) == {"open A at S2..S3", "open A at S3", "switch-stuck-off at S3"}
    assert labels(Fault("open", ("N",), "S1..S2")) == {"open N at S1..S2"}
    bridge = Fault("bridged", ("A", "N"), "S3", 0.5)
    assert labels(bridge) == {"bridged A-N at S3 0.5 ohm"}
    # With S3 unread, the last run is as good a place, and so is S2 with more ohms.
    assert {text.split(" at ")[1][:6] for text in labels(bridge, CIRCUIT.keys(("S1", "S2")))} == {
        "S2",
        "S2..S3",
        "S3 0.5",
    }


def test_the_yardstick_finds_exact_readings():
    faults = list(faults_of(CIRCUIT))
    truth = Fault("high-resistance", ("N",), "S1..S2", 1.7)
    values = readings(CIRCUIT, truth, CIRCUIT.keys())
    suspects = yardstick.rank(CIRCUIT, CIRCUIT.keys(), values, faults)
    assert suspects[0].fault.label == truth.label
    assert suspects[0].r_ohm == pytest.approx(1.7, rel=0.02)
    assert sum(s.probability for s in suspects) == pytest.approx(1)
    sound = yardstick.rank(CIRCUIT, CIRCUIT.keys(), readings(CIRCUIT, None, CIRCUIT.keys()), faults)
    assert sound[0].fault is None
    assert len(yardstick.leading_group(sound, within_sd=0.5)) == 1


def suspect(rank, group, *faults):
    return {"rank": rank, "group": group, "probability": 0.5 / rank, "faults": list(faults)}


def said(mode, conductors, at):
    return {"mode": mode, "conductors": conductors, "at": at, "ohms": None}


DIAGNOSIS = {
    "schema": 1,
    "case": "x.yaml",
    "verdict": "fault",
    "suspects": [
        suspect(3, 2, said("bridged", ["A", "E"], "S2")),
        suspect(1, 7, said("transposed", ["N", "A"], "S3")),
        suspect(2, 7, said("switch-stuck-on", ["A"], "S3")),
        suspect(4, 7, said("open", ["A"], "S1"), said("open", ["E"], "S2")),
        suspect(5, 3),
    ],
}


@pytest.mark.parametrize(
    ("truth", "hit"),
    [
        (Fault("transposed", ("A", "N"), "S3"), True),
        (Fault("transposed", ("A", "N"), "S2..S3"), False),
        (Fault("switch-stuck-on", (), "S3"), True),
        (Fault("switch-bypassed", (), "S3"), False),
        (Fault("bridged", ("A", "E"), "S2", 1.0), False),
        (Fault("open", ("A",), "S1"), False),
        (None, False),
    ],
)
def test_the_truth_counts_in_the_leading_group_only(truth, hit):
    marked = scoring.mark(DIAGNOSIS, truth)
    assert (marked.hit, marked.group_size, marked.verdict) == (hit, 3, "fault")
    assert marked.leader == "transposed N-A at S3 (p 0.50)"


def test_a_cycle_is_told_from_its_opposite_and_from_any_start():
    assert label("transposed", ("N", "E", "A"), "S1") == label("transposed", ("A", "N", "E"), "S1")
    assert label("transposed", ("A", "E", "N"), "S1") != label("transposed", ("A", "N", "E"), "S1")


def test_errors_and_silence_are_misses():
    assert scoring.mark({"case": "x", "error": "no"}, None).verdict == "error"
    assert not scoring.mark({"verdict": "sound", "suspects": []}, None).hit
    sound = {"verdict": "sound", "suspects": [suspect(1, 1)]}
    assert scoring.mark(sound, None) == scoring.Mark(True, 1, "sound", "sound (p 0.50)")


def test_diagnoses_are_asked_for_in_batches(tmp_path):
    asked = []

    def run(arguments):
        asked.append(arguments)
        lines = [json.dumps({"case": path}) for path in arguments[1:-2]]
        return 2, "\n".join(lines), ""

    paths = [tmp_path / f"{i}.yaml" for i in range(5)]
    found = scoring.diagnose(paths, run, at_once=2)
    assert [one["case"] for one in found] == [str(path) for path in paths]
    assert [len(arguments) for arguments in asked] == [5, 5, 4]


def test_both_ways_to_run_the_command_answer_alike(tmp_path, monkeypatch):
    package = tmp_path / "faultfinder"
    package.mkdir()
    (package / "__main__.py").write_text(
        "import json, sys\n"
        "for path in sys.argv[2:-2]:\n"
        "    print(json.dumps({'case': path}))\n"
        "sys.exit(1)\n"
    )
    (package / "__init__.py").write_text("")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PYTHONPATH", raising=False)
    for name in [name for name in sys.modules if name.partition(".")[0] == "faultfinder"]:
        monkeypatch.delitem(sys.modules, name)
    arguments = ["diagnose", "x.yaml", "--format", "json"]
    wanted = (1, '{"case": "x.yaml"}\n', "")
    assert scoring.in_subprocess(arguments) == wanted
    assert scoring.in_process(arguments) == wanted
    sys.modules.pop("faultfinder")


@pytest.mark.parametrize(("code", "out"), [(3, "{}"), (0, ""), (0, "{}\n{}"), (0, "not JSON")])
def test_a_command_that_does_not_answer_is_no_diagnosis(code, out, tmp_path):
    with pytest.raises(scoring.NoAnswerError):
        scoring.diagnose([tmp_path / "x.yaml"], lambda _: (code, out, ""))
