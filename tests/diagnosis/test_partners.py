"""The search for two faults finds what made the readings, from what either fault does alone."""

from itertools import combinations

import numpy as np
import pytest
from modelled import LINE, MODES, RING, RULEBOOK

from diagnosis.simulated import bench_and_jury, seeded, taken
from faultfinder.diagnosis import partners as searching
from faultfinder.diagnosis.catalogue import hypothesis, no_edit
from faultfinder.diagnosis.curves import ENDS_OHM
from faultfinder.diagnosis.family import Family
from faultfinder.diagnosis.nine import Nine, over
from faultfinder.diagnosis.partners import partners
from faultfinder.diagnosis.settled import settled
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
SHORT_NATS = 1.5  # what the ohms are off by when the search ends
BETWEEN = (0.05, 2.0, 70.0)
OHMS = {"high-resistance": (0.2, 2.0, 20.0), "bridged": (0.05, 1.0, 30.0)}


def family(circuit, fault):
    one = hypothesis(BY_ID[fault.mode], circuit, fault)
    return Family(one.ways[0], one.ohms, one.log_prior)


def families(circuit=LINE):
    return [family(circuit, fault) for fault in SOME]


def bounds_of(bench, jury, several):
    """Return bounds as a diagnosis has them: by the sound circuit and by what is likeliest."""
    edits = [no_edit, *(f.way.edit(2.0) for f in several)]
    lean = bench.lean(edits)
    spread = jury.spread(lean)
    order = np.argsort(-jury.weigh(lean.read, spread).log)
    return settled(jury, lean.read[order], spread[order])


def all_pairs(count):
    return np.stack(np.triu_indices(count, 1), axis=1)


def made_of(several, i, j, r_ohm, s_ohm):
    return in_turn([several[i].way.edit(r_ohm), several[j].way.edit(s_ohm)])


def likelihood(bench, jury, made):
    """Return the log likelihood that is reported, of the readings given what is made."""
    lean = bench.lean([made])
    return float(jury.weigh(lean.read, jury.spread(lean)).log[0])


PAIRS = list(combinations(range(len(SOME)), 2))


@pytest.mark.parametrize("number", range(0, len(PAIRS), 4))
def test_what_made_the_readings_is_found_with_its_ohms(number):
    several, rng = families(), seeded(number)
    i, j = PAIRS[number]
    r_ohm, s_ohm = (OHMS.get(SOME[k].mode, (0.0,))[-2:][0] for k in (i, j))
    made = made_of(several, i, j, r_ohm, s_ohm)
    bench, jury = bench_and_jury(LINE, taken(LINE, made, rng))
    bounds = bounds_of(bench, jury, several)
    found = partners(bench, jury, bounds, several, all_pairs(len(several)), -np.inf)
    truth = likelihood(bench, jury, made)

    def of_found(one):
        return likelihood(bench, jury, made_of(several, one.first, one.second, *one.r_ohm))

    # Whoever leads fits at least as well; the truth's own best is about as good as the truth.
    prior = several[i].log_prior + several[j].log_prior
    first = several[found[0].first].log_prior + several[found[0].second].log_prior
    assert of_found(found[0]) + first >= truth + prior - SHORT_NATS
    own = next((one for one in found if (one.first, one.second) == (i, j)), None)
    assert own is not None
    assert of_found(own) >= truth - SHORT_NATS


@pytest.mark.parametrize("circuit", [LINE, RING], ids=["line", "ring"])
def test_nine_readings_of_a_pair_are_those_of_both(circuit):
    """Added up where neither acts on the other, solved for where it does."""
    several = [
        family(circuit, fault)
        for fault in SOME
        if circuit is LINE or ("switch" not in fault.mode and fault.mode != "transposed")
    ]
    bench, jury = bench_and_jury(circuit, taken(circuit, no_edit, seeded(3)))
    search = searching._Search(bench, jury, bounds_of(bench, jury, several), several, -np.inf)
    everything = all_pairs(len(several))
    corners = Nine(search.reader, search.alone, search.has_ohms, everything)
    least, most = corners.range()
    nine = corners.all_of(np.arange(len(everything)))
    apart = search.alone.adds_up(everything)
    assert apart.any()
    assert not apart.all()
    for number, (i, j) in enumerate(everything.tolist()):
        ends = [ENDS_OHM if several[k].ohms else ENDS_OHM[:1] * 3 for k in (i, j)]
        exact = bench.read([made_of(several, i, j, r, s) for s in ends[1] for r in ends[0]])
        found = nine[number].reshape(9, -1)
        assert np.array_equal(np.isfinite(found), np.isfinite(exact))
        finite = np.isfinite(exact)
        assert found[finite] == pytest.approx(exact[finite], rel=1e-6, abs=1e-9)
        # The four corners bound all that lies between.
        between = bench.read([made_of(several, i, j, r, s) for r in BETWEEN for s in BETWEEN])
        assert (between >= least[number] * (1 - 1e-6) - 1e-9).all()
        assert (between <= most[number] * (1 + 1e-6) + 1e-9).all()


