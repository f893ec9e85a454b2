"""The cheapest plan that shows, and the cheapest that also places, all that any plan can.

What a plan costs is each test's set-up and each place where one is read, in minutes. What it has to
do is told by faults: those that every reading together would surely show have to be shown, nine
times in ten, by what is chosen; and no more places may be left for each than every reading together
leaves.

More readings never show less, nor place less. So where a choice of readings does not do for a
fault, no part of it does, and a plan needs one reading at least outside of any choice that is as
large as it can be and still does not do. Such choices are found as they are needed: an integer
programme chooses the cheapest plan that keeps all the conditions so far, what it leaves unshown or
misplaced gives new ones, and the first plan that leaves nothing is the cheapest there is. That is
the scheme of implicit hitting sets; each programme is solved to proven optimality by HiGHS.
"""

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from faultfinder.coverage.by_model import chosen_samples
from faultfinder.coverage.isolation import Isolation, taken_for
from faultfinder.coverage.lineup import Lineup, Samples
from faultfinder.coverage.plan import Plan
from faultfinder.coverage.power import SURELY, Alarm
from faultfinder.evidence.lean import Flags, Floats, Indices

_CERTAIN = 0.99  # power of every reading together: from here a fault has to be shown
_AT_ONCE = 12  # new conditions a round
_MOST_ROUNDS = 400
_STDOUT = 1


class NoSolver(ImportError):  # noqa: N818 - says what it is, as BadInput does
    """The solver is not installed."""

    def __init__(self) -> None:
        super().__init__("--least needs the extra: pip install 'faultfinder[least]'")


@dataclass(frozen=True, slots=True)
class LeastPlan:
    """The cheapest plan of its kind, and what it took to prove that.

    Attributes
    ----------
    plan : Plan
        What to read.
    minutes : float
        What it costs.
    is_proved : bool
        Whether no cheaper plan of these tests does as much.
    conditions : int
        Conditions that were needed.
    """

    plan: Plan
    minutes: float
    is_proved: bool
    conditions: int


def least_plans(
    lineup: Lineup, false_alarm: float, tell: Callable[[int], object] = lambda _: None
) -> tuple[LeastPlan, LeastPlan]:
    """Return the cheapest plan that shows all that can be shown, and one that also places it.

    The lineup holds every reading to choose from. ``tell`` is told of each round.

    Raises
    ------
    NoSolver
        If scipy is not there.
    """
    search = _Search(lineup, false_alarm, tell)
    shows = search.solved("least that shows all", [search.unshown])
    places = search.solved("least that also places all", [search.unshown, search.misplaced])
    return shows, places


