"""The next checks: what to do first about the suspects, and what else would tell them apart.

What to do first is chosen by planning (``faultfinder.planning``) over every row of the dead tests
that was not read, over opening, parting and exchanging, for the minutes they cost from where one
stands. Two kinds of check come before that: a look at the set-up, where a mistake there explains
the readings as well as anything does, and a reading that the leading suspect leaves unexplained,
taken again. A live reading is offered only where no dead check is left that can part the suspects.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import log2

import numpy as np

from faultfinder.diagnosis.naming import suspect_in_words
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.diagnosis.prospect import (
    LEAST_BITS,
    Contender,
    Look,
    Offer,
    Place,
    Plan,
    Prospect,
    Reading,
    SetUpLook,
)
from faultfinder.diagnosis.result import NextCheck, Outcome, Risk
from faultfinder.diagnosis.unread import rest_to_read
from faultfinder.diagnosis.wording import about_set_up
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Spot
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.fault import SET_UP, Fault

_MOST_CHECKS = 4
_MOST_SET_UPS = 2  # looks at the set-up that come before everything else
_MOST_REPEATS = 2
_SLIPPED_BITS = 1.0  # a reading that fits nothing is a slip as likely as not; judgement, no source
EXCHANGE = "exchange"


def next_checks(prospect: Prospect, repeat: Sequence[int] = ()) -> tuple[NextCheck, ...]:
    """Return what to do, first to last: the first as planned, others by what they tell a minute.

    ``repeat`` says which readings of the case want taking again.
    """
    case, rulebook, contenders = prospect.case, prospect.rulebook, prospect.contenders
    repeats = _repeats(case, rulebook, contenders[0].suspect, repeat[:_MOST_REPEATS])
    sound = next((c for c in contenders if not c.suspect.faults and c.group == 1), None)
    if sound is not None:
        rest = rest_to_read(case, rulebook, sound.rank)
        if sound is contenders[0] or not any(c.suspect.faults for c in contenders):
            return _numbered([*repeats, *rest])
        return _numbered([*repeats, *Advice(prospect).checks(), *rest])
    advice = Advice(prospect)
    first = [*advice.set_ups(), *repeats]
    spots = {check.spot for check in first}
    return _numbered([*first, *(check for check in advice.checks() if check.spot not in spots)])


def parting_check(case: Case, rulebook: Rulebook, one: Suspect, other: Suspect) -> NextCheck | None:
    """Return the reading not yet taken that best tells two suspects apart, if any does."""
    contenders = Contender(one, 1, 1, 0.5), Contender(other, 2, 2, 0.5)
    prospect = Prospect(case, rulebook, contenders)
    if not prospect.readings:
        return None
    plan = Plan(prospect, prospect.readings)
    minutes = plan.problem.minutes(plan.standing)
    best = min(range(len(plan.offers)), key=lambda i: (round(float(minutes[i]), 9), i))
    advice = Advice(prospect)
    advice.work_out(plan, [best])
    return advice.said(plan, best, bits=1.0)


def _numbered(checks: Sequence[NextCheck]) -> tuple[NextCheck, ...]:
    return tuple(replace(check, rank=n) for n, check in enumerate(checks[:_MOST_CHECKS], start=1))


def _repeats(
    case: Case, rulebook: Rulebook, leader: Suspect, repeat: Sequence[int]
) -> list[NextCheck]:
    """Return readings to take again: as before, or as the leading suspect would have it."""
    checks = []
    for index in repeat:
        reading = case.readings[index]
        procedure = rulebook.procedures[reading.spot.test]
        if procedure.is_live:  # a live test is not asked for twice
            continue
        says = (float(leader.read[index]), reading.amount.value)
        checks.append(
            NextCheck(
                0,
                reading.spot.test,
                reading.spot,
                procedure.unit,
                "repeat this reading; as it stands it does not fit the others",
                (Outcome(1, says[0], (1,)), Outcome(0, says[1], ())),
                _SLIPPED_BITS,
                procedure.minutes.each,
                "dead",
                procedure.steps,
                procedure.cautions,
            )
        )
    return checks


@dataclass(frozen=True)
class Advice:
    """Puts what a prospect offers in words."""

    prospect: Prospect
    _exact: dict[tuple[Spot, ...], Reading] = field(default_factory=dict)

    @cached_property
    def _plan(self) -> Plan:
        return self.prospect.plan()

    def checks(self) -> list[NextCheck]:
        """Return the step that is planned first, and what else would tell the suspects apart."""
        plan, belief = self._plan, self.prospect.belief
        step = plan.planner.choose(belief, plan.standing)
        if step is None:
            likeliest = int(np.argmax(belief @ plan.problem.by_place))
            return self.at_place(self.prospect.repairs[likeliest])
        if step.check is None and not self._parts(plan) and (live := self._live()):
            return live
        others = self._others(plan)
        self.work_out(plan, [*others, *([] if step.check is None else [step.check])])
        if step.check is not None:
            first = [self.said(plan, step.check)]
        else:
            first = self.at_place(self.prospect.repairs[step.repair or 0])
        # Of checks that part the suspects alike the best is enough to offer.
        parted: dict[object, NextCheck] = {}
        for check in [*first, *(self.said(plan, index) for index in others)]:
            if check.spot not in {one.spot for one in parted.values()}:
                parted.setdefault(frozenset(o.suspects for o in check.outcomes), check)
        return list(parted.values())

    def work_out(self, plan: Plan, indices: Sequence[int]) -> None:
        """Work the readings among some offers out exactly, all in one batch."""
        offers = [plan.offers[index] for index in indices]
        rows = {o.row.spots: o.row for o in offers if isinstance(o, Reading)}
        exact = self.prospect.foreseen(list(rows.values()), exactly=True)
        self._exact.update({reading.row.spots: reading for reading in exact})

    def set_ups(self) -> list[NextCheck]:
        """Return the looks at the set-up for the mistakes of the leading group."""
        leading = [c for c in self.prospect.contenders if c.group == 1]
        asked = {f.set_up for c in leading for f in c.suspect.faults if f.set_up}
        cannot = self.prospect.case.cannot
        looks = [
            look
            for look in self.prospect.set_up_looks
            if look.fault.set_up in asked and (SET_UP, look.fault.at) not in cannot
        ]
        return [self._set_up(look) for look in looks[:_MOST_SET_UPS]]

    def _parts(self, plan: Plan) -> bool:
        """Return whether a dead check is left that tells anything about the repair."""
        return bool(plan.offers) and bool(
            plan.problem.gains(self.prospect.belief).max() >= LEAST_BITS
        )

    def _live(self) -> list[NextCheck]:
        plan = self.prospect.plan(live=True)
        chosen = self._others(plan)
        self.work_out(plan, chosen)
        return [self.said(plan, index) for index in chosen]

    def _others(self, plan: Plan) -> list[int]:
        """Return offers that tell something, by bits a minute; of what parts alike the best."""
        if not plan.offers:
            return []
        gains = plan.problem.gains(self.prospect.belief)
        minutes = plan.problem.minutes(plan.standing)
        worth = [i for i in range(len(plan.offers)) if gains[i] >= LEAST_BITS]
        worth = [i for i in worth if not isinstance(plan.offers[i], SetUpLook)]
        worth.sort(key=lambda i: -round(float(gains[i] / minutes[i]), 9))
        chosen: dict[object, int] = {}
        for index in worth:
            chosen.setdefault(self._kind(plan.offers[index]), index)
        return list(chosen.values())[:_MOST_CHECKS]

    def _kind(self, offer: Offer) -> object:
        """Return what is the same for offers that part the suspects alike."""
        if isinstance(offer, Reading):
            _, first = np.unique(offer.classes, return_index=True)
            order = {offer.classes[i]: n for n, i in enumerate(sorted(first))}
            return tuple(order[one] for one in offer.classes.tolist())
        return tuple((offer.seen > 0).tolist()) if isinstance(offer, Look) else id(offer)

    def said(self, plan: Plan, index: int, bits: float | None = None) -> NextCheck:
        """Return an offer of a plan as a check, readings worked out exactly."""
        offer = plan.offers[index]
        minutes = round(float(plan.problem.minutes(plan.standing)[index]), 1)
        gain = float(plan.problem.gains(self.prospect.belief)[index]) if bits is None else bits
        match offer:
            case Reading():
                exact = self._exact.get(offer.row.spots) or offer
                is_set_up = plan.problem.checks[index].needs == plan.standing.set_up
                return self._reading(exact, gain, minutes, is_set_up=is_set_up)
            case Look():
                return self._look(offer, gain, minutes)
            case SetUpLook():
                return self._set_up(offer)

    def _reading(
        self, offer: Reading, gain: float, minutes: float, *, is_set_up: bool
    ) -> NextCheck:
        """Return a row as a check of its most telling pair, the others read along with it."""
        row, column = offer.row, self._most_telling(offer)
        risk: Risk = "dead" if is_set_up else "dead with supply nearby"
        if row.procedure.is_live:
            risk = "live"
        seen = offer.each[:, column].tolist()
        separation = self.prospect.rulebook.separation
        return NextCheck(
            0,
            row.procedure.id,
            row.spots[column],
            row.procedure.unit,
            self._why(seen),
            self._outcomes(seen, offer.values[:, column].tolist()),
            gain,
            minutes,
            # A test that is not set up takes hands into a board that may be live elsewhere.
            risk,
            (*(separation.steps if row.via else ()), *row.procedure.steps),
            (*(separation.cautions if row.via else ()), *row.procedure.cautions),
            also=tuple(spot for i, spot in enumerate(row.spots) if i != column),
        )

    def _most_telling(self, offer: Reading) -> int:
        """Return which spot of a row tells most by itself, the repair first, then the suspects."""
        gains = []
        for column in range(len(offer.row.spots)):
            seen = offer.each[:, column]
            shares = [(seen == value) @ self.prospect.belief for value in np.unique(seen)]
            by_place: dict[tuple[int, int], float] = {}
            for value, place, share in zip(
                seen.tolist(), self.prospect.place.tolist(), self.prospect.belief, strict=True
            ):
                by_place[value, place] = by_place.get((value, place), 0.0) + float(share)
            own = _bits([float(share) for share in shares])
            given = _bits(list(by_place.values())) - own
            gains.append((round(-given, 9), round(own, 9)))
        return max(range(len(gains)), key=lambda i: (gains[i], -i))

    def _outcomes(self, seen: Sequence[int], values: Sequence[float | str]) -> tuple[Outcome, ...]:
        """Return each outcome once, with its likeliest value and who would show it."""
        by_class: dict[int, list[tuple[Contender, float | str]]] = {}
        for class_, value, contender in zip(seen, values, self.prospect.contenders, strict=True):
            by_class.setdefault(class_, []).append((contender, value))
        return tuple(
            Outcome(shown[0][0].group, shown[0][1], tuple(contender.rank for contender, _ in shown))
            for shown in by_class.values()
        )

    def _why(self, seen: Sequence[int]) -> str:
        """Say which of the two likeliest suspects it parts."""
        contenders = self.prospect.contenders
        other = next(
            (c for class_, c in zip(seen, contenders, strict=True) if class_ != seen[0]), None
        )
        if other is None:
            return "tells the suspects apart only together with the other pairs here"
        one, two = (
            suspect_in_words(
                c.suspect, self.prospect.rulebook, self.prospect.case.circuit, with_ohms=False
            )
            for c in (contenders[0], other)
        )
        return f"tells {one} from {two}"

    def _look(self, look: Look, gain: float, minutes: float) -> NextCheck:
        rule = self.prospect.rulebook.inspection
        here = (look.seen > 0).astype(int).tolist()
        said = ["seen" if seen_here else "nothing to see" for seen_here in here]
        risk: Risk = "dead" if look.at != self.prospect.case.circuit.board else _NEARBY
        return NextCheck(
            0,
            "inspect",
            Spot("inspect", look.at, "", ""),
            "",
            self._what_to_look_for(look),
            self._outcomes(here, said),
            gain,
            minutes,
            risk,
            rule.steps,
            rule.cautions,
        )

    def _what_to_look_for(self, look: Look) -> str:
        """Say what to look for, and where else if the cable that ends here is suspected."""
        circuit = self.prospect.case.circuit
        faults = self._seen_at(look.at)
        fault = next(iter(faults))
        look_for = f"look for {self.prospect.rulebook.modes[fault.mode].look_for}"
        run = circuit.run(fault.at)
        if run is None:
            return look_for
        ends = circuit.ends_to_open(run)
        other = ends[1] if ends[0] == look.at else ends[0]
        return f"{look_for} (the cable's other end is at {other})"

    def _seen_at(self, at: str) -> Iterator[Fault]:
        """Yield the faults that may be seen at a place, the likeliest suspect's first."""
        circuit = self.prospect.case.circuit
        for contender in self.prospect.contenders:
            for fault in contender.suspect.faults:
                run = None if fault.set_up else circuit.run(fault.at)
                if fault.at == at or (run is not None and at in circuit.ends_to_open(run)):
                    yield fault

    def _set_up(self, look: SetUpLook) -> NextCheck:
        case, rulebook, fault = self.prospect.case, self.prospect.rulebook, look.fault
        rule = rulebook.set_ups[fault.set_up]
        said = ["as suspected" if so else "in order" for so in look.so.tolist()]
        share = float(look.so @ self.prospect.belief)
        return NextCheck(
            0,
            SET_UP,
            Spot(SET_UP, fault.at, "", ""),
            "",
            about_set_up(rule.check.look_at, case.circuit, fault),
            self._outcomes(look.so.tolist(), said),
            _bits([share, 1 - share]),
            rule.check.minutes,
            _NEARBY if fault.at == case.circuit.board else "dead",
            (about_set_up(rule.remedy, case.circuit, fault),),
            rule.cautions,
        )

    def at_place(self, repair: Place) -> list[NextCheck]:
        """Return what a repair begins with: to open each of its places, or if that was done, mend.

        Nothing for a sound circuit, and for a mistake in the test, which is looked at already.
        """
        found = []
        for one in repair:
            if "@" in one:
                continue
            case = self.prospect.case
            run = case.circuit.run(one)
            ends = (one,) if run is None else case.circuit.ends_to_open(run)
            shut = {*case.looked, *(at for test, at in case.cannot if test == "inspect")}
            at = next((end for end in ends if end not in shut), "")
            if not at and (EXCHANGE, one) not in case.cannot:
                found.append(self._exchange(one))
            elif at:
                look = self.prospect.look(at)
                gain = self._gain_of_look(look)
                effort = self.prospect.rulebook.inspection.minutes
                walk = self._plan.problem.walk[self._plan.standing.at]
                there = float(walk[self.prospect.walk_index(at)])
                found.append(self._look(look, gain, round(effort.set_up + effort.each + there, 1)))
        return found

    def _gain_of_look(self, look: Look) -> float:
        share = float(look.seen @ self.prospect.belief)
        return _bits([share, 1 - share]) - sum(
            float(b) * _bits([s, 1 - s])
            for b, s in zip(self.prospect.belief, look.seen.tolist(), strict=True)
        )

    def _exchange(self, at: str) -> NextCheck:
        """Return the repair itself as a check: what was off is right after it, or is not."""
        case, rule = self.prospect.case, self.prospect.rulebook.repair
        here = [int(at in contender.place) for contender in self.prospect.contenders]
        said = ["right again" if it else "still off" for it in here]
        is_run = case.circuit.run(at) is not None
        share = float(np.array(here) @ self.prospect.belief)
        return NextCheck(
            0,
            EXCHANGE,
            Spot(EXCHANGE, at, "", ""),
            "",
            "nothing was to be seen there, and it is the likeliest place all the same",
            self._outcomes(here, said),
            _bits([share, 1 - share]),
            rule.minutes.run if is_run else rule.minutes.point,
            "dead",
            rule.remake if is_run else rule.exchange,
            rule.cautions,
        )


_NEARBY: Risk = "dead with supply nearby"


def _bits(chances: Sequence[float]) -> float:
    """Return the entropy of chances. [bit]"""
    return sum(-p * log2(p) for p in chances if 0 < p < 1)
