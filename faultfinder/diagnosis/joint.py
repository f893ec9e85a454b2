"""Faults that are taken together, weighed with all that belongs to them.

The likelihood is averaged over each ohms in turn, the others at their likeliest: what it is at its
highest, times the share of each range that the readings leave.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import log, prod

import numpy as np

from faultfinder.diagnosis.catalogue import BuiltWay, Hypothesis, Way
from faultfinder.diagnosis.curves import curves_of
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.ohms import Quantiles
from faultfinder.diagnosis.posterior import Suspect, more_closely, weighed
from faultfinder.diagnosis.screen import Candidate
from faultfinder.diagnosis.spans import Reads
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Floats
from faultfinder.network.branch import MakeEdit, in_turn

MOST_BUILT = 60
"""Ways in which pairs are built, and pairs that are."""

_MOST_WEIGHED = 30  # pairs
_BEHIND_NATS = 11.0  # a pair so far behind is not listed, however its shared errors differ
_AVERAGED_NATS = 3.0  # about what averaging over an ohms' range takes off the likelihood's top
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

    @property
    def is_apart(self) -> bool:
        """Whether they are all at different places: two in one run may share a branch's ohms."""
        places = [way.fault.at for way in self.ways if isinstance(way, BuiltWay)]
        return len(set(places)) == len(self.ways)

    def edit(self, r_ohm: float = 0.0) -> MakeEdit:
        """Return the edit that makes all, with these ohms where they are open."""
        ohms = [r_ohm if i == self.free else own for i, own in enumerate(self.r_ohm)]
        return in_turn([way.edit(r) for way, r in zip(self.ways, ohms, strict=True)])


@dataclass(frozen=True, slots=True)
class Joint:
    """Several faults with ohms to begin with, and the ways they may be built."""

    hypotheses: tuple[Hypothesis, ...]
    ways: tuple[tuple[Way, ...], ...]
    r_ohm: tuple[float, ...]


def weighed_together(bench: Bench, jury: Jury, joints: Sequence[Joint]) -> list[Suspect]:
    """Return faults found together weighed, as suspects in no order."""
    built = [
        (number, JointWay(ways, joint.r_ohm, -1))
        for number, joint in enumerate(joints)
        for ways in joint.ways
    ]
    if not built:
        return []
    log_prior = [sum(one.log_prior for one in joint.hypotheses) for joint in joints]
    logs = jury.weigh_roughly(bench.glimpse([way.edit() for _, way in built]))
    open_ohms = [sum(one.ohms is not None for one in joint.hypotheses) for joint in joints]
    mass = logs + np.array(
        [
            log(way.weight) + log_prior[number] - _AVERAGED_NATS * open_ohms[number]
            for number, way in built
        ]
    )
    order = np.argsort(-mass, kind="stable")[:MOST_BUILT].tolist()
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
            candidates.append((index, way, r_ohm))
    return weighed(bench, jury, hypotheses, _looked_over(bench, jury, candidates))


def _looked_over(
    bench: Bench, jury: Jury, candidates: Sequence[tuple[int, JointWay, Floats]]
) -> list[Candidate]:
    """Return candidates, as hypothesis, way and ohms, with about what each scores there."""
    known: list[Reads | None] = [None] * len(candidates)
    apart = [number for number, (_, way, _) in enumerate(candidates) if way.is_apart]
    if apart and not bench.live.any():  # what is read at any ohms follows from three
        curves = curves_of(bench, [candidates[number][1] for number in apart])
        for place, number in enumerate(apart):
            known[number] = partial(curves.of, place)
    read = [
        reads(r_ohm) if reads else bench.glimpse([way.edit(r) for r in r_ohm.tolist()])
        for (_, way, r_ohm), reads in zip(candidates, known, strict=True)
    ]
    ends_of = np.cumsum([len(r_ohm) for _, _, r_ohm in candidates])[:-1]
    logs = np.split(jury.weigh_roughly(np.concatenate(read)), ends_of)
    return [
        more_closely(Candidate(*one, log_, reads))
        for one, log_, reads in zip(candidates, logs, known, strict=True)
    ]