class _Search:
    """Grows conditions until the cheapest plan that keeps them leaves nothing."""

    def __init__(self, lineup: Lineup, false_alarm: float, tell: Callable[[int], object]) -> None:
        self.lineup, self.tell = lineup, tell
        self.alarm = Alarm(lineup, false_alarm)
        self.rows = list(dict.fromkeys((spot.test, spot.at) for spot in lineup.spots))
        place = {row: number for number, row in enumerate(self.rows)}
        self.row_of = np.array([place[spot.test, spot.at] for spot in lineup.spots])
        self.tests = list(dict.fromkeys(test for test, _ in self.rows))
        self.conditions: dict[frozenset[int], None] = {}
        power = self.alarm.power(lineup.samples.read)
        self.must_show = lineup.samples[power >= _CERTAIN]

    def spots(self, chosen: Flags) -> Flags:
        """Return which readings a choice of rows holds."""
        return np.asarray(chosen[self.row_of])

    # -- what a choice leaves --------------------------------------------------------------------

    def unshown(self, chosen: Flags) -> Iterator[frozenset[int]]:
        """Yield conditions from faults that a choice does not show."""
        power = self.alarm.power(self.must_show.read, self.spots(chosen))
        left = np.flatnonzero(power < SURELY)
        for index in _spread(left, _AT_ONCE):
            read = self.must_show.read[index : index + 1]

            def fails(rows: Flags, read: Floats = read) -> bool:
                return bool(self.alarm.power(read, self.spots(rows))[0] < SURELY)

            yield self._needed(chosen, fails)

    def misplaced(self, chosen: Flags) -> Iterator[frozenset[int]]:
        """Yield conditions from faults that a choice leaves among more places than it need."""
        some, best = self._placed
        told = taken_for(self._isolation(some, chosen), self.lineup.of)
        extra = [
            (index, min(h for h in others if self._at(h) not in best[index]))
            for index, others in enumerate(told)
            if {self._at(h) for h in others} - best[index]
        ]
        for index, other in (extra[i] for i in _spread(np.arange(len(extra)), _AT_ONCE)):
            one = some[np.array([index])]
            ways = np.flatnonzero(self.lineup.of == other)

            def fails(rows: Flags, one: Samples = one, ways: Indices = ways) -> bool:
                isolation = self._isolation(one, rows)
                return bool(isolation.mistakable(ways))

            yield self._needed(chosen, fails)

    @cached_property
    def _placed(self) -> tuple[Samples, list[set[str]]]:
        """Samples that have to be placed, and the places every reading together leaves of each."""
        lineup = self.lineup
        power = self.alarm.power(lineup.samples.read)
        some = lineup.samples[chosen_samples(lineup) & (power >= _CERTAIN)]
        told = taken_for(self._isolation(some, np.ones(len(self.rows), dtype=bool)), lineup.of)
        return some, [{self._at(h) for h in others} for others in told]

    def _at(self, hypothesis: int) -> str:
        return self.lineup.faults[hypothesis].at

    def _isolation(self, some: Samples, chosen: Flags) -> Isolation:
        alarm = self.alarm
        return Isolation(self.lineup, alarm.spread, alarm.variance, some, self.spots(chosen))

    def _needed(self, chosen: Flags, fails: Callable[[Flags], bool]) -> frozenset[int]:
        """Return the rows of which one is needed: those outside the largest choice that fails."""
        grown = chosen.copy()
        for row in np.flatnonzero(~chosen):
            grown[row] = True
            if not fails(grown):
                grown[row] = False
        return frozenset(np.flatnonzero(~grown).tolist())

    # -- the cheapest choice ---------------------------------------------------------------------

    def solved(
        self, title: str, kinds: Sequence[Callable[[Flags], Iterator[frozenset[int]]]]
    ) -> LeastPlan:
        """Return the cheapest plan that leaves nothing of some kinds."""
        chosen, proved, complete = np.zeros(len(self.rows), dtype=bool), True, True
        for number in range(_MOST_ROUNDS):
            new: dict[frozenset[int], None] = {}
            for kind in kinds:
                # The dearer question is asked once the cheaper one is settled.
                if not new:
                    found = list(kind(chosen))
                    # What not even all rows together keep cannot be asked of a plan.
                    complete = complete and all(found)
                    new = dict.fromkeys(condition for condition in found if condition)
            if not new:
                break
            self.conditions |= new
            chosen, proved = self._cheapest()
            self.tell(number)
        else:
            proved = False
        taken = self.spots(chosen)
        spots = tuple(s for s, is_taken in zip(self.lineup.spots, taken, strict=True) if is_taken)
        plan = Plan(title, spots)
        minutes = plan.minutes(self.lineup.bench.procedures)
        return LeastPlan(plan, minutes, proved and complete, len(self.conditions))

    def _cheapest(self) -> tuple[Flags, bool]:
        """Return the cheapest choice that keeps every condition, and whether that is proved."""
        try:
            from scipy.optimize import Bounds, LinearConstraint, milp
        except ImportError as error:
            raise NoSolver from error
        rows, tests = len(self.rows), len(self.tests)
        effort = [self.lineup.bench.procedures[test].minutes for test in self.tests]
        of_test = [self.tests.index(test) for test, _ in self.rows]
        cost = np.array([effort[t].each for t in of_test] + [one.set_up for one in effort])
        keep = np.zeros((len(self.conditions), rows + tests))
        for number, condition in enumerate(self.conditions):
            keep[number, list(condition)] = 1
        set_up = np.zeros((rows, rows + tests))
        set_up[np.arange(rows), np.arange(rows)] = -1
        set_up[np.arange(rows), rows + np.array(of_test)] = 1
        with _unheard():
            found = milp(
                cost,
                integrality=np.ones(rows + tests),
                bounds=Bounds(0, 1),
                constraints=[LinearConstraint(keep, lb=1), LinearConstraint(set_up, lb=0)],
                options={"mip_rel_gap": 0.0},
            )
        return np.asarray(found.x[:rows] > 0.5), found.status == 0


@contextmanager
def _unheard() -> Iterator[None]:
    """Have what the solver prints go nowhere: some releases have lines of debugging left in.

    They come from below Python, and would stand in the middle of an answer.
    """
    try:
        kept = os.dup(_STDOUT)
    except OSError:  # nobody listens
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, _STDOUT)
        yield
    finally:
        os.dup2(kept, _STDOUT)
        os.close(kept)
        os.close(nowhere)


def _spread(numbers: Indices, most: int) -> Iterator[int]:
    """Yield at most so many of some numbers, from all over them."""
    if len(numbers):
        places = np.linspace(0, len(numbers) - 1, min(most, len(numbers))).round().astype(int)
        yield from numbers[np.unique(places)].tolist()