def test_nine_readings_give_all():
    several = families()
    bench, _ = bench_and_jury(LINE, taken(LINE, no_edit, seeded(1)))
    for i, j in [(2, 3), (2, 5), (5, 6), (3, 4)]:
        nine = [[made_of(several, i, j, r, s) for r in ENDS_OHM] for s in ENDS_OHM]
        grid = np.stack([bench.read(row) for row in nine])[None]
        r_ohm, s_ohm = np.array([[0.07, 2.0, 50.0]]), np.array([[900.0, 2.0, 0.3]])
        found = over(grid, r_ohm, s_ohm)[0]
        for k, r in enumerate(r_ohm[0]):
            for m, s in enumerate(s_ohm[0]):
                exact = bench.read([made_of(several, i, j, r, s)])[0]
                finite = np.isfinite(exact)
                assert np.array_equal(finite, np.isfinite(found[k, m]))
                assert found[k, m][finite] == pytest.approx(exact[finite], rel=1e-6)


def test_estimates_are_right_where_nothing_acts_on_anything():
    """Of faults without ohms that do not act on each other, the estimate is what is counted."""
    several = [f for f in families() if f.ohms is None]
    everything = all_pairs(len(several))
    rng = seeded(5)
    for i, j in everything.tolist():
        made = made_of(several, i, j, 0.0, 0.0)
        bench, jury = bench_and_jury(LINE, taken(LINE, made, rng))
        bounds = bounds_of(bench, jury, several)
        search = searching._Search(bench, jury, bounds, several, -np.inf)
        estimates = search.estimates.of(everything)
        read = np.stack([bench.read([made_of(several, *p, 0.0, 0.0)])[0] for p in everything])
        counted = search.estimates.peak - bounds.each_cost(read).sum(axis=1)
        apart = search.alone.adds_up(everything)
        assert apart.any()
        assert (estimates >= counted - 0.01)[apart].all()
        exact = apart & np.isfinite(read).all(axis=1)
        assert estimates[exact] == pytest.approx(counted[exact], abs=0.01)


def test_estimates_of_what_is_far_behind_are_cut_short_and_no_lower():
    several, everything = families(), all_pairs(len(SOME))
    made = made_of(several, 0, 2, 0.0, 2.0)
    bench, jury = bench_and_jury(LINE, taken(LINE, made, seeded(6)))
    search = searching._Search(bench, jury, bounds_of(bench, jury, several), several, -np.inf)
    whole = search.estimates.of(everything)
    enough = float(np.median(whole))
    some = search.estimates.of(everything, enough)
    assert some[whole > enough] == pytest.approx(whole[whole > enough])
    assert (some >= whole - 1e-6).all()
    assert (some[whole <= enough] <= enough).all()


@pytest.mark.parametrize(("i", "j", "ohms"), [(2, 3, (2.0, 1.1)), (2, 5, (0.7, 3.0))])
def test_newtons_steps_end_where_a_fine_grid_has_its_top(i, j, ohms):
    several = families()
    made = made_of(several, i, j, *ohms)
    bench, jury = bench_and_jury(LINE, taken(LINE, made, seeded(7)))
    bounds = bounds_of(bench, jury, several)
    search = searching._Search(bench, jury, bounds, several, -np.inf)
    nine = Nine(search.reader, search.alone, search.has_ohms, np.array([[i, j]])).all_of(
        np.array([0])
    )
    ends = search.ln_ohms[[i, j]][None]
    x, _ = search.tops.of_grid(nine, search.grids[[i]], search.grids[[j]])
    x, _ = search.tops.narrowed(nine, x, ends)
    x, most = search.tops.closely(nine, x, ends, np.array([-np.inf]))
    fine = np.log(ohms)[:, None] + np.linspace(-0.4, 0.4, 81)
    read = over(nine, np.exp(fine[:1]), np.exp(fine[1:]))
    assert most[0] >= bounds.at_most(read).max() - 0.5
    assert x[0] == pytest.approx(np.log(ohms), abs=0.3)


def test_the_modes_here_are_those_shipped():
    assert {fault.mode for fault in SOME} <= set(RULEBOOK.modes)
