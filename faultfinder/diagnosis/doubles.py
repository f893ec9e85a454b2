"""Two faults at once, or three: looked for where one alone leaves something unexplained.

Two faults are a suspect where the readings call for both: where they speak clearly more for the
two than for either by itself. So a fault that hides behind another, an open say, is none, and what
one fault explains is left to it. All are ranked together by priors and likelihoods. Three are only
looked for where no two explain the readings, with a third added to the best two.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import log, prod

import numpy as np

from faultfinder.diagnosis.catalogue import BuiltWay, Hypothesis, Way
from faultfinder.diagnosis.families import Families
from faultfinder.diagnosis.family import Family
from faultfinder.diagnosis.joint import MOST_BUILT, Joint, JointWay, weighed_together
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.partners import Partners, partners
from faultfinder.diagnosis.posterior import Judged, Suspect
from faultfinder.diagnosis.room import leaves_room
from faultfinder.diagnosis.settled import settled
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Indices

MOST_MISREAD = 1
"""Numbers that a diagnosis may call misread; more, or an open, it leaves unexplained."""

_PROMISING = 6  # single suspects that a second fault is added to where they explain all
_LEANING = 30  # suspects whose slopes tell how readings lean
_BASES = 3  # pairs that a third fault is added to


@dataclass(frozen=True, slots=True)
class _Part:
    """Faults that are taken as one partner, with the ways that are looked at as this one is."""

    hypotheses: tuple[Hypothesis, ...]
    ways: tuple[tuple[Way, ...], ...]
    r_ohm: tuple[float, ...]

    @property
    def family(self) -> Family:
        """The partner, in the way in the middle of those it stands for."""
        first = self.ways[len(self.ways) // 2]
        log_prior = sum(one.log_prior for one in self.hypotheses)
        weight = sum(prod(way.weight for way in ways) for ways in self.ways)
        if len(first) == 1:
            return Family(first[0], self.hypotheses[0].ohms, log_prior + log(weight))
        return Family(JointWay(first, self.r_ohm, -1), None, log_prior + log(weight))


def with_doubles(
    bench: Bench,
    jury: Jury,
    hypotheses: Sequence[Hypothesis],
    judged: Judged,
    foreseen: Families | None = None,
) -> Judged:
    """Return what was judged with two faults at once, or three, where they are called for.

    ``foreseen`` is what the hypotheses read on the bench, where that is known already.
    """
    singles = judged.singles
    if not bench.plain() or not leaves_room(bench, jury, hypotheses, singles, foreseen):
        return judged
    explained = not singles[0].leaves_readings
    parts = [part for one in hypotheses for part in _parts(one)]
    among = np.stack(np.triu_indices(len(parts), 1), axis=1)
    # Two ways of one fault are not two faults.
    place = {one.faults: n for n, one in enumerate(hypotheses)}
    owner = np.array([place[part.hypotheses[0].faults] for part in parts])
    among = among[owner[among[:, 0]] != owner[among[:, 1]]]
    if explained:  # what a second fault adds is little, so that the first is one of the leading
        leading = [suspect.hypothesis.faults for suspect in singles[:_PROMISING]]
        promising = [n for n, part in enumerate(parts) if part.hypotheses[0].faults in leading]
        among = among[np.isin(among, promising).any(axis=1)]
    pairs = _judged(bench, jury, judged, parts, among)
    whole = judged.with_more(pairs)
    best = whole.suspects[0]
    if not best.leaves_readings or not best.hypothesis.faults:
        return whole
    bases = [_as_part(suspect, hypotheses) for suspect in pairs[:_BASES]]
    if not bases:
        return whole
    several = [*bases, *parts]
    thirds = [
        (base, number)
        for base in range(len(bases))
        for number in range(len(bases), len(several))
        if several[number].hypotheses[0] not in bases[base].hypotheses
    ]
    triples = _judged(bench, jury, whole, several, np.array(thirds))
    return whole.with_more(triples)


def _parts(one: Hypothesis) -> list[_Part]:
    """Return a fault as partners: ways that differ only by where along a run are one.

    None for the sound circuit and for a mistake in the test.
    """
    alike: dict[object, list[Way]] = {}
    for way in one.ways:
        if isinstance(way, BuiltWay):
            steps = tuple(replace(step, along=0.5) for step in way.steps)
            alike.setdefault(steps, []).append(way)
    return [_Part((one,), tuple((way,) for way in ways), (0.0,)) for ways in alike.values()]


def _as_part(suspect: Suspect, hypotheses: Sequence[Hypothesis]) -> _Part:
    """Return a pair as one partner of a third, as it is at its likeliest."""
    way = suspect.way
    if not isinstance(way, JointWay):
        raise TypeError("only faults that were found together are taken together")
    by_fault = {one.faults: one for one in hypotheses}
    singles = tuple(by_fault[(fault,)] for fault in suspect.hypothesis.faults)
    r_ohm = tuple(
        suspect.r_ohm if number == way.free else own for number, own in enumerate(way.r_ohm)
    )
    return _Part(singles, (way.ways,), r_ohm)


def _judged(
    bench: Bench,
    jury: Jury,
    judged: Judged,
    parts: Sequence[_Part],
    among: Indices,
) -> list[Suspect]:
    """Return the partners that readings call for, weighed, the likeliest first."""
    leader = max(s.log_likelihood + s.hypothesis.log_prior for s in judged.suspects)
    partners_of = [part.family for part in parts]
    leading = judged.suspects[:_LEANING]
    bounds = settled(
        jury, np.stack([s.read for s in leading]), np.stack([s.spread for s in leading])
    )
    found = partners(bench, jury, bounds, partners_of, among, leader)
    joints = [_joint(parts, one) for one in found[:MOST_BUILT]]
    suspects = weighed_together(bench, jury, joints)
    called_for = [s for s in suspects if judged.calls_for(s)]
    return sorted(called_for, key=lambda s: -(s.log_likelihood + s.hypothesis.log_prior))


def _joint(parts: Sequence[_Part], found: Partners) -> Joint:
    one, other = parts[found.first], parts[found.second]
    r_ohm = (
        *(one.r_ohm if len(one.r_ohm) > 1 else (found.r_ohm[0],)),
        *(other.r_ohm if len(other.r_ohm) > 1 else (found.r_ohm[1],)),
    )
    ways = tuple((*a, *b) for a, b in product(one.ways, other.ways))
    return Joint((*one.hypotheses, *other.hypotheses), ways, r_ohm)
