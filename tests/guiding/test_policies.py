"""What a guided session must show: near the optimum, below the usual orders, and never live first.

The study behind it, with more and larger circuits, is ``tests/study/guiding.py``.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from diagnosis.test_live import SITES, TWO
from evidence.test_live import made
from modelled import LINE, RULEBOOK, case, readings
from planning.optimum import least_minutes
from study.orders import bill, half_split, outlet_by_outlet, planned

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.plan import plan_of
from faultfinder.diagnosis.prospect import LEAST_BITS
from faultfinder.evidence.bench import Bench
from faultfinder.guiding.session import Session
from faultfinder.planning.choice import Planner
from faultfinder.planning.problem import Problem
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Instrument, Reading, Terminators
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

TRUTHS = [
    (LINE, Fault("open", ("E",), "DB..S1"), "S3"),
    (LINE, Fault("transposed", ("A", "N"), "S1..S2"), "S3"),
    (LINE, Fault("high-resistance", ("N",), "S1..S2", 3.0), "S2"),
    (LINE, Fault("switch-in-neutral", (), "S1"), "S1"),
    (LINE, Fault("open", ("A",), "S2..S3"), "S3"),
]


@pytest.fixture(scope="module")
def plans():
    """Return the plans of a circuit of three outlets with one that reads wrong read."""
    found = []
    for circuit, fault, at in TRUTHS:
        taken = [r for r in readings(circuit, [fault]) if r.spot.at == at]
        found.append(plan_of(diagnose(case(circuit, taken=taken), RULEBOOK).prospect))
    return found


def minutes(plan, order):
    belief = plan.prospect.belief
    return float(bill(plan, order, belief, plan.standing).minutes @ belief)


def test_the_mean_cost_is_near_the_optimum_and_far_below_the_usual_orders(plans):
    """The optimum by search without bounds: plain dynamic programming, as the next test shows."""
    best, own, halves, walked = [], [], [], []
    for plan in plans:
        exact = Planner(plan.problem, math.inf, 5_000)
        step = exact.choose(plan.prospect.belief, plan.standing)
        assert exact.states < 5_000
        best.append(step.minutes if step else 0.0)
        own.append(minutes(plan, planned(plan)))
        halves.append(minutes(plan, half_split(plan, "terminated")))
        walked.append(minutes(plan, outlet_by_outlet(plan, "terminated")))
    assert np.mean(own) <= 1.10 * np.mean(best)
    assert np.mean(own) <= 0.75 * np.mean(halves)
    assert np.mean(own) <= 0.75 * np.mean(walked)


def test_the_optimum_of_a_real_plan_is_that_of_plain_dynamic_programming(plans):
    """The five likeliest causes and the eight most telling checks of each."""
    for plan in plans[:3]:
        problem, few = plan.problem, np.arange(min(5, len(plan.problem.place)))
        belief = plan.prospect.belief[few] / plan.prospect.belief[few].sum()
        places, place = np.unique(problem.place[few], return_inverse=True)
        smaller = Problem(
            place,
            tuple(replace(c, chance=_kept(c.chance[:, few])) for c in problem.checks),
            problem.walk,
            problem.change,
            problem.repair_at[places],
            problem.repair[places],
        )
        telling = np.argsort(-smaller.gains(belief), kind="stable")[:8]
        smaller = replace(smaller, checks=tuple(smaller.checks[i] for i in telling.tolist()))
        step = Planner(smaller, math.inf, math.inf).choose(belief, plan.standing)
        wanted = least_minutes(smaller, belief, plan.standing)
        assert (step.minutes if step else 0.0) == pytest.approx(wanted, rel=2e-3)


def _kept(chance):
    """Return the outcomes that can be."""
    return chance[chance.sum(axis=1) > 0]


# -- live ------------------------------------------------------------------------------------------

SITE = SITES["TN-C-S"]
DEAD = [p for p in RULEBOOK.procedures.values() if not p.is_live]


def taken_on(fault, spots):
    """Return what spots of the installation's circuit read with a fault in it."""
    bench = Bench(TWO, RULEBOOK.procedures, Terminators(10.0, 5.0), tuple(spots), SITE)
    found = []
    for spot, value in zip(spots, bench.read([made(fault, TWO)])[0].tolist(), strict=True):
        over = RULEBOOK.procedures[spot.test].unit in {"ohm", "Mohm"} and value > 2000
        amount = Amount(math.inf, "open") if over else Amount(round(value, 2), "=")
        found.append(Reading(spot, amount, 0.01))
    return found


