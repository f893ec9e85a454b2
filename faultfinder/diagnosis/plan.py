"""A prospect as a problem in numbers: where one stands, what is set up, what each step costs."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from faultfinder.diagnosis.offers import Arrangement
from faultfinder.diagnosis.prospect import Look, Offer, Place, Prospect, Reading, SetUpLook
from faultfinder.diagnosis.walking import places, walking_minutes
from faultfinder.planning.choice import Planner
from faultfinder.planning.problem import (
    NOTHING_SET_UP,
    Check,
    Floats,
    Problem,
    Standing,
    normalised,
)
from faultfinder.readings.reading import Spot

_MOST_CHECKS = 40  # readings the planner looks at, the most telling for their minutes
_BITS_OF_WHOLE = 0.1  # as much from the circuit as it is, and it is not parted; judgement
_AGAIN = 2.0  # minutes to take a reading again after a set-up was put right; judgement


def plan_of(prospect: Prospect, *, live: bool = False) -> "Plan":
    """Return the problem of a prospect's suspects, with dead checks alone, or with live ones alone.

    Parting the circuit is weighed where no reading of it whole tells one fault from another.
    """
    if live:
        return Plan(prospect, prospect.live_readings)
    readings = prospect.readings
    faulty = np.array([bool(c.suspect.faults) for c in prospect.contenders])
    belief = prospect.belief
    if faulty.any():
        belief = normalised(np.where(faulty, belief, 0.0))
    if not readings or Plan(prospect, readings).problem.gains(belief).max() < _BITS_OF_WHOLE:
        readings += prospect.parted_readings
    telling = _telling(prospect, readings)
    return Plan(prospect, (*telling, *prospect.looks, *prospect.set_up_looks))


def _telling(prospect: Prospect, readings: Sequence[Reading]) -> list[Reading]:
    """Return the readings that part the contenders best for their minutes, one of each kind."""
    if not readings:
        return []
    plan = Plan(prospect, tuple(readings))
    rates = plan.problem.gains(prospect.belief) / plan.problem.minutes(plan.standing)
    kept: dict[object, int] = {}
    for index in np.argsort(-rates, kind="stable").tolist():
        row = readings[index].row
        key = readings[index].classes.tobytes(), row.at, row.arrangement, row.via
        kept.setdefault(key, index)
    return [readings[index] for index in sorted(list(kept.values())[:_MOST_CHECKS])]


@dataclass(frozen=True)
class Plan:
    """Offers as a problem, each with the check of the same index."""

    prospect: Prospect
    offers: tuple[Offer, ...]

    @cached_property
    def arrangements(self) -> tuple[Arrangement, ...]:
        """The arrangements at the board that readings need, with the one that stands now."""
        needed = [offer.row.arrangement for offer in self.offers if isinstance(offer, Reading)]
        now = self._arranged_now
        return tuple(dict.fromkeys([*needed, *([now] if now else [])]))

    @property
    def _last(self) -> Spot | None:
        taken = self.prospect.case.readings
        return taken[-1].spot if taken else None

    @property
    def _arranged_now(self) -> Arrangement | None:
        """How the board is arranged: as for the last reading, a live one leaving nothing."""
        last = self._last
        procedure = self.prospect.rulebook.procedures[last.test] if last else None
        if last is None or procedure is None or procedure.is_live:
            return None
        return procedure.id, procedure.arrangement(last.between)

    @cached_property
    def standing(self) -> Standing:
        """Where the last reading was taken, with what it was taken with."""
        last, now = self._last, self._arranged_now
        set_up = self.arrangements.index(now) if now else NOTHING_SET_UP
        return Standing(self._index(last.at) if last else 0, set_up)

    @cached_property
    def _where(self) -> dict[str, int]:
        return {name: i for i, name in enumerate(places(self.prospect.case.circuit))}

    def _index(self, at: str) -> int:
        """Return the number of a place; another board's is that of the circuit's own."""
        return self._where.get(at, 0)

    @cached_property
    def planner(self) -> Planner:
        """What chooses among the offers."""
        return Planner(self.problem)

    @cached_property
    def problem(self) -> Problem:
        """The offers and repairs in numbers."""
        prospect = self.prospect
        circuit, rulebook = prospect.case.circuit, prospect.rulebook
        return Problem(
            place=prospect.place,
            checks=tuple(self._check(offer) for offer in self.offers),
            walk=walking_minutes(circuit, rulebook.walking),
            change=self._changes(),
            repair_at=np.array([self._index(self.place_of(r)) for r in prospect.repairs]),
            repair=np.array([self._repair_minutes(r) for r in prospect.repairs]),
        )

    def _changes(self) -> Floats:
        procedures = self.prospect.rulebook.procedures
        out = np.zeros((len(self.arrangements) + 1, max(1, len(self.arrangements))))
        for column, (test, _) in enumerate(self.arrangements):
            effort = procedures[test].minutes
            out[:, column] = effort.set_up
            for row, (other, _) in enumerate(self.arrangements):
                if other == test:
                    out[row, column] = effort.pair if row != column else 0.0
        return out

    def _check(self, offer: Offer) -> Check:
        rulebook = self.prospect.rulebook
        match offer:
            case Reading():
                row = offer.row
                needs = self.arrangements.index(row.arrangement)
                via = None if row.via is None else self._index(row.via)
                shown = offer.classes[None] == np.arange(offer.classes.max() + 1)[:, None]
                return Check(shown.astype(float), self._index(row.at), row.minutes, needs, via)
            case Look():
                effort = rulebook.inspection.minutes
                minutes = effort.set_up + effort.each
                # To see it tells which it is: an outcome for each repair that may be seen here.
                place = self.prospect.place
                here = np.unique(place[offer.seen > 0]).tolist()
                each = [np.where(place == repair, offer.seen, 0.0) for repair in here]
                chance = np.stack([1.0 - offer.seen, *each])
                return Check(chance, self._index(offer.at), minutes, once=True)
            case SetUpLook():
                shown = offer.so[None] == np.arange(2)[:, None]
                at = self._index(self.place_of((f"{offer.fault.set_up}@{offer.fault.at}",)))
                minutes = rulebook.set_ups[offer.fault.set_up].check.minutes
                return Check(shown.astype(float), at, minutes)

    def walk_to(self, at: str) -> float:
        """Return how long it takes to walk to a place from where one stands. [min]"""
        return float(self.problem.walk[self.standing.at, self._index(at)])

    def place_of(self, repair: Place) -> str:
        """Return where a repair is made: a run's at its far end, that of nothing at the board."""
        circuit = self.prospect.case.circuit
        if not repair:
            return circuit.board
        at = repair[0].partition("@")[2] or repair[0]
        run = circuit.run(at)
        return at.partition(",")[0] if run is None else circuit.ends_to_open(run)[0]

    def _repair_minutes(self, repair: Place) -> float:
        """Return what a repair costs if it is at the wrong place."""
        rulebook, circuit = self.prospect.rulebook, self.prospect.case.circuit
        minutes = rulebook.repair.minutes
        if not repair:
            return minutes.call_back
        whole = 0.0
        for one in repair:
            set_up, _, at = one.rpartition("@")
            if set_up:
                whole += rulebook.set_ups[set_up].check.minutes + _AGAIN
            else:
                whole += minutes.point if circuit.run(at) is None else minutes.run
        return whole
