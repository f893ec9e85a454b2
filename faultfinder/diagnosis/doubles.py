"""Two faults at once, or three: looked for where one alone leaves something unexplained.

Two faults are a suspect where the readings call for both: where they speak clearly more for the
two than for either by itself. So a fault that hides behind another, an open say, is none, and what
one fault explains is left to it. All are ranked together by priors and likelihoods. Three are only
looked for where no two explain the readings, with a third added to the best two.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import exp, log, prod

import numpy as np

from faultfinder.diagnosis.catalogue import BuiltWay, Hypothesis, Way
from faultfinder.diagnosis.family import Family, rows_of
from faultfinder.diagnosis.likelihood import Indices, Jury
from faultfinder.diagnosis.partners import Partners, partners
from faultfinder.diagnosis.posterior import Judged, Quantiles, Suspect, weighed
from faultfinder.diagnosis.screen import Candidate, Curves
from faultfinder.diagnosis.settled import settled
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Floats
from faultfinder.network.branch import MakeEdit, in_turn

MOST_MISREAD = 1
"""Numbers that a diagnosis may call misread; more, or an open, it leaves unexplained."""

_ROOM_NATS = 7.0  # what a second fault must gain to make up for its prior, about
_PROMISING = 6  # single suspects that a second fault is added to where they explain all
_LEANING = 30  # suspects whose slopes tell how readings lean
_MOST_WEIGHED = 30  # pairs
_MOST_BUILT = 60  # ways in which those are built
_BEHIND_NATS = 11.0  # a pair so far behind is not listed, however its shared errors differ
_AVERAGED_NATS = 3.0  # about what averaging over an ohms' range takes off the likelihood's top
_BASES = 3  # pairs that a third fault is added to
_ABOUT = np.array([-1.0, -0.3, -0.1, -0.03, 0.0, 0.03, 0.1, 0.3, 1.0])  # of ln ohms
_COARSE = 8  # ohms over the whole range


@dataclass(frozen=True, slots=True)
class JointWay:
    """Several faults, each built in one way; the ohms of one of them are open.

    Attributes
    ----------
    ways : tuple of Way
        One a fault.
    r_ohm : tuple of float
        Their ohms, the open one's aside. [ohm]
    free : int
        Whose ohms are open.
    """

    ways: tuple[Way, ...]
    r_ohm: tuple[float, ...]
    free: int

    @property
    def weight(self) -> float:
        """Its share among all ways of these faults."""
        return prod(way.weight for way in self.ways)

    def edit(self, r_ohm: float = 0.0) -> MakeEdit:
        """Return the edit that makes all, with these ohms where they are open."""
        ohms = [r_ohm if i == self.free else own for i, own in enumerate(self.r_ohm)]
        return in_turn([way.edit(r) for way, r in zip(self.ways, ohms, strict=True)])


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


@dataclass(frozen=True, slots=True)
class _Joint:
    """Several faults with ohms to begin with, and the ways they may be built."""

    hypotheses: tuple[Hypothesis, ...]
    ways: tuple[tuple[Way, ...], ...]
    r_ohm: tuple[float, ...]


def with_doubles(
    bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis], judged: Judged
) -> Judged:
    """Return what was judged with two faults at once, or three, where they are called for."""
    singles = judged.singles
    if not bench.plain() or not _leaves_room(bench, jury, hypotheses, singles):
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


def _leaves_room(
    bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis], singles: Sequence[Suspect]
) -> bool:
    """Return whether a second fault could make up for its prior, whatever it did.

    Where each reading's errors are taken for its own there may seem to be room that shared errors
    account for. So where that look sees any, the changes that a second fault could make, as it
    makes them by itself, are tried on what the likely suspects leave.
    """
    leader = singles[0]
    if leader.leaves_readings:
        return True
    value = jury.observed.value
    most = float(jury.at_most(value, value))
    likely = [s for s in singles if s.probability > exp(-5) * leader.probability]
    if most - max(float(jury.glance(s.read)) for s in likely) <= _ROOM_NATS:
        return False
    changed = _changed(bench, jury, hypotheses)
    gained = [jury.most_gained(s.read, s.spread, changed).max(initial=0.0) for s in likely]
    return bool(max(gained) > _ROOM_NATS)


def _changed(bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis]) -> Floats:
    """Return what the circuit would read with each fault in it by itself, at ohms all over.

    But for those that make a number open: they are no second fault.
    """
    families = [part.family for one in hypotheses for part in _parts(one)]
    ends = bench.glimpse([make for family in families for make in family.makes()])[
        rows_of(families)
    ]
    ohms = np.array([family.ohms or (1.0, 1.0) for family in families])
    low, high = np.log(ohms).T
    r_ohm = np.exp(np.linspace(low, high, _COARSE, axis=1))
    changed = Curves(ends).at(r_ohm)
    fixed = np.array([family.ohms is None for family in families])
    changed[fixed] = ends[fixed, :1]
    rows: Floats = changed.reshape(-1, changed.shape[-1])
    return rows[~(np.isinf(rows) & jury.observed.number).any(axis=1)]


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
    families = [part.family for part in parts]
    leading = judged.suspects[:_LEANING]
    bounds = settled(
        jury, np.stack([s.read for s in leading]), np.stack([s.spread for s in leading])
    )
    found = partners(bench, jury, bounds, families, among, leader)
    joints = [_joint(parts, one) for one in found[:_MOST_BUILT]]
    suspects = _weighed(bench, jury, joints)
    called_for = [s for s in suspects if judged.calls_for(s)]
    return sorted(called_for, key=lambda s: -(s.log_likelihood + s.hypothesis.log_prior))


def _joint(parts: Sequence[_Part], found: Partners) -> _Joint:
    one, other = parts[found.first], parts[found.second]
    r_ohm = (
        *(one.r_ohm if len(one.r_ohm) > 1 else (found.r_ohm[0],)),
        *(other.r_ohm if len(other.r_ohm) > 1 else (found.r_ohm[1],)),
    )
    ways = tuple((*a, *b) for a, b in product(one.ways, other.ways))
    return _Joint((*one.hypotheses, *other.hypotheses), ways, r_ohm)


def _weighed(bench: Bench, jury: Jury, joints: Sequence[_Joint]) -> list[Suspect]:
    """Return faults found together weighed with all that belongs to them.

    The likelihood is averaged over each ohms in turn, the others at their likeliest: what it is at
    its highest, times the share of each range that the readings leave.
    """
    built = [
        (number, JointWay(ways, joint.r_ohm, -1))
        for number, joint in enumerate(joints)
        for ways in joint.ways
    ]
    if not built:
        return []
    log_prior = [sum(one.log_prior for one in joint.hypotheses) for joint in joints]
    read = bench.read([way.edit() for _, way in built])
    logs = jury.weigh_roughly(read)
    open_ohms = [sum(one.ohms is not None for one in joint.hypotheses) for joint in joints]
    mass = logs + np.array(
        [
            log(way.weight) + log_prior[number] - _AVERAGED_NATS * open_ohms[number]
            for number, way in built
        ]
    )
    order = np.argsort(-mass, kind="stable")[:_MOST_BUILT].tolist()
    by_faults: dict[object, list[tuple[int, JointWay]]] = {}
    for place in order:
        if mass[place] > mass.max() - _BEHIND_NATS:
            number, way = built[place]
            same = frozenset(one.faults for one in joints[number].hypotheses)
            by_faults.setdefault(same, []).append((number, way))
    kept = list(by_faults.values())[:_MOST_WEIGHED]
    several = [joints[built_[0][0]].hypotheses for built_ in kept]
    ways = [
        [_in_order(way, joints[number].hypotheses, own) for number, way in built_]
        for built_, own in zip(kept, several, strict=True)
    ]
    return _averaged(bench, jury, several, ways)


def _in_order(way: JointWay, given: Sequence[Hypothesis], wanted: Sequence[Hypothesis]) -> JointWay:
    """Return a way with its faults in another order."""
    places = [given.index(one) for one in wanted]
    return JointWay(
        tuple(way.ways[i] for i in places), tuple(way.r_ohm[i] for i in places), way.free
    )


def _averaged(
    bench: Bench,
    jury: Jury,
    several: Sequence[tuple[Hypothesis, ...]],
    ways: Sequence[Sequence[JointWay]],
) -> list[Suspect]:
    """Return sets of faults weighed, each in the ways given; the likeliest way comes first."""
    open_ohms = [[i for i, one in enumerate(own) if one.ohms] or [-1] for own in several]
    rounds = max(map(len, open_ohms))
    best = [own[0] for own in ways]
    suspects: list[Suspect | None] = [None] * len(several)
    log_shares = np.zeros(len(several))
    ohms: list[list[Quantiles | None]] = [[None] * len(own) for own in several]
    variants: list[list[Floats]] = [[] for _ in several]
    for turn in range(rounds):
        # Faults with fewer ohms come in later, so that all end with the last turn.
        now = [k for k in range(len(several)) if turn >= rounds - len(open_ohms[k])]
        last = turn == rounds - 1
        for k in now:
            free = open_ohms[k][turn - rounds]
            best[k] = replace(best[k], free=free)
        built = {
            k: [replace(way, r_ohm=best[k].r_ohm, free=best[k].free) for way in ways[k]]
            if last
            else [best[k]]
            for k in now
        }
        found = _one_turn(bench, jury, [several[k] for k in now], [built[k] for k in now])
        for k, suspect in zip(now, found, strict=True):
            suspects[k] = suspect
            variants[k].append(suspect.variants)
            free = best[k].free
            if free >= 0:
                ohms[k][free] = suspect.ohms[free]
                r_ohm = list(best[k].r_ohm)
                r_ohm[free] = suspect.r_ohm
                best[k] = replace(best[k], r_ohm=tuple(r_ohm))
            if not last:
                top = jury.weigh(suspect.read[None], suspect.spread[None]).log[0]
                log_shares[k] += suspect.log_likelihood - top - log(best[k].weight)
    return [
        replace(
            suspect,
            log_likelihood=suspect.log_likelihood + float(share),
            ohms=tuple(own),
            variants=np.concatenate(seen),
        )
        for suspect, share, own, seen in zip(suspects, log_shares, ohms, variants, strict=True)
        if suspect is not None
    ]


def _one_turn(
    bench: Bench,
    jury: Jury,
    several: Sequence[tuple[Hypothesis, ...]],
    built: Sequence[Sequence[JointWay]],
) -> list[Suspect]:
    """Return sets of faults weighed over the ohms that their ways leave open."""
    hypotheses = []
    candidates = []
    for index, (own, ways) in enumerate(zip(several, built, strict=True)):
        free = ways[0].free
        ohms = own[free].ohms if free >= 0 else None
        hypotheses.append(
            Hypothesis(
                tuple(fault for one in own for fault in one.faults),
                tuple(ways),
                ohms,
                sum(one.log_prior for one in own),
                max(free, 0),
            )
        )
        for way in ways:
            r_ohm = np.zeros(1)
            if ohms:
                near = log(way.r_ohm[free]) + _ABOUT
                over = np.linspace(log(ohms[0]), log(ohms[1]), _COARSE)
                within = np.clip(near, over[0], over[-1])
                r_ohm = np.exp(np.unique(np.concatenate([within, over])))
            candidates.append(Candidate(index, way, r_ohm, np.empty((0, 0))))
    edits = [c.way.edit(r) for c in candidates if c.way for r in c.r_ohm.tolist()]
    logs = jury.weigh_roughly(bench.glimpse(edits))
    ends = np.cumsum([len(c.r_ohm) for c in candidates])
    roughly = [logs[end - len(c.r_ohm) : end] for c, end in zip(candidates, ends, strict=True)]
    return weighed(bench, jury, hypotheses, candidates, roughly)
