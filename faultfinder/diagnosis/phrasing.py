"""Checks in words: what to do, what it decides, what it may show, and how it is done."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import log2

import numpy as np

from faultfinder.diagnosis.naming import suspect_in_words
from faultfinder.diagnosis.offers import Row
from faultfinder.diagnosis.plan import Plan
from faultfinder.diagnosis.prospect import Contender, Look, Prospect, Reading, SetUpLook
from faultfinder.diagnosis.result import NextCheck, Outcome, Risk
from faultfinder.diagnosis.risk import risk_at, risk_of_reading
from faultfinder.diagnosis.wording import about_set_up
from faultfinder.readings.doing import EXCHANGE, LOOK
from faultfinder.readings.reading import Spot
from faultfinder.wiring.fault import SET_UP, Fault

HowTo = tuple[tuple[str, ...], tuple[str, ...]]
"""Steps, and cautions."""


@dataclass(frozen=True)
class Phrasing:
    """Puts what a prospect offers in words."""

    prospect: Prospect
    _exact: dict[tuple[Spot, ...], Reading] = field(default_factory=dict)

    def work_out(self, plan: Plan, indices: Sequence[int]) -> None:
        """Work the readings among some offers out exactly, all in one batch."""
        offers = [plan.offers[index] for index in indices]
        rows = {o.row.spots: o.row for o in offers if isinstance(o, Reading)}
        exact = self.prospect.foreseen(list(rows.values()), exactly=True)
        self._exact.update({reading.row.spots: reading for reading in exact})

    def offer(self, plan: Plan, index: int, bits: float | None = None) -> NextCheck:
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
                return self.look(offer, gain, minutes)
            case SetUpLook():
                return self.set_up(offer)

    def _reading(
        self, offer: Reading, gain: float, minutes: float, *, is_set_up: bool
    ) -> NextCheck:
        """Return a row as a check of its most telling pair, the others read along with it."""
        row, column = offer.row, self._most_telling(offer)
        risk: Risk = "live" if row.procedure.is_live else risk_of_reading(is_set_up=is_set_up)
        seen = offer.each[:, column].tolist()
        return NextCheck(
            0,
            row.procedure.id,
            row.spots[column],
            row.procedure.unit,
            self._why(seen),
            self._outcomes(seen, offer.values[:, column].tolist()),
            gain,
            minutes,
            risk,
            *self.how_to_read(row),
            also=tuple(spot for i, spot in enumerate(row.spots) if i != column),
        )

    def how_to_read(self, row: Row) -> HowTo:
        """Return the steps of reading a row, and what to mind."""
        steps, cautions = row.procedure.steps, row.procedure.cautions
        if row.via is None:
            return steps, cautions
        rule = self.prospect.rulebook.separation
        return (*rule.steps, *steps), (*rule.cautions, *cautions)

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

    def look(self, look: Look, gain: float, minutes: float) -> NextCheck:
        """Return a look into a point as a check."""
        here = (look.seen > 0).astype(int).tolist()
        said = ["seen" if seen_here else "nothing to see" for seen_here in here]
        return NextCheck(
            0,
            LOOK,
            Spot(LOOK, look.at, "", ""),
            "",
            self._what_to_look_for(look),
            self._outcomes(here, said),
            gain,
            minutes,
            risk_at(self.prospect.case.circuit, look.at),
            *self.how_to_look(look.at),
        )

    def how_to_look(self, at: str) -> HowTo:
        """Return the steps of looking into a place, and what to mind with what may be met there."""
        rule = self.prospect.rulebook.inspection
        if not self.prospect.case.circuit.is_at_board(at):
            return rule.steps, self._with_those_of(at, rule.cautions)
        # A device or a link: its mode says what to look for, and no core is tugged.
        steps = () if next(self._seen_at(at)).at == at else rule.board.steps
        return steps, self._with_those_of(at, rule.board.cautions)

    def how_to_mend(self, at: str) -> HowTo:
        """Return the steps of a repair at a place, and what to mind with what may be met there.

        At a board nothing is exchanged to see whether it helps: what its fault asks for is done.
        """
        rule, board = self.prospect.rulebook.repair, self.prospect.rulebook.inspection.board
        circuit = self.prospect.case.circuit
        steps, cautions = rule.exchange, rule.cautions
        if circuit.run(at) is not None:
            steps = rule.remake
        elif circuit.is_at_board(at):
            fault = next(self._seen_at(at))
            steps = self.prospect.rulebook.modes[fault.mode].remedy, rule.exchange[-1]
            cautions = ()
        if circuit.is_at_board(at):
            cautions = (*board.cautions, *cautions)
        return steps, self._with_those_of(at, cautions)

    def _with_those_of(self, at: str, cautions: tuple[str, ...]) -> tuple[str, ...]:
        """Return cautions with those of the likely faults that may be met at a place, each once."""
        modes = self.prospect.rulebook.modes
        faults = dict.fromkeys(self._seen_at(at, likely=True))
        own = (c for f in faults for c in modes[f.mode].cautions_for(f.conductors))
        return tuple(dict.fromkeys([*cautions, *own]))

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

    def _seen_at(self, at: str, *, likely: bool = False) -> Iterator[Fault]:
        """Yield the faults that may be met at a place, all or likely ones, the likeliest first."""
        circuit, prospect = self.prospect.case.circuit, self.prospect
        for contender in prospect.likely if likely else prospect.contenders:
            for fault in contender.suspect.faults:
                run = circuit.run(fault.at)
                here = fault.at == at or (run is not None and at in circuit.ends_to_open(run))
                if here and not fault.set_up:
                    yield fault

    def set_up(self, look: SetUpLook) -> NextCheck:
        """Return a look at how the test is set up as a check."""
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
            risk_at(case.circuit, fault.at),
            (about_set_up(rule.remedy, case.circuit, fault),),
            rule.cautions,
        )

    def gain_of_look(self, look: Look) -> float:
        """Return what a look tells about whether it is there. [bit]"""
        share = float(look.seen @ self.prospect.belief)
        return _bits([share, 1 - share]) - sum(
            float(b) * _bits([s, 1 - s])
            for b, s in zip(self.prospect.belief, look.seen.tolist(), strict=True)
        )

    def exchange(self, at: str) -> NextCheck:
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
            self._why_mend(at),
            self._outcomes(here, said),
            _bits([share, 1 - share]),
            rule.minutes.run if is_run else rule.minutes.point,
            risk_at(case.circuit, at),
            *self.how_to_mend(at),
        )

    def _why_mend(self, at: str) -> str:
        """Say why a repair is tried; that nothing was to be seen only where somebody looked."""
        case = self.prospect.case
        run = case.circuit.run(at)
        ends = {at} if run is None else {*case.circuit.ends_to_open(run)}
        if ends & {*case.looked}:
            return "nothing was to be seen there, and it is the likeliest place all the same"
        return "it is the likeliest place, and cannot be looked into first"


def _bits(chances: Sequence[float]) -> float:
    """Return the entropy of chances. [bit]"""
    return sum(-p * log2(p) for p in chances if 0 < p < 1)