def begun(fault, at, **more):
    spots = [s for s in spots_of(RULEBOOK.procedures["terminated"], TWO) if s.at == at]
    fitted = Terminators(10.0, 5.0)
    taken = tuple(taken_on(fault, spots))
    held = Case("", "", TWO, fitted, Instrument(), taken, installation=SITE, **more)
    return Session(held, RULEBOOK)


@pytest.mark.parametrize(
    ("fault", "at"),
    [
        (Fault("open", ("N",), "DB..K1"), "K2"),
        (Fault("transposed", ("A", "E"), "K2"), "K2"),
        (Fault("high-resistance", ("A",), "K1..K2", 4.0), "K2"),
    ],
    ids=lambda value: str(value) if isinstance(value, Fault) else "",
)
def test_no_live_check_is_asked_for_while_a_dead_one_could_tell(fault, at):
    session = begun(fault, at)
    for _ in range(10):
        check = session.asked
        if check is None:
            break
        plan = plan_of(session.diagnosis.prospect)
        if check.risk == "live":
            assert plan.problem.gains(plan.prospect.belief).max() < LEAST_BITS
        match check.test:
            case "inspect":
                session = session.saw_nothing(check.spot.at)
            case "exchange":
                session = session.did_not_help(check.spot.at)
            case "set-up":
                for suspect in session.to_be_seen():
                    session = session.is_in_order(suspect.faults[0])
            case _:
                session = session.read(taken_on(fault, [check.spot, *check.also]))


def shut_but_for(*left):
    """Return what cannot be done where nothing can be read dead, opened or parted any more."""
    places = ("DB", "K1", "K2")
    shut = [(p.id, at) for p in DEAD for at in places]
    shut += [(what, at) for what in ("inspect", "part", "set-up") for at in places]
    ways = tuple((s, "DB") for s in RULEBOOK.set_ups)
    return {"cannot": tuple(one for one in shut if one not in left), "in_order": ways}


def test_where_no_dead_check_can_be_done_a_live_one_is_asked_for_with_its_cautions():
    """The supply's voltage still tells."""
    check = begun(Fault("open", ("N",), "DB..K1"), "K2", **shut_but_for()).asked
    assert check.risk == "live"
    assert RULEBOOK.procedures[check.test].is_live
    assert any("Live work" in caution for caution in check.cautions)


def test_to_skip_dead_checks_does_not_lead_to_a_live_one():
    """Skipped is not the same as impossible: what was skipped is asked for again."""
    left = "linked-out", "K1"
    session = begun(Fault("open", ("N",), "DB..K1"), "K2", **shut_but_for(left))
    first = session.asked
    assert (first.test, first.spot.at) == left
    for _ in range(4):
        session = session.skip()
        assert session.asked.risk != "live"
    assert session.asked.spot == first.spot
    assert first.risk != "live"


@pytest.mark.parametrize(
    "fault",
    [
        Fault("open", ("E",), "DB..K1"),
        Fault("transposed", ("A", "E"), "DB..K1"),
    ],
    ids=str,
)
def test_what_is_dangerous_to_supply_is_mended_before_anything_is_read_live(fault):
    session = begun(fault, "K2", **shut_but_for())
    assert not session.diagnosis.prospect.may_be_supplied
    assert session.diagnosis.prospect.live_readings
    for _ in range(6):
        check = session.asked
        if check is None:
            break
        assert check.risk != "live"
        session = session.cannot()
    assert session.case.found is None


def test_a_short_keeps_the_supply_off():
    short = begun(Fault("bridged", ("A", "N"), "K2", 0.05), "K2", **shut_but_for())
    assert not short.diagnosis.prospect.may_be_supplied
