"""The next checks: what to do first about the suspects, and what else would tell them apart.

What to do first is chosen by planning (``faultfinder.planning``) over every row of the dead tests
that was not read, over opening, parting and exchanging, for the minutes they cost from where one
stands. Two kinds of check come before that: a look at the set-up, where a mistake there explains
the readings as well as anything does, and a reading that the leading suspect leaves unexplained,
taken again; what may have been noted wrongly is read again by that look itself. A live reading is
offered only where no dead check is left that can part the suspects, and none of them makes it
dangerous to supply the circuit.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from faultfinder.diagnosis.phrasing import Phrasing
from faultfinder.diagnosis.plan import Plan, plan_of
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.diagnosis.prospect import (
    LEAST_BITS,
    Contender,
    Look,
    Offer,
    Place,
    Prospect,
    Reading,
    SetUpLook,
)
from faultfinder.diagnosis.result import NextCheck, Outcome
from faultfinder.diagnosis.risk import risk_of_reading
from faultfinder.diagnosis.unread import rest_to_read
from faultfinder.evidence.staging import Staged
from faultfinder.readings.case import Case
from faultfinder.readings.doing import EXCHANGE, LOOK
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.fault import SET_UP

_MOST_CHECKS = 4
_MOST_SET_UPS = 2  # looks at the set-up that come before everything else
_MOST_REPEATS = 2
_SLIPPED_BITS = 1.0  # a reading that fits nothing is a slip as likely as not; judgement, no source


def next_checks(prospect: Prospect, repeat: Sequence[int] = ()) -> tuple[NextCheck, ...]:
    """Return what to do, first to last: the first as planned, others by what they tell a minute.

    ``repeat`` says which readings of the case want taking again.
    """
    case, rulebook, contenders = prospect.case, prospect.rulebook, prospect.contenders
    looked_at = _misnoted(case, contenders)
    repeat = [index for index in repeat if index not in looked_at][:_MOST_REPEATS]
    repeats = _repeats(case, rulebook, contenders[0].suspect, repeat)
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
    phrasing = Phrasing(prospect)
    phrasing.work_out(plan, [best])
    return phrasing.offer(plan, best, bits=1.0)


def _numbered(checks: Sequence[NextCheck]) -> tuple[NextCheck, ...]:
    return tuple(replace(check, rank=n) for n, check in enumerate(checks[:_MOST_CHECKS], start=1))


def _misnoted(case: Case, contenders: Sequence[Contender]) -> frozenset[int]:
    """Return the readings that mistakes of the leading group say were noted wrongly.

    But those that the leading suspect leaves unexplained.
    """
    leader = contenders[0].suspect
    edits = [contender.suspect.edit for contender in contenders if contender.group == 1]
    notings = [edit.noting for edit in edits if isinstance(edit, Staged) and edit.noting]
    return frozenset(
        index
        for index, reading in enumerate(case.readings)
        if not leader.slips[index]
        and any(noting.really(reading.spot) != reading.spot for noting in notings)
    )


def _repeats(
    case: Case, rulebook: Rulebook, leader: Suspect, repeat: Sequence[int]
) -> list[NextCheck]:
    """Return readings to take again: as before, or as the leading suspect would have it.

    What is not set up any more takes setting up, with hands in a board that may be live elsewhere.
    """
    checks = []
    for index in repeat:
        reading = case.readings[index]
        procedure = rulebook.procedures[reading.spot.test]
        if procedure.is_live:  # a live test is not asked for twice
            continue
        says = (float(leader.read[index]), reading.amount.value)
        effort, more, last = procedure.minutes, 0.0, case.readings[-1].spot
        if reading.spot.test != last.test:
            more = effort.set_up
        elif procedure.arrangement(reading.spot.between) != procedure.arrangement(last.between):
            more = effort.pair
        checks.append(
            NextCheck(
                0,
                reading.spot.test,
                reading.spot,
                procedure.unit,
                "repeat this reading; as it stands it does not fit the others",
                (Outcome(1, says[0], (1,)), Outcome(0, says[1], ())),
                _SLIPPED_BITS,
                effort.each + more,
                risk_of_reading(is_set_up=not more),
                procedure.steps,
                procedure.cautions,
            )
        )
    return checks


@dataclass(frozen=True)
class Advice:
    """Chooses among what a prospect offers."""

    prospect: Prospect

    @cached_property
    def _plan(self) -> Plan:
        return plan_of(self.prospect)

    @cached_property
    def _phrasing(self) -> Phrasing:
        return Phrasing(self.prospect)

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
        self._phrasing.work_out(plan, [*others, *([] if step.check is None else [step.check])])
        if step.check is not None:
            first = [self._phrasing.offer(plan, step.check)]
        else:
            first = self.at_place(self.prospect.repairs[step.repair or 0])
        # Of checks that part the suspects alike the best is enough to offer.
        parted: dict[object, NextCheck] = {}
        for check in [*first, *(self._phrasing.offer(plan, index) for index in others)]:
            if check.spot not in {one.spot for one in parted.values()}:
                parted.setdefault(frozenset(o.suspects for o in check.outcomes), check)
        chosen = list(parted.values())
        spots = {check.spot for check in chosen}
        return chosen + [look for look in self._certain() if look.spot not in spots]

    def _certain(self) -> list[NextCheck]:
        """Return what to open for the faults that every suspect of the leading group has.

        It parts none of them, yet where there are several faults nothing else would say where
        to look for those that are not in doubt.
        """
        leading = [set(c.place) for c in self.prospect.contenders if c.group == 1]
        if min(map(len, leading)) < 2:
            return []
        return self.at_place(tuple(sorted(set.intersection(*leading))))

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
        return [self._phrasing.set_up(look) for look in looks[:_MOST_SET_UPS]]

    def _parts(self, plan: Plan) -> bool:
        """Return whether a dead check is left that tells anything about the repair."""
        return bool(plan.offers) and bool(
            plan.problem.gains(self.prospect.belief).max() >= LEAST_BITS
        )

    def _live(self) -> list[NextCheck]:
        if not self.prospect.may_be_supplied:
            return []
        plan = plan_of(self.prospect, live=True)
        chosen = self._others(plan)
        self._phrasing.work_out(plan, chosen)
        return [self._phrasing.offer(plan, index) for index in chosen]

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
            shut = {*case.looked, *(at for test, at in case.cannot if test == LOOK)}
            at = next((end for end in ends if end not in shut), "")
            tried = one in case.exchanged or (EXCHANGE, one) in case.cannot
            if not at and not tried:
                found.append(self._phrasing.exchange(one))
            elif at:
                look = self.prospect.look(at)
                gain = self._phrasing.gain_of_look(look)
                effort = self.prospect.rulebook.inspection.minutes
                minutes = effort.set_up + effort.each + self._plan.walk_to(at)
                found.append(self._phrasing.look(look, gain, round(minutes, 1)))
        return found
