"""The search for two faults leaves out only what a bound refutes."""

from itertools import combinations, product

import numpy as np
import pytest
from modelled import LINE, MODES, RING, RULEBOOK

from diagnosis.simulated import bench_and_jury, seeded, taken
from faultfinder.diagnosis import partners as searching
from faultfinder.diagnosis.catalogue import hypothesis, no_edit
from faultfinder.diagnosis.partners import Family, partners
from faultfinder.network.branch import in_turn
from faultfinder.wiring.fault import Fault

SOME = [
    Fault("open", ("E",), "S1..S2"),
    Fault("open", ("A",), "S3"),
    Fault("high-resistance", ("N",), "S2..S3"),
    Fault("high-resistance", ("A",), "S1"),
    Fault("high-resistance", ("A",), "DB..S1"),
    Fault("bridged", ("A", "E"), "S2"),
    Fault("bridged", ("N", "E"), "S3"),
    Fault("transposed", ("A", "N"), "S2..S3"),
    Fault("transposed", ("A", "E"), "S3"),
    Fault("switch-stuck-on", (), "S1"),
    Fault("switch-in-neutral", (), "S1"),
]
BY_ID = {mode.id: mode for mode in MODES}
OHMS = {"high-resistance": (0.2, 2.0, 20.0), "bridged": (0.05, 1.0, 30.0)}


def family(circuit, fault):
    one = hypothesis(BY_ID[fault.mode], circuit, fault)
    return Family(one.ways[0], one.ohms, one.log_prior)


def families(circuit=LINE):
    return [family(circuit, fault) for fault in SOME]


def all_pairs(count):
    return np.stack(np.triu_indices(count, 1), axis=1)


def made_of(several, i, j, r_ohm, s_ohm):
    return in_turn([several[i].way.edit(r_ohm), several[j].way.edit(s_ohm)])


PAIRS = list(combinations(range(len(SOME)), 2))


@pytest.mark.parametrize("number", range(0, len(PAIRS), 4))
def test_what_made_the_readings_is_found_with_its_ohms(number):
    several, rng = families(), seeded(number)
    i, j = PAIRS[number]
    r_ohm, s_ohm = (OHMS.get(SOME[k].mode, (0.0,))[-2:][0] for k in (i, j))
    made = made_of(several, i, j, r_ohm, s_ohm)
    bench, jury = bench_and_jury(LINE, taken(LINE, made, rng))
    found = partners(bench, jury, several, [0], all_pairs(len(several)), -np.inf)
    truth = float(jury.glance(bench.read([made]))[0])
    prior = several[i].log_prior + several[j].log_prior
    # Whoever leads fits at least as well; the truth's own best is no worse than the truth.
    assert found[0].score >= truth + prior - 1e-6
    own = next((one for one in found if (one.first, one.second) == (i, j)), None)
    assert own is not None
    assert own.score >= truth + prior - 1e-6


@pytest.mark.parametrize("circuit", [LINE, RING], ids=["line", "ring"])
def test_no_ohms_of_a_pair_exceed_its_bounds(circuit):
    """By what the readings of either leave alone, by a few readings, and by all of them."""
    rng = seeded(3)
    several = [
        family(circuit, fault)
        for fault in SOME
        if circuit is LINE or ("switch" not in fault.mode and fault.mode != "transposed")
    ]
    everything = all_pairs(len(several))
    made = made_of(several, 0, 2, 0.0, 3.0)
    bench, jury = bench_and_jury(circuit, taken(circuit, made, rng))
    search = searching._Search(bench, jury, several, -np.inf)
    bounds = [search._covering(everything), search._bounds(everything, search.reader, search.jury)]
    for number, (i, j) in enumerate(everything.tolist()):
        ohms = [np.geomspace(*several[k].ohms, 7) if several[k].ohms else [0.0] for k in (i, j)]
        edits = [made_of(several, i, j, r, s) for r, s in product(*ohms)]
        best = float(jury.glance(bench.read(edits)).max())
        best += several[i].log_prior + several[j].log_prior
        assert all(best <= bound[number] + 1e-6 for bound in bounds), (i, j)


def test_nine_readings_give_all():
    several = families()
    bench, _ = bench_and_jury(LINE, taken(LINE, no_edit, seeded(1)))
    ends = searching._ENDS_OHM
    for i, j in [(2, 3), (2, 5), (5, 6), (3, 4)]:
        nine = [[made_of(several, i, j, r, s) for r in ends] for s in ends]
        grid = np.stack([bench.read(row) for row in nine])[None]
        for r_ohm, s_ohm in ((0.07, 900.0), (2.0, 2.0), (50.0, 0.3)):
            found = searching._at(grid, np.array([[[r_ohm], [s_ohm]]]))[0, 0]
            exact = bench.read([made_of(several, i, j, r_ohm, s_ohm)])[0]
            finite = np.isfinite(exact)
            assert np.array_equal(finite, np.isfinite(found))
            assert found[finite] == pytest.approx(exact[finite], rel=1e-6)


def test_boxes_are_halved_until_narrow_and_cover_what_they_did():
    boxes = searching._Boxes(
        np.array([0, 1]), np.array([[[0.0, 1.0], [0.0, 0.1]], [[2.0, 2.0]] * 2])
    )
    halved = boxes.halved()
    widths = [float(np.ptp(box, axis=1).prod()) for box in halved.ln_ohms[halved.pair == 0]]
    assert sum(widths) == pytest.approx(0.1)
    while (more := halved.halved()) is not None:
        halved = more
    assert (np.ptp(halved.ln_ohms, axis=2) <= searching._NARROW).all()


def test_the_modes_here_are_those_shipped():
    assert {fault.mode for fault in SOME} <= set(RULEBOOK.modes)
