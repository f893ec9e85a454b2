"""The optimum of small problems by plain dynamic programming over all steps: no bound, no order.

Written apart from the planner: a state is what each cause is still worth, where one stands, what is
set up, and which looks are done.
"""

from fractions import Fraction
from functools import cache


def least_minutes(problem, belief, standing):
    """Return the least expected minutes until one repair is certain."""
    checks = problem.checks
    place = problem.place.tolist()
    walk, change = problem.walk.tolist(), problem.change.tolist()
    repair, repair_at = problem.repair.tolist(), problem.repair_at.tolist()

    def cost_of(index, at, set_up):
        check = checks[index]
        if check.needs in (-1, set_up):
            return walk[at][check.at] + check.minutes
        return walk[at][0] + change[set_up][check.needs] + walk[0][check.at] + check.minutes

    @cache
    def least(weights, at, set_up, done):
        whole = sum(weights)
        if len({place[i] for i, w in enumerate(weights) if w > 0}) <= 1:
            return 0.0
        best = float("inf")
        for index, check in enumerate(checks):
            if index in done:
                continue
            parts = [
                tuple(
                    w * Fraction(float(c)).limit_denominator(1000)
                    for w, c in zip(weights, row, strict=True)
                )
                for row in check.chance
            ]
            parts = [part for part in parts if sum(part) > 0]
            if len(parts) < 2:
                continue
            to = set_up if check.needs == -1 else check.needs
            after = done | {index} if check.once else done
            spent = cost_of(index, at, set_up)
            for part in parts:
                spent += float(sum(part) / whole) * least(_shares(part), check.at, to, after)
            best = min(best, spent)
        for k, lost in enumerate(repair):
            left = tuple(Fraction(0) if place[i] == k else w for i, w in enumerate(weights))
            if not 0 < sum(left) < whole:
                continue
            p = float(sum(left) / whole)
            there = repair_at[k]
            spent = p * (walk[at][there] + lost + least(_shares(left), there, set_up, done))
            best = min(best, spent)
        return best

    exact = tuple(Fraction(float(b)).limit_denominator(10_000) for b in belief)
    return least(_shares(exact), standing.at, standing.set_up, standing.done)


def _shares(weights):
    whole = sum(weights)
    return tuple(w / whole for w in weights)
