"""The simulated mistakes are held to closed forms, and the baselines to what they claim."""

import math
from dataclasses import replace

import baselines
import numpy as np
import pytest
from drawing import PAIRS, Arrangement, Circuit, Fault, Run
from mistaken import KINDS, SLIPS, mistaken, slipped
from resistances import readings
from scoring import Ranked
from setups import Told, bins, credible, error
from simulator import Case, Settings

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

CIRCUIT = Circuit(
    points=("S1", "S2"),
    boxes=frozenset(),
    switched=frozenset({"S1"}),
    runs=(Run("DB", "S1", 10), Run("S1", "S2", 10)),
    active_mm2=2.5,
    earth_mm2=2.5,
    terminators=(10.0, 5.0),
)
RUN = 0.0741  # one conductor of 10 m of 2.5 mm², IEC 60228 class 1. [ohm]
SETTINGS = Settings(outlets=(3, 6))


def read(arrangement, outlet="S2", switch=""):
    keys = [(outlet, switch, pair) for pair in PAIRS]
    return readings(CIRCUIT, None, keys, arrangement).tolist()


def test_what_is_left_out_is_open():
    assert read(Arrangement(frozenset({"A"}))) == [math.inf, math.inf, pytest.approx(5 + 4 * RUN)]
    assert read(Arrangement(frozenset({"link"}))) == [
        pytest.approx(15 + 4 * RUN),
        math.inf,
        math.inf,
    ]


def test_a_neutral_on_its_bar_is_joined_to_earth():
    wanted = [10 + 4 * RUN, 10 + 4 * RUN, 4 * RUN]
    assert read(Arrangement(neutral_on_bar=True)) == pytest.approx(wanted)


def test_a_load_lies_across_active_and_neutral_but_where_its_switch_is_off():
    load = Arrangement(load=("S1", 20.0))
    across = 1 / (1 / (15 + 2 * RUN) + 1 / 20)
    assert read(load, "S1", "on")[0] == pytest.approx(across)
    assert read(load, "S2")[0] == pytest.approx(across + 2 * RUN)
    off = read(load, "S1", "off")
    assert off[0] == pytest.approx(20.0)  # the load alone, behind the open switch
    assert off[2] == pytest.approx(5 + 2 * RUN)


def test_every_kind_of_mistake_and_slip_is_made_in_turn_and_shows():
    made = list(mistaken(len(KINDS), 3, SETTINGS))
    assert tuple(one.label[0] for one in made) == KINDS
    spoiled = list(slipped(len(SLIPS), 3, SETTINGS))
    assert tuple(one.kind for one in spoiled) == SLIPS
    assert all(len(one.keys) == (2 if one.kind == "leads exchanged" else 1) for one in spoiled)


def test_exchanged_rows_are_each_others():
    for one in mistaken(4 * len(KINDS), 5, SETTINGS):
        if one.label[0] == "switches-noted-wrong":
            values = dict(zip(one.case.keys, one.case.values, strict=True))
            assert all(
                math.isinf(value)
                for (_, switch, pair), value in values.items()
                if switch == "on" and "A" in pair
            )


def test_the_checklist_finds_a_plain_open_and_calls_a_sound_circuit_sound():
    keys = CIRCUIT.keys()
    for fault in (
        None,
        Fault("open", ("E",), "S1..S2"),
        Fault("high-resistance", ("N",), "DB..S1", 2.0),
    ):
        case = Case("case", CIRCUIT, fault, keys, readings(CIRCUIT, fault, keys))
        assert baselines.checklist(case, SETTINGS) == (fault and replace(fault, r_ohm=None))
        sound, chance, listed = baselines.hits(case, SETTINGS, 2)
        assert (sound, listed) == (float(fault is None), 1.0)
        assert 0 < chance < 0.1


def test_calibration_error_is_nil_for_what_was_said_truly():
    rng = np.random.default_rng(1)
    p = rng.uniform(size=20000)
    true = [(float(q), bool(u < q)) for q, u in zip(p, rng.uniform(size=len(p)), strict=True)]
    assert error(true) < 0.02
    # Sorted by what was said, so half said 0.9 and never right, half said 0.1 and always right.
    assert error([(0.9, False), (0.1, True)] * 50) == pytest.approx(0.9)
    assert sum(number for _, _, number in bins(true)) == len(p)


def test_a_credible_set_keeps_suspects_that_are_equally_likely():
    def suspect(name, probability):
        return Ranked(frozenset({("open", (), name)}), probability, False, False)

    suspects = [suspect("S1", 0.4), suspect("S2", 0.3), suspect("S3", 0.26), suspect("S4", 0.04)]
    assert len(credible(suspects)) == 3
    equal = [suspect(f"S{i}", 0.2) for i in range(5)] + [suspect("S9", 0.2)]
    assert len(credible(equal)) == 6
    assert Told(None, frozenset(), {}, suspects).leading == []
