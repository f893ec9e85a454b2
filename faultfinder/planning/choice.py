"""The choice of the next step: search where few causes remain, else a look ahead over a rule.

The rule of thumb is the step that tells most about the repair for the minutes it costs, a repair
tried on the likeliest place being one of the steps. It came out 4 to 10 % above the optimum on
random problems, and up to 60 % in the worst. So where sixteen causes or fewer remain, an AND/OR
search over the promising steps looks for the best plan. Where more remain each promising step is
costed as if the rule were followed after it (a rollout). No quick rule can be near the optimum
always: that is hard even to within a logarithm (on decision trees; seen as an abstract).
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import inf

import numpy as np

from faultfinder.planning.problem import SURE, Floats, Problem, Standing, key

MOST_SEARCHED = 16
_LEAST_BITS = 1e-6
_LEAST_CHANCE = 1e-9
_BRANCHES = 5  # steps tried at a state of the search, the most promising by the rule of thumb
_BRANCHES_AHEAD = 6  # the same for the first step of a rollout
_MOST_STATES = 120  # worked out in one choice; beyond it the rule of thumb has the word
_SAME_MINUTES = 1e-9


@dataclass(frozen=True, slots=True)
class Step:
    """A check, or a repair tried at the likeliest place.

    ``minutes`` is what is expected of it and all that comes after. ``check`` is the index of a
    check, ``repair`` of a repair; one of the two is None.
    """

    check: int | None
    repair: int | None
    minutes: float


@dataclass
class Planner:
    """Chooses steps of one problem, and remembers what it has worked out.

    ``branches`` and ``most_states`` bound the search; infinite ones make it exact. ``states`` is
    how many were worked out for the last choice.
    """

    problem: Problem
    branches: float = _BRANCHES
    most_states: float = _MOST_STATES
    _best: dict[object, Step] = field(default_factory=dict)
    _ranked: dict[object, list[tuple[float, Step]]] = field(default_factory=dict)
    _by_rule: dict[object, float] = field(default_factory=dict)
    states: int = 0

    def choose(self, belief: Floats, standing: Standing) -> Step | None:
        """Return the step to take, or None where one repair is as good as certain."""
        if self.problem.is_settled(belief):
            return None
        self.states = 0
        if np.count_nonzero(belief > _LEAST_CHANCE) <= MOST_SEARCHED or self.branches == inf:
            return self._search(belief, standing)
        return self._ahead(belief, standing)

    def minutes_by_rule(self, belief: Floats, standing: Standing) -> float:
        """Return what is expected if the rule of thumb is followed to the end. [min]"""
        if self.problem.is_settled(belief):
            return 0.0
        known = key(belief, standing)
        if known not in self._by_rule:
            cost, step = self._steps(belief, standing)[0]
            self._by_rule[known] = cost + self._after_by_rule(belief, standing, step)
        return self._by_rule[known]

    def _after_by_rule(self, belief: Floats, standing: Standing, step: Step) -> float:
        return sum(
            chance * self.minutes_by_rule(then, where)
            for chance, then, where in self.outcomes(belief, standing, step)
        )

    def outcomes(
        self, belief: Floats, standing: Standing, step: Step
    ) -> Iterator[tuple[float, Floats, Standing]]:
        """Yield chance, belief and standing after each outcome of a step.

        A repair that is the right one ends all, and is not among them.
        """
        problem = self.problem
        if step.check is not None:
            where = problem.after(standing, step.check)
            for likely in problem.checks[step.check].chance:
                joint = belief * likely
                chance = float(joint.sum())
                if chance > _LEAST_CHANCE:
                    yield chance, joint / chance, where
        else:
            joint = np.where(problem.place == step.repair, 0.0, belief)
            chance = float(joint.sum())
            if chance > _LEAST_CHANCE:
                at = int(problem.repair_at[step.repair])
                yield chance, joint / chance, Standing(at, standing.set_up, standing.done)

    def _steps(self, belief: Floats, standing: Standing) -> list[tuple[float, Step]]:
        """Return steps with their own expected minutes, those that tell most a minute first.

        Ties go to the earlier check, which is the earlier place on the walk.
        """
        known = key(belief, standing)
        if known in self._ranked:
            return self._ranked[known]
        self.states += 1
        problem = self.problem
        places = belief @ problem.by_place
        found: list[tuple[float, int, float, Step]] = []
        if problem.checks:
            gains, costs = problem.gains(belief), problem.minutes(standing)
            telling = np.flatnonzero(gains > _LEAST_BITS)
            rates = (gains[telling] / costs[telling]).round(9).tolist()
            found += [
                (-rate, index, cost, Step(index, None, 0.0))
                for rate, index, cost in zip(
                    rates, telling.tolist(), costs[telling].tolist(), strict=True
                )
                if index not in standing.done
            ]
        tells, losses = _of_repairs(places, problem.wrong_repair(standing))
        found += [
            (
                -round(tells[place] / max(losses[place], 1e-9), 9),
                len(problem.checks) + place,
                losses[place],
                Step(None, place, 0.0),
            )
            for place in np.flatnonzero(places > _LEAST_CHANCE).tolist()
        ]
        found.sort(key=lambda one: one[:2])
        self._ranked[known] = [(cost, step) for _, _, cost, step in found]
        return self._ranked[known]

    def _ahead(self, belief: Floats, standing: Standing) -> Step:
        """Return the step that is best if the rule of thumb is followed after it."""
        best = Step(None, None, inf)
        for number, (cost, step) in enumerate(self._steps(belief, standing)):
            if number >= _BRANCHES_AHEAD or (number and self.states >= self.most_states):
                break
            whole = cost + self._after_by_rule(belief, standing, step)
            if whole < best.minutes - _SAME_MINUTES:
                best = Step(step.check, step.repair, whole)
        return best

    def _search(self, belief: Floats, standing: Standing) -> Step:
        """Return the first step of the best plan: AND over outcomes, OR over steps."""
        known = key(belief, standing)
        if known in self._best:
            return self._best[known]
        steps = self._steps(belief, standing)
        by_rule = steps[0][1]
        # A plan to beat.
        best = Step(by_rule.check, by_rule.repair, self.minutes_by_rule(belief, standing))
        for number, (cost, step) in enumerate(steps):
            if number >= self.branches or self.states >= self.most_states:
                break
            whole = cost
            after = list(self.outcomes(belief, standing, step))
            bounds = [chance * self._at_least(then) for chance, then, _ in after]
            left = sum(bounds)
            for (chance, then, where), bound in zip(after, bounds, strict=True):
                if whole + left >= best.minutes:
                    break
                left -= bound
                if not self.problem.is_settled(then):
                    whole += chance * self._search(then, where).minutes
            else:
                if whole < best.minutes - _SAME_MINUTES:
                    best = Step(step.check, step.repair, whole)
        self._best[known] = best
        return best

    def _at_least(self, belief: Floats) -> float:
        """Return what every plan costs at the least: one check, or a repair that may be wrong."""
        left = 1.0 - float((belief @ self.problem.by_place).max())
        if left <= SURE:
            return 0.0
        return min(self.problem.least_minutes, left * self.problem.least_repair)


def _of_repairs(places: Floats, wrong: Floats) -> tuple[list[float], list[float]]:
    """Return what trying each repair tells [bit], and its expected minutes, lost if it is wrong."""
    others = np.maximum(1.0 - places, 1e-12)
    plogp = places * np.log2(np.where(places > 0, places, 1.0))
    # The entropy of the other places, their shares grown to one.
    rest = others * np.log2(others) - (plogp.sum() - plogp)
    gains = -plogp.sum() - np.maximum(rest, 0.0)
    return gains.tolist(), (others * wrong).tolist()
