"""The suspects and the checks that may part them, as a problem of planning."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from faultfinder.diagnosis.looking import chance_seen
from faultfinder.diagnosis.offers import (
    Row,
    points_to_open,
    rows_to_read,
    rows_with_parted,
)
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.meter import meter_for
from faultfinder.evidence.staging import Staged
from faultfinder.network.branch import MakeEdit
from faultfinder.planning.problem import (
    Floats,
    Ints,
    normalised,
)
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Spot
from faultfinder.readings.setting import USUAL_TERMINATORS
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.circuit import Run
from faultfinder.wiring.fault import Fault

LEAST_BITS = 0.02
_APART_SD = 4.0  # outcomes closer than two standard deviations either side are one
_MOST_SUSPECTS = 40
_LEAST_SHARE = 0.003
_LIKELY_SHARE = 0.02  # of a suspect to be careful of; judgement
_MOST_PARTED = 5  # runs that parting is weighed at, those that halve what is left best

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
        """The dead readings of the circuit as it is that tell something, in walking order."""
        return self.foreseen(rows_to_read(self.case, self.rulebook))

    @cached_property
    def parted_readings(self) -> tuple[Reading, ...]:
        """Those of either half with the circuit parted, at the runs that halve it best."""
        runs = self._halving_runs()
        return self.foreseen(rows_with_parted(self.case, self.rulebook, runs))

    @cached_property
    def likely(self) -> tuple[Contender, ...]:
        """Those to be careful of: the leading group, and what is likely enough beside it."""
        return tuple(c for c in self.contenders if c.group == 1 or c.share >= _LIKELY_SHARE)

    @cached_property
    def may_be_supplied(self) -> bool:
        """Whether the circuit may be supplied for a live reading, by its likely suspects.

        Not where one of them leaves metal without its earth or makes it live, or is a short: that
        is mended first. Finish earth continuity and polarity before live tests: common practice.
        """
        modes = self.rulebook.modes
        return not any(
            "E" in fault.conductors or modes[fault.mode].conductors == "pair"
            for contender in self.likely
            for fault in contender.suspect.faults
            if not fault.set_up
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
