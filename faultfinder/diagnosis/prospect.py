"""The suspects and the checks that may part them, as a problem of planning."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from faultfinder.diagnosis.looking import chance_seen
from faultfinder.diagnosis.offers import (
    Arrangement,
    Row,
    points_to_open,
    rows_to_read,
    rows_with_parted,
)
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.diagnosis.walking import places, walking_minutes
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.meter import meter_for
from faultfinder.evidence.staging import Staged
from faultfinder.network.branch import MakeEdit
from faultfinder.planning.choice import Planner
from faultfinder.planning.problem import (
    NOTHING_SET_UP,
    Check,
    Floats,
    Ints,
    Problem,
    Standing,
    normalised,
)
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Spot
from faultfinder.readings.setting import USUAL_TERMINATORS
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.circuit import Run
from faultfinder.wiring.fault import Fault

LEAST_BITS = 0.02
_BITS_OF_WHOLE = 0.1  # as much from the circuit as it is, and it is not parted; judgement
_APART_SD = 4.0  # outcomes closer than two standard deviations either side are one
_MOST_SUSPECTS = 40
_LEAST_SHARE = 0.003
_MOST_CHECKS = 40  # readings the planner looks at, the most telling for their minutes
_MOST_PARTED = 5  # runs that parting is weighed at, those that halve what is left best
_AGAIN = 2.0  # minutes to take a reading again after a set-up was put right; judgement

Place = tuple[str, ...]
"""Where a repair is made: a point or run, two of them, a mistake of the test, or nothing."""


@dataclass(frozen=True, slots=True)
class Contender:
    """A suspect with its rank and group, and its share among those a check is to tell apart."""

    suspect: Suspect
    rank: int
    group: int
    share: float

    @property
    def place(self) -> Place:
        """What is repaired if it is the one."""
        return tuple(
            sorted(
                f"{fault.set_up}@{fault.at}" if fault.set_up else fault.at
                for fault in self.suspect.faults
            )
        )


def contenders_of(listed: Sequence[tuple[Suspect, int]]) -> list[Contender]:
    """Return the suspects that checks are to tell apart, of all with their groups by rank."""
    kept = [
        (suspect, rank, group)
        for rank, (suspect, group) in enumerate(listed, start=1)
        if suspect.probability > _LEAST_SHARE or group == 1
    ][:_MOST_SUSPECTS]
    whole = sum(suspect.probability for suspect, _, _ in kept)
    return [Contender(s, rank, group, s.probability / whole) for s, rank, group in kept]


@dataclass(frozen=True, slots=True)
class Reading:
    """A row that may be read: what each contender would show.

    ``classes`` has the outcome of the whole row for each contender, ``each`` (contenders, spots)
    that of each of its spots, ``values`` the predictions, infinity for open.
    """

    row: Row
    classes: Ints
    each: Ints
    values: Floats


@dataclass(frozen=True, slots=True)
class Look:
    """A place that may be opened; ``seen`` is the chance to see each contender's fault there."""

    at: str
    seen: Floats


@dataclass(frozen=True, slots=True)
class SetUpLook:
    """A look at how the test is set up; ``so`` tells for each contender whether that is wrong."""

    fault: Fault
    so: Ints


Offer = Reading | Look | SetUpLook


