"""The whole plan as a decision tree: what to do, and what next after each outcome."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from faultfinder.diagnosis.naming import suspect_in_words
from faultfinder.diagnosis.phrasing import Phrasing
from faultfinder.diagnosis.plan import Plan, plan_of
from faultfinder.diagnosis.prospect import Look, Place, Prospect, Reading, SetUpLook
from faultfinder.diagnosis.result import Diagnosis
from faultfinder.diagnosis.risk import risk_at, risk_of_reading
from faultfinder.diagnosis.wording import spot_in_words, value_in_words
from faultfinder.guiding.ending import mending
from faultfinder.planning.choice import Step
from faultfinder.planning.problem import Floats, Standing
from faultfinder.source.problem import listed

_LEAST_SHARE = 0.002  # of the whole; what is less likely gets no branch of its own
_DEEPEST = 12
_ALIVE = 1e-4
_WIDE = 0.05  # share between the ends of a range that is worth writing as one


@dataclass(frozen=True, slots=True)
class Branch:
    """One outcome of a step: in words, its chance among all, and what to do then; None to end."""

    outcome: str
    share: float
    then: "Node | None"


@dataclass(frozen=True, slots=True)
class Node:
    """One step of the plan.

    Attributes
    ----------
    task : str
        What to do, and where.
    minutes : float
        What it costs, walking and setting up included; of a repair nothing is said (0).
    risk : str
        How dangerous it is; empty for a repair.
    branches : tuple of Branch
        What it may show.
    steps, cautions : tuple of str
        How it is done, and what to mind.
    again : tuple of str
        Of a repair, the tests to repeat after it, each with its places.
    """

    task: str
    minutes: float
    risk: str
    branches: tuple[Branch, ...]
    steps: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    again: tuple[str, ...] = ()


def decision_tree(diagnosis: Diagnosis) -> Node | None:
    """Return the plan for what a diagnosis leaves open, or None where nothing is to be done.

    Where nothing is wrong so far it is a list: each row that is left to read, one after another.
    """
    prospect = diagnosis.prospect
    if prospect is None or not diagnosis.next_checks:
        return None
    if diagnosis.verdict == "sound":
        return _list(diagnosis)
    plan = plan_of(prospect)
    return _Grower(prospect, plan).node(prospect.belief, plan.standing, 1.0, 0)


def _list(diagnosis: Diagnosis) -> Node | None:
    node: Node | None = None
    for check in reversed(diagnosis.next_checks):
        value = check.outcomes[0].value
        words = value if isinstance(value, str) else value_in_words(value, check.unit)
        task = f"Read {spot_in_words(check.spot)}, by the test {check.test}"
        branches = (
            Branch(f"about {words}", 0.9, node),
            Branch("anything else: put it in the case, and plan again", 0.1, None),
        )
        node = Node(task, check.minutes, check.risk, branches, check.steps, check.cautions)
    return node


@dataclass(frozen=True, slots=True)
class _Grower:
    """Grows the tree of one plan."""

    prospect: Prospect
    plan: Plan

    @property
    def _phrasing(self) -> Phrasing:
        return Phrasing(self.prospect)

    def node(self, belief: Floats, standing: Standing, share: float, depth: int) -> Node:
        """Return the step to take with a belief, and all that follows."""
        step = self.plan.planner.choose(belief, standing)
        if step is None or step.check is None:
            place = int(np.argmax(belief @ self.plan.problem.by_place))
            chosen = place if step is None or step.repair is None else step.repair
            return self._repair(belief, standing, share, depth, chosen)
        return self._check(belief, standing, share, depth, step)

    def _repair(
        self, belief: Floats, standing: Standing, share: float, depth: int, repair: int
    ) -> Node:
        prospect = self.prospect
        place = prospect.repairs[repair]
        p = float((belief @ self.plan.problem.by_place)[repair])
        title = self._title(belief, repair)
        then = None
        after = list(self.plan.planner.outcomes(belief, standing, Step(None, repair, 0.0)))
        if after and (1 - p) * share > _LEAST_SHARE and depth < _DEEPEST:
            _, left, where = after[0]
            then = self.node(left, where, (1 - p) * share, depth + 1)
        branches = [Branch("right again: done, but for the tests after a repair", p * share, None)]
        if then is not None:
            branches.append(Branch("still off", (1 - p) * share, then))
        if not place:
            task = "Nothing is to be mended: what was read is as it should be; read the rest"
            return Node(task, 0.0, "", ())
        task = f"{self._mend(place)}: {title}"
        minded = [self._phrasing.how_to_mend(one)[1] for one in place if "@" not in one]
        cautions = tuple(dict.fromkeys(caution for some in minded for caution in some))
        again = self._again(belief, repair)
        return Node(task, 0.0, "", tuple(branches), (), cautions, again)

    def _again(self, belief: Floats, repair: int) -> tuple[str, ...]:
        """Return the tests to repeat after a repair of what may be wrong at a place."""
        prospect = self.prospect
        tests: dict[str, dict[str, None]] = {}
        for number in self._here(belief, repair):
            faults = prospect.contenders[number].suspect.faults
            for retest in mending(prospect.case, prospect.rulebook, faults).retests:
                tests.setdefault(retest.test, {}).update(dict.fromkeys(retest.at))
        return tuple(f"{test} at {listed(at, 'and')}" for test, at in tests.items())

    def _here(self, belief: Floats, repair: int) -> list[int]:
        """Return the contenders that a repair would mend, the likeliest first."""
        here = np.where(self.prospect.place == repair, belief, 0.0)
        return [i for i in np.argsort(-here, kind="stable").tolist() if here[i] > _ALIVE]

    def _mend(self, place: Place) -> str:
        if any("@" in one for one in place):
            return "Put the set-up right, and read again"
        return f"Open and mend {listed(place, 'and')}, and read again what was off"

    def _title(self, belief: Floats, repair: int) -> str:
        """Return what is likeliest to be wrong at a place, and what else may be."""
        prospect = self.prospect
        names = [
            suspect_in_words(
                prospect.contenders[i].suspect,
                prospect.rulebook,
                prospect.case.circuit,
                with_ohms=False,
            )
            for i in self._here(belief, repair)
        ]
        return listed(dict.fromkeys(names))

    def _check(
        self, belief: Floats, standing: Standing, share: float, depth: int, step: Step
    ) -> Node:
        plan = self.plan
        index = step.check or 0
        offer = plan.offers[index]
        minutes = round(float(plan.problem.minutes(standing)[index]), 1)
        branches, rest = [], 0.0
        for number, likely in enumerate(plan.problem.checks[index].chance):
            joint = belief * likely
            chance = float(joint.sum())
            if chance <= 0:
                continue
            if chance * share < _LEAST_SHARE or depth >= _DEEPEST:
                rest += chance * share
                continue
            then = joint / chance
            where = plan.problem.after(standing, index)
            outcome = self._outcome(offer, number, then)
            if isinstance(offer, Look) and number:
                place = int(np.argmax(then @ plan.problem.by_place))
                outcome = f"seen: {self._title(then, place)}; mend it"
                branches.append(Branch(outcome, chance * share, None))
            else:
                after = self.node(then, where, chance * share, depth + 1)
                branches.append(Branch(outcome, chance * share, after))
        branches.sort(key=lambda branch: -branch.share)
        other = "anything else: put it in the case, and plan again"
        branches.append(Branch(other, rest, None))
        match offer:
            case Reading():
                row = offer.row
                pairs = listed([spot.between for spot in row.spots], "and")
                whole = replace(row.spots[0], parted="")
                where_at = spot_in_words(whole).partition(" at ")[2]
                first = f"Part {row.spots[0].parted} at {row.via}, then read" if row.via else "Read"
                task = f"{first} {pairs} at {where_at}, by the test {row.procedure.id}"
                set_up = plan.problem.checks[index].needs == standing.set_up
                risk = risk_of_reading(is_set_up=set_up)
                told = self._phrasing.how_to_read(row)
                return Node(task, minutes, risk, tuple(branches), *told)
            case Look():
                risk, told = (
                    risk_at(self.prospect.case.circuit, offer.at),
                    self._phrasing.how_to_look(offer.at),
                )
                task = f"Open {offer.at} and look at its terminals"
                return Node(task, minutes, risk, tuple(branches), *told)
            case SetUpLook():
                asked = self._phrasing.set_up(offer)
                task = f"Check {asked.why}"
                return Node(task, minutes, asked.risk, tuple(branches), (), asked.cautions)

    def _outcome(self, offer: Reading | Look | SetUpLook, number: int, then: Floats) -> str:
        """Return an outcome in words: values of the pairs that tell outcomes apart."""
        match offer:
            case Look():
                return "nothing to see"
            case SetUpLook():
                return "it is wrong, as suspected" if number else "it is in order"
            case Reading():
                alive = then > _ALIVE
                telling = self._telling_columns(offer)
                return ", ".join(
                    f"{offer.row.spots[column].between} "
                    f"{_range(offer.values[alive, column].tolist(), offer.row.procedure.unit)}"
                    for column in telling
                )

    def _telling_columns(self, offer: Reading) -> list[int]:
        """Return the fewest pairs, the first ones, that tell all outcomes of a row apart."""
        whole = len(np.unique(offer.classes))
        chosen: list[int] = []
        known = 1
        for column in range(offer.each.shape[1]):
            joint = len(np.unique(offer.each[:, [*chosen, column]], axis=0))
            if joint > known:
                chosen.append(column)
                known = joint
            if known == whole:
                break
        return chosen


def _range(values: Sequence[float], unit: str) -> str:
    low, high = min(values), max(values)
    ends = value_in_words(low, unit), value_in_words(high, unit)
    return ends[0] if ends[0] == ends[1] or high - low < _WIDE * high else f"{ends[0]} to {ends[1]}"


def numbered(tree: Node) -> dict[int, int]:
    """Return the number of each step, by its identity, in the order they are written."""
    order: dict[int, int] = {}
    waiting = [tree]
    while waiting:
        node = waiting.pop(0)
        order.setdefault(id(node), len(order) + 1)
        waiting = [*(b.then for b in node.branches if b.then is not None), *waiting]
    return order


def steps_of(tree: Node) -> list[Node]:
    """Return all steps in the order of their numbers."""
    found: list[Node] = []
    waiting = [tree]
    while waiting:
        node = waiting.pop(0)
        found.append(node)
        waiting = [*(b.then for b in node.branches if b.then is not None), *waiting]
    return found
