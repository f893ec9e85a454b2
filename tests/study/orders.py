"""Orders of checking to hold the planner against, and what any order costs on a problem.

An order is a function from what is believed, and where one stands, to a step. What it costs is
worked out exactly: every outcome of every step, weighted by its chance.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from faultfinder.diagnosis.plan import Plan
from faultfinder.diagnosis.prospect import Look, Reading, SetUpLook
from faultfinder.planning.choice import Planner, Step
from faultfinder.planning.problem import Floats, Standing, entropy

Order = Callable[[Floats, Standing], Step]
_TELLS = 1e-6


@dataclass(frozen=True, slots=True)
class Bill:
    """Minutes and checks until the right place is being mended, for each cause, shape (n,)."""

    minutes: Floats
    checks: Floats


def bill(plan: Plan, order: Order, belief: Floats, standing: Standing) -> Bill:
    """Return what an order costs if each cause is the true one."""
    problem, planner = plan.problem, Planner(plan.problem)
    minutes, checks = np.zeros(len(belief)), np.zeros(len(belief))

    def follow(belief: Floats, standing: Standing, chance: Floats) -> None:
        """Add what is spent from here; ``chance`` of being here under each cause."""
        if problem.is_settled(belief):
            return
        step = order(belief, standing)
        if step.check is not None:
            cost = float(problem.minutes(standing)[step.check])
            minutes[:] += chance * cost
            checks[:] += chance
            where = problem.after(standing, step.check)
            for likely in problem.checks[step.check].chance:
                joint = belief * likely
                if joint.sum() > 1e-9:
                    follow(joint / joint.sum(), where, chance * likely)
        else:
            wrong = np.where(problem.place == step.repair, 0.0, chance)
            minutes[:] += wrong * float(problem.wrong_repair(standing)[step.repair])
            checks[:] += wrong
            for _, then, where in planner.outcomes(belief, standing, step):
                follow(then, where, wrong)

    follow(belief, standing, np.ones(len(belief)))
    return Bill(minutes, checks)


def planned(plan: Plan) -> Order:
    """Return the order of the planner, as it is used."""
    planner = Planner(plan.problem)

    def order(belief: Floats, standing: Standing) -> Step:
        step = planner.choose(belief, standing)
        assert step is not None
        return step

    return order


def half_split(plan: Plan, test: str) -> Order:
    """Return half-split: the row of the test in use that comes nearest to halving what is left.

    Where no row tells anything more the likeliest place is opened, or mended if it was.
    """
    rows = _rows(plan, test)

    def order(belief: Floats, standing: Standing) -> Step:
        bits = {i: _bits(plan, i, belief) for i in rows}
        best = max(bits, key=lambda i: (round(bits[i], 9), -i), default=None)
        if best is not None and _tells(plan, best, belief):
            return Step(best, None, 0.0)
        return _likeliest(plan, belief, standing)

    return order


def outlet_by_outlet(plan: Plan, test: str) -> Order:
    """Return the order of walking: each row of the test in use from the board on, as far as needed.

    Rows that can tell nothing more are left out, which is kind to it.
    """
    rows = _rows(plan, test)

    def order(belief: Floats, standing: Standing) -> Step:
        for i in rows:
            if _tells(plan, i, belief):
                return Step(i, None, 0.0)
        return _likeliest(plan, belief, standing)

    return order


def _rows(plan: Plan, test: str) -> list[int]:
    """Return the rows of a test in walking order."""
    offers = enumerate(plan.offers)
    return [
        i
        for i, o in offers
        if isinstance(o, Reading) and o.row.procedure.id == test and not o.row.via
    ]


def _bits(plan: Plan, index: int, belief: Floats) -> float:
    return entropy(plan.problem.checks[index].chance @ belief)


def _tells(plan: Plan, index: int, belief: Floats) -> bool:
    return float(plan.problem.gains(belief)[index]) > _TELLS


def _likeliest(plan: Plan, belief: Floats, standing: Standing) -> Step:
    """Return a look at the likeliest place or set-up, or its repair where it was looked at."""
    place = int(np.argmax(belief @ plan.problem.by_place))
    repair = plan.prospect.repairs[place]
    for index, offer in enumerate(plan.offers):
        if isinstance(offer, SetUpLook):
            concerns = f"{offer.fault.set_up}@{offer.fault.at}" in repair
        else:
            is_look = isinstance(offer, Look) and index not in standing.done and bool(repair)
            concerns = is_look and offer.at == plan.place_of(repair)
        if concerns and _tells(plan, index, belief):
            return Step(index, None, 0.0)
    return Step(None, place, 0.0)