@dataclass(frozen=True)
class Prospect:
    """What may be the matter, and everything that can be done about it."""

    case: Case
    rulebook: Rulebook
    contenders: tuple[Contender, ...]

    @cached_property
    def belief(self) -> Floats:
        """The share of each contender."""
        return normalised([contender.share for contender in self.contenders])

    @cached_property
    def repairs(self) -> tuple[Place, ...]:
        """The different repairs, the likeliest contender's first."""
        return tuple(dict.fromkeys(contender.place for contender in self.contenders))

    @cached_property
    def place(self) -> Ints:
        """Which repair each contender asks for."""
        return np.array([self.repairs.index(c.place) for c in self.contenders], dtype=np.intp)

    @cached_property
    def edits(self) -> list[MakeEdit]:
        """What each contender does to the next readings: a slip of the pen is not made twice."""
        edits = [contender.suspect.edit for contender in self.contenders]
        return [edit.as_next_read if isinstance(edit, Staged) else edit for edit in edits]

    @cached_property
    def looks(self) -> tuple[Look, ...]:
        """The places that may be opened, in walking order, those opened already left out."""
        ends = {at for c in self.contenders for f in c.suspect.faults for at in self._ends(f)}
        left = sorted(ends - {*self.case.looked})
        return tuple(self.look(at) for at in points_to_open(self.case, left))

    def look(self, at: str) -> Look:
        """Return what opening a place may show."""
        rule = self.rulebook.inspection
        seen = [chance_seen(self.case.circuit, rule, c.suspect.faults, at) for c in self.contenders]
        return Look(at, np.array(seen))

    def walk_index(self, at: str) -> int:
        """Return which of the places walked to a place is."""
        return places(self.case.circuit).index(at)

    def _ends(self, fault: Fault) -> tuple[str, ...]:
        if fault.set_up:
            return ()
        run = self.case.circuit.run(fault.at)
        return (fault.at,) if run is None else self.case.circuit.ends_to_open(run)

    @cached_property
    def set_up_looks(self) -> tuple[SetUpLook, ...]:
        """The looks at the set-up that the contenders' mistakes ask for, the likeliest first."""
        found: dict[tuple[str, str], SetUpLook] = {}
        for contender in self.contenders:
            for fault in contender.suspect.faults:
                if fault.set_up:
                    same = [
                        any((f.set_up, f.at) == (fault.set_up, fault.at) for f in c.suspect.faults)
                        for c in self.contenders
                    ]
                    look = SetUpLook(fault, np.array(same, dtype=np.intp))
                    found.setdefault((fault.set_up, fault.at), look)
        return tuple(found.values())

    @cached_property
    def readings(self) -> tuple[Reading, ...]:
        """The dead readings that tell something, in walking order.

        Parting the circuit is weighed where no reading of it whole tells one fault from another.
        """
        found = self.foreseen(rows_to_read(self.case, self.rulebook))
        faulty = np.array([bool(c.suspect.faults) for c in self.contenders])
        belief = normalised(np.where(faulty, self.belief, 0.0)) if faulty.any() else self.belief
        if found and Plan(self, found).problem.gains(belief).max() >= _BITS_OF_WHOLE:
            return found
        return found + self.foreseen(
            rows_with_parted(self.case, self.rulebook, self._halving_runs())
        )

    @cached_property
    def live_readings(self) -> tuple[Reading, ...]:
        """The live readings that tell something."""
        return self.foreseen(rows_to_read(self.case, self.rulebook, live=True))

    def _halving_runs(self) -> list[Run]:
        """Return the runs that part what is left most evenly."""
        circuit = self.case.circuit

        def off_half(run: Run) -> float:
            beyond = {run.name, run.downstream, *circuit.beyond(run.downstream)}
            share = sum(
                c.share
                for c in self.contenders
                for f in c.suspect.faults[:1]
                if not f.set_up and {f.at, f.at.partition("..")[2]} & beyond
            )
            return abs(share - 0.5)

        return sorted(circuit.runs, key=off_half)[:_MOST_PARTED]

    def foreseen(self, rows: Sequence[Row], *, exactly: bool = False) -> tuple[Reading, ...]:
        """Return rows with what each contender would show, those that show no difference left out.

        By the quick look, or worked out exactly.
        """
        spots = tuple(spot for row in rows for spot in row.spots)
        if not spots:
            return ()
        values, classes = self._outcomes(spots, exactly=exactly)
        found, start = [], 0
        for row in rows:
            columns = slice(start, start + len(row.spots))
            start += len(row.spots)
            _, joint = np.unique(classes[:, columns], axis=0, return_inverse=True)
            joint = joint.reshape(-1)
            if joint.max() > 0:
                found.append(Reading(row, joint, classes[:, columns], values[:, columns]))
        return tuple(found)

    def _outcomes(self, spots: tuple[Spot, ...], *, exactly: bool) -> tuple[Floats, Ints]:
        case, procedures = self.case, self.rulebook.procedures
        fitted = case.terminators or USUAL_TERMINATORS
        bench = Bench(case.circuit, procedures, fitted, spots, case.installation)
        read = bench.read(self.edits) if exactly else bench.glimpse(self.edits)
        meter = meter_for(spots, procedures, case.instrument)
        opens = meter.chance_open(read) > 0.5
        scaled = meter.scale(np.where(opens, 1.0, read))
        sd = meter.sd(read)
        columns = [classes(scaled[:, i], opens[:, i], sd[:, i]) for i in range(len(spots))]
        return np.where(opens, np.inf, read), np.array(columns, dtype=np.intp).T

    def plan(self, *, live: bool = False) -> "Plan":
        """Return the problem of these suspects, with dead checks alone, or with live ones alone."""
        offers: list[Offer] = list(self.live_readings if live else self._telling(self.readings))
        offers += [] if live else [*self.looks, *self.set_up_looks]
        return Plan(self, tuple(offers))

    def _telling(self, readings: Sequence[Reading]) -> list[Reading]:
        """Return the readings that part the contenders best for their minutes, one of each kind."""
        plan = Plan(self, tuple(readings))
        if not readings:
            return []
        rates = plan.problem.gains(self.belief) / plan.problem.minutes(plan.standing)
        order = np.argsort(-rates, kind="stable").tolist()
        kept: dict[object, int] = {}
        for index in order:
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
        return Standing(self._where[last.at] if last else 0, set_up)

    @cached_property
    def _where(self) -> dict[str, int]:
        return {name: i for i, name in enumerate(places(self.prospect.case.circuit))}

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
            repair_at=np.array([self._where[self.place_of(r)] for r in prospect.repairs]),
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
                via = None if row.via is None else self._where[row.via]
                shown = offer.classes[None] == np.arange(offer.classes.max() + 1)[:, None]
                return Check(shown.astype(float), self._where[row.at], row.minutes, needs, via)
            case Look():
                effort = rulebook.inspection.minutes
                minutes = effort.set_up + effort.each
                # To see it tells which it is: an outcome for each repair that may be seen here.
                place = self.prospect.place
                here = np.unique(place[offer.seen > 0]).tolist()
                each = [np.where(place == repair, offer.seen, 0.0) for repair in here]
                chance = np.stack([1.0 - offer.seen, *each])
                return Check(chance, self._where[offer.at], minutes, once=True)
            case SetUpLook():
                shown = offer.so[None] == np.arange(2)[:, None]
                at = self._where[self.place_of((f"{offer.fault.set_up}@{offer.fault.at}",))]
                minutes = rulebook.set_ups[offer.fault.set_up].check.minutes
                return Check(shown.astype(float), at, minutes)

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


def classes(scaled: Floats, opens: np.ndarray, sd: Floats) -> list[int]:
    """Return a class of outcome for each contender: open is one, values join while close."""
    found = [0] * len(scaled)
    order = [int(i) for i in np.argsort(scaled, kind="stable") if not opens[i]]
    number = 1
    for before, after in pairwise([order[0], *order] if order else []):
        if scaled[after] - scaled[before] > _APART_SD * max(sd[before], sd[after]):
            number += 1
        found[after] = number
    return found
