"""Every set-up mistake, made on a sound circuit, is found, said first and checked first."""

import math

import numpy as np
import pytest
from modelled import BRANCHED, LINE, RULEBOOK, TERMINATORS, case, readings

from faultfinder.diagnosis.catalogue import catalogue
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.mistakes import mistakes
from faultfinder.evidence.bench import Bench
from faultfinder.readings.reading import Reading
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced


def bench_of(circuit, *tests):
    spots = tuple(s for test in tests for s in spots_of(RULEBOOK.procedures[test], circuit))
    return Bench(circuit, RULEBOOK.procedures, TERMINATORS, spots)


def found_in(circuit, *tests):
    return mistakes(bench_of(circuit, *tests), RULEBOOK.set_ups.values())


def one_of_each(circuit, *tests):
    first = {}
    for one in found_in(circuit, *tests):
        first.setdefault((one.faults[0].set_up, one.faults[0].conductors), one)
    return list(first.values())


def taken(circuit, one, *tests):
    bench = bench_of(circuit, *tests)
    r_ohm = math.sqrt(one.ohms[0] * one.ohms[1]) if one.ohms else 0.0
    if one.faults[0].set_up == "active-not-isolated":
        r_ohm = 20.0
    (read,) = bench.read([one.ways[0].edit(r_ohm)])
    shown = np.where(read > 1e5, math.inf, np.round(read, 2))
    return tuple(
        Reading(spot, Amount(value, "=" if math.isfinite(value) else "open"), 0.01)
        for spot, value in zip(bench.spots, shown.tolist(), strict=True)
    )


def test_all_that_is_shipped_can_be_made_in_one_test_or_another():
    made = {one.faults[0].set_up for one in found_in(BRANCHED, "terminated", "insulation")}
    assert made == set(RULEBOOK.set_ups)


@pytest.mark.parametrize(
    "one", one_of_each(BRANCHED, "terminated"), ids=lambda one: str(one.faults[0])
)
def test_each_mistake_is_in_the_leading_group_and_checked_first(one):
    diagnosis = diagnose(case(BRANCHED, taken=taken(BRANCHED, one, "terminated")), RULEBOOK)
    named = [(f.set_up, f.conductors, f.at) for s in diagnosis.leading for f in s.faults]
    assert (one.faults[0].set_up, one.faults[0].conductors, one.faults[0].at) in named
    assert diagnosis.verdict == "fault"
    assert diagnosis.next_checks[0].test == "set-up"


def test_a_mistake_nobody_can_have_made_is_no_hypothesis():
    made = {one.faults[0].set_up for one in found_in(LINE, "insulation")}
    assert "terminators-exchanged" not in made
    assert "leads-not-nulled" not in made
    assert found_in(LINE) == ()


def test_rows_are_exchanged_among_outlets_that_have_the_same_rows():
    pairs = {
        one.faults[0].at
        for one in found_in(BRANCHED, "terminated")
        if one.faults[0].set_up == "rows-exchanged"
    }
    assert "S1,S2" in pairs
    assert "S1,S4" not in pairs  # S4 has no switch


def test_the_chances_of_one_kind_do_not_grow_with_the_pairs_it_can_be_between():
    for set_up in ("rows-exchanged", "drawn-in-wrong-order"):
        logs = [
            o.log_prior for o in found_in(BRANCHED, "terminated") if o.faults[0].set_up == set_up
        ]
        assert np.exp(logs).sum() <= RULEBOOK.set_ups[set_up].prior.chance * (1 + 1e-9)


def test_a_mistake_takes_its_chance_from_the_sound_circuit():
    made = found_in(LINE, "terminated")
    modes = tuple(RULEBOOK.modes.values())
    without, with_them = catalogue(LINE, modes)[0], catalogue(LINE, modes, (), made)[0]
    lost = sum(math.log(1 - math.exp(one.log_prior)) for one in made)
    assert with_them.log_prior == pytest.approx(without.log_prior + lost)


def test_a_fault_that_reads_like_a_mistake_still_leads_the_list():
    fault = Fault("open", ("E",), "DB..S1")
    diagnosis = diagnose(case(LINE, [fault]), RULEBOOK)
    assert diagnosis.suspects[0].faults == (fault,)
    assert any(suspect.is_set_up for suspect in diagnosis.leading)
    assert diagnosis.next_checks[0].test == "set-up"


def test_the_row_a_mistake_of_noting_names_is_to_be_repeated():
    turned = {"on": "off", "off": "on"}
    rows = [
        Reading(
            r.spot.__class__(r.spot.test, r.spot.at, turned[r.spot.switch], r.spot.between),
            r.amount,
            r.resolution,
        )
        if r.spot.at == "S1"
        else r
        for r in readings(LINE)
    ]
    diagnosis = diagnose(case(LINE, taken=rows), RULEBOOK)
    assert diagnosis.suspects[0].faults[0].set_up == "switch-noted-wrong"
    assert {reading.spot.at for reading in diagnosis.repeat} == {"S1"}
    assert len(diagnosis.repeat) == 6


def test_what_was_noted_wrongly_is_read_again_by_the_look_and_not_once_more():
    """The leader reads as was read: taken again as it stands, it would part nothing."""
    fault = Fault("transposed", ("A", "N"), "S2..S3")
    taken = [r for r in readings(LINE, [fault]) if r.spot.at != "S2"]
    diagnosis = diagnose(case(LINE, taken=taken), RULEBOOK)
    assert "columns-exchanged" in {f.set_up for s in diagnosis.leading for f in s.faults}
    assert {reading.spot.at for reading in diagnosis.repeat} == {"S3"}
    first, *others = diagnosis.next_checks
    assert first.test == "set-up"
    assert others[0].spot.at == "S2"
    assert not {check.spot for check in others} & {reading.spot for reading in taken}
