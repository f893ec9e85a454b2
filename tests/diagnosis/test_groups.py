"""What cannot be told apart is together, and nothing else is."""

import math
from dataclasses import replace

import pytest
from modelled import BRANCHED, LINE, MODES, readings

from diagnosis.simulated import bench_and_jury
from faultfinder.diagnosis.catalogue import catalogue
from faultfinder.diagnosis.groups import BOUND_NATS, groups, nats_apart
from faultfinder.diagnosis.posterior import judge
from faultfinder.wiring.fault import Fault


def fault_of(suspect):
    return next(iter(suspect.hypothesis.faults), None)


def judged(circuit, *faults, only=None):
    """Return suspects by the fault they are, with their group numbers, and the jury."""
    taken = [r for r in readings(circuit, faults) if only is None or r.spot.at in only]
    bench, jury = bench_and_jury(circuit, taken)
    found = judge(bench, jury, catalogue(circuit, MODES)).suspects
    numbers = dict(zip((fault_of(suspect) for suspect in found), groups(found, jury), strict=True))
    return {fault_of(suspect): suspect for suspect in found}, numbers, jury


@pytest.mark.parametrize(
    ("fault", "twin"),
    [
        (Fault("switch-bypassed", (), "S1"), Fault("switch-stuck-on", (), "S1")),
        (Fault("switch-stuck-on", (), "S1"), Fault("switch-bypassed", (), "S1")),
        (Fault("open", ("E",), "S3"), Fault("open", ("E",), "S2..S3")),
        (Fault("open", ("A",), "S2..S3"), Fault("open", ("A",), "S3")),
        (Fault("transposed", ("A", "N"), "S3"), Fault("transposed", ("A", "N"), "S2..S3")),
        (
            Fault("transposed", ("A", "N", "E"), "S2..S3"),
            Fault("transposed", ("A", "N", "E"), "S3"),
        ),
        (
            Fault("high-resistance", ("N",), "S3", 1.2),
            Fault("high-resistance", ("N",), "S2..S3", 1.2),
        ),
    ],
    ids=lambda fault: str(fault).replace(" ", "_"),
)
def test_what_is_electrically_the_same_is_together(fault, twin):
    bare, other = (Fault(f.mode, f.conductors, f.at) for f in (fault, twin))
    found, numbers, jury = judged(LINE, fault)
    assert numbers[bare] == numbers[other] == 1
    one, two = found[bare], found[other]
    assert nats_apart(one, two, jury) == pytest.approx(0, abs=0.1)
    assert nats_apart(two, one, jury) == pytest.approx(0, abs=0.1)


def test_a_twin_in_the_middle_of_the_circuit_is_told_apart():
    _, numbers, _ = judged(LINE, Fault("open", ("E",), "S2"))
    assert [fault for fault, number in numbers.items() if number == 1] == [
        Fault("open", ("E",), "S2")
    ]


@pytest.mark.parametrize("branch", ["J1..S2", "J1..S4"])
def test_what_is_far_off_is_never_together(branch):
    fault = Fault("high-resistance", ("E",), branch, 2.0)
    _, numbers, _ = judged(BRANCHED, fault)
    leading = {(f.mode, f.conductors, f.at) for f, number in numbers.items() if f and number == 1}
    assert leading == {("high-resistance", ("E",), branch)}
    assert numbers[None] != 1


def test_places_that_were_not_read_between_are_together():
    """Read at S1 and S3 alone, an open earth may be in either run, or inside S3."""
    _, numbers, _ = judged(LINE, Fault("open", ("E",), "S1..S2"), only=("S1", "S3"))
    leading = {fault.at for fault, number in numbers.items() if number == 1}
    assert leading == {"S1..S2", "S2..S3", "S3"}


def test_groups_are_led_by_their_first_and_numbered_in_order():
    found, numbers, jury = judged(LINE, Fault("bridged", ("A", "N"), "S2", 0.5))
    assert next(iter(numbers.values())) == 1
    seen = list(dict.fromkeys(numbers.values()))
    assert seen == sorted(seen)
    leaders = {}
    for fault, number in numbers.items():
        leader = leaders.setdefault(number, fault)
        if leader is not fault:
            assert nats_apart(found[leader], found[fault], jury) < BOUND_NATS


def test_apart_is_the_expected_log_likelihood_ratio():
    """One reading that differs by d with deviation s counts ½ (d / s)², one lost counts a slip."""
    found, _, jury = judged(LINE, Fault("open", ("E",), "S2"))
    true = found[Fault("open", ("E",), "S2")]
    sound = found[None]
    # A-E and N-E at S2 with its switch on; with both poles off they are open anyway.
    lost = sum(
        math.isinf(one) != math.isinf(two)
        for one, two in zip(true.read.tolist(), sound.read.tolist(), strict=True)
    )
    assert lost == 2
    each = -math.log(jury.tolerances.slip)
    assert nats_apart(true, sound, jury) == pytest.approx(lost * each, rel=1e-6)


def test_nothing_is_apart_from_itself():
    found, _, jury = judged(LINE, Fault("high-resistance", ("A",), "S1", 0.8))
    for suspect in found.values():
        assert nats_apart(suspect, suspect, jury) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("share", "number"), [(0.0005, 2), (0.002, 1)])
def test_two_faults_that_read_as_one_are_with_it_unless_next_to_impossible(share, number):
    """Joints inside S2 and beyond it, of the same ohms, read as one in the run that feeds S2."""
    found, _, jury = judged(LINE, Fault("high-resistance", ("E",), "S1..S2", 2.0))
    one = found[Fault("high-resistance", ("E",), "S1..S2")]
    both = (
        Fault("high-resistance", ("E",), "S2", 2.0),
        Fault("high-resistance", ("E",), "S2..S3", 2.0),
    )
    pair = replace(
        one,
        hypothesis=replace(one.hypothesis, faults=both),
        probability=share * one.probability,
    )
    assert nats_apart(one, pair, jury) == pytest.approx(0, abs=1e-9)
    assert groups([one, pair], jury) == (1, number)
    # A rare fault by itself is no more contrived than the leader is.
    rare = replace(pair, hypothesis=replace(one.hypothesis, faults=both[:1]))
    assert groups([one, rare], jury) == (1, 1)
