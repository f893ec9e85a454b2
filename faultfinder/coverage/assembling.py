"""From single faults tried to what a plan can find: shares by prior, and ambiguity groups."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from faultfinder.coverage.plan import Plan
from faultfinder.coverage.result import MOST_PLACES, AmbiguityGroup, Coverage, FaultCover, Ohms
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault

_SAME_NATS = 1e-6  # nearer than this readings are the same but for rounding
_MOSTLY = 0.5  # of a fault's ohms: for so many another is in its group


@dataclass(frozen=True, slots=True)
class Tried:
    """One fault, tried once: which, how much of its chance that stands for, and what came of it.

    Attributes
    ----------
    fault : int
        Which fault.
    weight : float
        Its chance, with these ohms.
    seen : float
        Chance that it is seen.
    taken_for : mapping of int to float
        The faults it could be taken for, itself among them, and how far apart they are. [nat]
    """

    fault: int
    weight: float
    seen: float
    taken_for: Mapping[int, float]


@dataclass(frozen=True, slots=True)
class Sight:
    """One fault with all its ohms: its prior, how much of it is seen, and in which ranges."""

    fault: Fault
    prior: float
    detected: float
    ohms: Ohms | None = None
    seen: tuple[Ohms, ...] = ()
    moves: bool = True


def assemble(
    circuit: Circuit,
    plan: Plan,
    minutes: float,
    by: str,
    false_alarm: float,
    sights: Sequence[Sight],
    trials: Iterable[Tried],
    attainable: float | None = None,
) -> Coverage:
    """Return the coverage that sights and trials of the same faults amount to."""
    tallies = [_Tally(circuit, sights) for _ in sights]
    for tried in trials:
        tallies[tried.fault].add(tried)
    both = list(zip(sights, tallies, strict=True))
    whole = sum(sight.prior for sight in sights)
    found = sum(sight.prior * sight.detected for sight in sights)

    def isolated(kind: str, of: float) -> dict[int, float]:
        return {
            most: sum(s.prior * s.detected * t.share(kind, most) for s, t in both) / of
            if of
            else 0.0
            for most in range(1, MOST_PLACES + 1)
        }

    return Coverage(
        circuit=circuit,
        plan=plan,
        by=by,
        false_alarm=false_alarm,
        minutes=minutes,
        faults=tuple(
            FaultCover(
                s.fault,
                s.prior,
                s.detected,
                tuple(s.detected * t.share("at", most) for most in range(1, MOST_PLACES + 1)),
                t.usual,
                s.ohms,
                s.seen,
                s.moves,
            )
            for s, t in both
        ),
        groups=tuple(_groups(both)),
        detected=found / whole if whole else 1.0,
        attainable=attainable,
        isolated=isolated("at", found),
        isolated_of_all=isolated("at", whole),
        isolated_to_open=isolated("open", found),
    )


class _Tally:
    """What was found of one fault over its trials, weighted by chance and by being seen."""

    def __init__(self, circuit: Circuit, sights: Sequence[Sight]) -> None:
        self.circuit, self.sights = circuit, sights
        self.whole = 0.0
        self.places: dict[str, dict[int, float]] = {"at": {}, "open": {}}
        self.others: dict[int, float] = {}
        self.apart: dict[int, float] = {}

    def add(self, tried: Tried) -> None:
        weight = tried.weight * tried.seen
        if not weight:
            return
        self.whole += weight
        at = {self.sights[index].fault.at for index in tried.taken_for}
        for kind, places in (("at", at), ("open", {self._opened(place) for place in at})):
            counts = self.places[kind]
            counts[len(places)] = counts.get(len(places), 0.0) + weight
        for other, nats in tried.taken_for.items():
            self.others[other] = self.others.get(other, 0.0) + weight
            self.apart[other] = max(nats, self.apart.get(other, 0.0))

    def _opened(self, place: str) -> str:
        run = self.circuit.run(place)
        return self.circuit.ends_to_open(run)[0] if run else place

    def share(self, kind: str, most: int) -> float:
        """Return the share left among at most so many places; nil if it was never seen."""
        if not self.whole:
            return 0.0
        return sum(w for n, w in self.places[kind].items() if n <= most) / self.whole

    @property
    def usual(self) -> int:
        """The places it is most often left among; 0 if it was never seen."""
        counts = self.places["at"]
        return max(counts, key=lambda n: (counts[n], -n)) if self.whole else 0

    def mostly(self) -> list[int]:
        """Return the faults it is taken for over most of its ohms."""
        return [other for other, w in self.others.items() if w >= _MOSTLY * self.whole]


def _groups(both: Sequence[tuple[Sight, _Tally]]) -> Iterable[AmbiguityGroup]:
    """Yield the groups, each led by its likeliest fault: what is taken for, over most ohms."""
    left = {index for index, (_, tally) in enumerate(both) if tally.whole}
    for leader in sorted(left, key=lambda index: -both[index][0].prior):
        if leader not in left:
            continue
        members = [leader, *sorted(i for i in both[leader][1].mostly() if i in left - {leader})]
        left -= set(members)
        apart = both[leader][1].apart
        yield AmbiguityGroup(
            tuple(both[i][0].fault for i in members),
            sum(both[i][0].prior for i in members),
            max(apart[i] for i in members) < _SAME_NATS,
        )
