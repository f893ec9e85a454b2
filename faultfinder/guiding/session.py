"""A guided session: what is asked next, and what each answer makes of the case.

A session is a value: every answer makes a new one. All that has to outlive an interruption is in
its case.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.result import Diagnosis, NextCheck, RankedSuspect, Why
from faultfinder.readings.case import Case, Found
from faultfinder.readings.doing import EXCHANGE, LOOK, PART
from faultfinder.readings.reading import Reading, Spot
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.fault import SET_UP, Fault

_WORTH_NAMING = 0.02


@dataclass(frozen=True)
class Session:
    """Where a session stands.

    Attributes
    ----------
    case : Case
        All that is known so far.
    rulebook : Rulebook
        The rules.
    skipped : frozenset of (str, str)
        Tests and places that are not to be asked for now.
    confirmed : frozenset of Spot
        Readings that were taken again.
    before : Session or None
        The session before the last answer.
    """

    case: Case
    rulebook: Rulebook
    skipped: frozenset[tuple[str, str]] = frozenset()
    confirmed: frozenset[Spot] = frozenset()
    before: "Session | None" = None

    @cached_property
    def diagnosis(self) -> Diagnosis:
        """What the case says, its checks without those skipped."""
        cannot = tuple(dict.fromkeys([*self.case.cannot, *sorted(self.skipped)]))
        return diagnose(replace(self.case, cannot=cannot), self.rulebook)

    @cached_property
    def asked(self) -> NextCheck | None:
        """What to do next; None where the session is at its end.

        What was skipped is asked after all where nothing else is left, and a dead check before
        any live one: to skip a check is not to say that it cannot be done.
        """
        if self.case.found is not None:
            return None
        left = [c for c in self.diagnosis.next_checks if self._is_open(c)]
        first = left[0] if left else None
        if self.skipped and (first is None or first.risk == "live"):
            again = replace(self, skipped=frozenset()).asked
            if first is None or (again is not None and again.risk != "live"):
                return again
        return first

    def _is_open(self, check: NextCheck) -> bool:
        blocked = {*self.case.cannot, *self.skipped}
        return self._what(check) not in blocked and check.spot not in self.confirmed

    def _what(self, check: NextCheck) -> tuple[str, str]:
        """Return what of a check is not done, and where: the parting, of a reading that needs one.

        The reading of the whole circuit may be asked for all the same.
        """
        run = self.case.circuit.run(check.spot.parted) if check.spot.parted else None
        return (check.test, check.spot.at) if run is None else (PART, run.upstream)

    def read(self, readings: Sequence[Reading]) -> "Session":
        """Return the session with readings taken; those of a spot read before take its place."""
        new = {reading.spot for reading in readings}
        again = new & {reading.spot for reading in self.case.readings}
        kept = tuple(reading for reading in self.case.readings if reading.spot not in new)
        return self._with(
            replace(self.case, readings=(*kept, *readings)), confirmed=self.confirmed | again
        )

    def saw_nothing(self, at: str) -> "Session":
        """Return the session after a look that showed nothing."""
        return self._with(replace(self.case, looked=(*self.case.looked, at)))

    def did_not_help(self, at: str) -> "Session":
        """Return the session after a repair that did not help."""
        return self._with(replace(self.case, exchanged=(*self.case.exchanged, at)))

    def is_in_order(self, fault: Fault) -> "Session":
        """Return the session after a look at the set-up that found no such mistake."""
        entry = fault.set_up, fault.at
        return self._with(replace(self.case, in_order=(*self.case.in_order, entry)))

    def found(self, faults: Sequence[Fault]) -> "Session":
        """Return the session at its end, what was wrong being known."""
        return self._with(replace(self.case, found=Found(tuple(faults))))

    def confirmed_as(self, suspect: RankedSuspect) -> "Session":
        """Return the session at its end, a suspect confirmed, its ohms to three figures."""
        return self.found([_rounded(fault) for fault in suspect.faults])

    def why_not(self) -> Why | None:
        """Return why the readings rule out what was found, or None where they do not."""
        found = self.case.found
        if found is None or len(found.faults) != 1 or found.faults[0].set_up:
            return None
        (why,) = diagnose(self.case, self.rulebook, found.faults).why
        return why if why.standing == "ruled out" else None

    def skip(self) -> "Session":
        """Return the session without what is asked, for now."""
        asked = self.asked
        if asked is None:
            return self
        return replace(self, skipped=self.skipped | {self._what(asked)}, before=self)

    def cannot(self) -> "Session":
        """Return the session without what is asked, for good: it cannot be done there."""
        asked = self.asked
        if asked is None:
            return self
        return self._with(replace(self.case, cannot=(*self.case.cannot, self._what(asked))))

    @property
    def number(self) -> int:
        """How many answers led here."""
        return 0 if self.before is None else self.before.number + 1

    def undo(self) -> "Session":
        """Return the session before the last answer, this one if there was none."""
        return self.before or self

    def _with(self, case: Case, confirmed: frozenset[Spot] | None = None) -> "Session":
        kept = self.confirmed if confirmed is None else confirmed
        return Session(case, self.rulebook, self.skipped, kept, self)

    def to_be_seen(self) -> tuple[RankedSuspect, ...]:
        """Return the suspects that what is asked would show: at a look, a repair, a set-up."""
        asked = self.asked
        if asked is None or asked.test not in {LOOK, EXCHANGE, SET_UP}:
            return ()
        shown = {
            rank
            for outcome in asked.outcomes
            if outcome.value in {"seen", "right again", "as suspected"}
            for rank in outcome.suspects
        }
        return tuple(s for s in self.diagnosis.suspects if s.rank in shown)

    def places_left(self) -> tuple[str, ...]:
        """Return the places that a repair may still have to be made at, the likeliest first."""
        suspects = sorted(self.diagnosis.suspects, key=lambda s: (s.group, -s.probability))
        kept = [s for s in suspects if s.group == 1 or s.probability >= _WORTH_NAMING]
        return tuple(dict.fromkeys(" and ".join(map(_place, s.faults)) or "nowhere" for s in kept))


def _rounded(fault: Fault) -> Fault:
    return fault if fault.r_ohm is None else replace(fault, r_ohm=float(f"{fault.r_ohm:.3g}"))


def _place(fault: Fault) -> str:
    return "the set-up" if fault.set_up else fault.at
