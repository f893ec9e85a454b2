"""A quick look at every hypothesis: which can have made the readings, and with how many ohms.

In the ohms of one branch every reading of a linear network is a ratio of two straight lines, so
that three exact solutions (bolted, open, and one between) give it for all ohms. Readings are scored
one by one, shared errors taken as if each reading had its own: no linear algebra, and seldom harder
on a hypothesis than the full likelihood. Nothing here is reported; it only says what to work out.

The size of a phasor is no such ratio, and a test that compares two voltages even less. So live
readings are worked out at ohms all over the range, and what lies between is taken from a straight
line over the logarithm.
"""

from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace
from itertools import compress
from math import log

import numpy as np
import numpy.typing as npt

from faultfinder.diagnosis.catalogue import Hypothesis, Way, no_edit
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Flags, Floats
from faultfinder.network.branch import MakeEdit

Indices = npt.NDArray[np.intp]

MIDDLE_OHM = 5.0  # of the order of the terminators, where the curves bend
_STEP = 0.4  # of ln ohms, between neighbours of the first grid
# Of ln ohms, about the best so far: ever closer, since how narrow a likelihood is depends on the
# instrument, from a tenth down to what one of 0.1 % leaves of a large joint.
_NEAR = 0.1 / 2.0 ** np.arange(0.0, 10.5, 0.65)
_ZOOM = np.concatenate([-_NEAR, [0.0], _NEAR[::-1]])
_BEHIND_NATS = 20.0  # so far behind, shared errors cannot make up for it
_EDGE = 0.001  # of the mass, left out at either end
_ASKED = 48  # readings at most that are asked for the ohms that would explain them
_POINTS = 130  # of ohms that a family is tried at, about
_MOST_NUMBERS = 100_000  # in one array, so that it stays in cache; the rest waits its turn
_ROUNDING = 1e-6  # of a log likelihood
_ROWS = 7  # ohms that are then predicted exactly


@dataclass(frozen=True, slots=True)
class Candidate:
    """One way of one hypothesis that may have made the readings.

    Attributes
    ----------
    index : int
        Which hypothesis.
    way : Way or None
        How it is built; None for the sound circuit.
    r_ohm : ndarray, shape (k,)
        Ohms worth an exact look, rising; a single zero for a way without ohms. [ohm]
    read : ndarray, shape (k, r)
        What the screen takes readings for at each, good to some six figures.
    """

    index: int
    way: Way | None
    r_ohm: Floats
    read: Floats


@dataclass(frozen=True, slots=True)
class Screened:
    """What a quick look leaves.

    Attributes
    ----------
    candidates : list of Candidate
        Worth an exact look, in the order of the hypotheses; the sound circuit among them.
    log_unseen : float
        Logarithm of the prior of faults that these readings cannot show, each times its likelihood
        over the sound circuit's.
    """

    candidates: list[Candidate]
    log_unseen: float


def screen(bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis]) -> Screened:
    """Return the candidates worth an exact look, and the weight of what no reading speaks for."""
    families = [
        (index, way)
        for index, hypothesis in enumerate(hypotheses)
        for way in hypothesis.ways or (None,)
    ]
    edits: list[MakeEdit] = []
    row_of = []
    for index, way in families:
        row_of.append(len(edits))
        if way is None:
            edits.append(no_edit)
        elif hypotheses[index].ohms is None:
            edits.append(way.edit())
        else:
            edits += [way.edit(r_ohm) for r_ohm in (0.0, MIDDLE_OHM, float("inf"))]
    read = bench.glimpse(edits)
    plain = jury.glance(read)
    log_priors = [
        (log(way.weight) if way else 0.0) + hypotheses[index].log_prior for index, way in families
    ]
    sound, with_prior = next(
        (float(plain[row]), float(plain[row]) + log_prior)
        for (_, way), row, log_prior in zip(families, row_of, log_priors, strict=True)
        if way is None
    )
    # Three in a family with ohms are scored too, at ohms it may not have: those tell nothing.
    leader = max(
        float(plain[row]) + log_prior
        for (index, _), row, log_prior in zip(families, row_of, log_priors, strict=True)
        if hypotheses[index].ohms is None
    )
    searched = _searched(
        bench, jury, hypotheses, families, row_of, read, log_priors, with_prior, leader
    )
    scored: list[tuple[float, Candidate]] = []
    unseen: dict[int, list[float]] = {}
    for number, (index, way) in enumerate(families):
        ohms, log_prior = hypotheses[index].ohms, log_priors[number]
        if way is not None and ohms is not None:
            if number not in searched:
                continue
            x, scores, curve = searched[number]
            score = float(scores.max())
            average = float(np.logaddexp.reduce(scores + np.log(cells(x) / np.ptp(x))))
            r_ohm = np.exp(x[_rows(x, scores)])
            candidate = Candidate(index, way, r_ohm, curve.at(r_ohm[None])[0])
        else:
            score = average = float(plain[row_of[number]])
            row = row_of[number]
            candidate = Candidate(index, way, np.zeros(1), read[row : row + 1])
        if way is None or score > sound + _ROUNDING:
            scored.append((score + log_prior, candidate))
        else:  # it fits no better than the sound circuit at any ohms: no reading speaks for it
            unseen.setdefault(index, []).append(average - sound + log_prior)
    least = max(score for score, _ in scored) - _BEHIND_NATS
    # The sound circuit is always judged, so that it is always ranked.
    kept = [candidate for score, candidate in scored if score > least or candidate.way is None]
    seen = {candidate.index for candidate in kept}
    logs = [value for index, values in unseen.items() if index not in seen for value in values]
    return Screened(kept, float(np.logaddexp.reduce(logs)) if logs else -np.inf)


def _searched(
    bench: Bench,
    jury: Jury,
    hypotheses: Sequence[Hypothesis],
    families: Sequence[tuple[int, Way | None]],
    row_of: Sequence[int],
    read: Floats,
    log_priors: Sequence[float],
    sound: float,
    leader: float,
) -> "dict[int, _Profile]":
    """Return ln ohms and quick log likelihoods of each family that has ohms, by its number.

    Families of one range are searched together. A likelihood may be far narrower than any grid
    over the range, and flat elsewhere, where all it depends on would be a slip. So the readings
    are asked: each tells the ohms that would make it exactly as read, and those are tried beside
    the grid, then a finer grid about the best.

    The most promising come first. Left out are families that no ohms can bring near the best so
    far, ``leader`` to begin with, and that would add nothing to what cannot be seen, which goes by
    the ``sound`` circuit's likelihood; both with their priors. The full likelihood may bring that
    nearer to the leader's, so that they have to be behind twice over.
    """
    by_range: dict[tuple[float, float], list[int]] = {}
    for number, (index, way) in enumerate(families):
        ohms = hypotheses[index].ohms
        if way is not None and ohms is not None:
            by_range.setdefault(ohms, []).append(number)
    found: dict[int, _Profile] = {}
    most: dict[int, float] = {}
    for those in by_range.values():
        rows = np.array([row_of[number] for number in those])
        bolted, opened = read[rows], read[rows + 2]
        # Live readings may lie anywhere between, as far as their ends tell.
        least = np.where(bench.live, 0.0, np.minimum(bolted, opened))
        bounds = jury.at_most(least, np.where(bench.live, np.inf, np.maximum(bolted, opened)))
        most |= {n: bound + log_priors[n] for n, bound in zip(those, bounds.tolist(), strict=True)}
    step = max(1, _MOST_NUMBERS // (_POINTS * max(1, read.shape[1])))
    for ohms, those in sorted(by_range.items(), key=lambda item: -max(most[n] for n in item[1])):
        numbers = sorted(those, key=lambda n: -most[n])
        for i in range(0, len(numbers), step):
            enough = max(sound, leader - _BEHIND_NATS) - _BEHIND_NATS
            some = [n for n in numbers[i : i + step] if most[n] > enough]
            if not some:
                break
            ends = np.stack([read[row_of[n] : row_of[n] + 3] for n in some])
            ways = [way for _, way in (families[n] for n in some) if way is not None]
            sampled = sampled_over(bench, ways, ohms) if bench.live.any() else None
            for n, profile in zip(some, _profiles(jury, ends, ohms, sampled), strict=True):
                found[n] = profile
                leader = max(leader, float(profile[1].max()) + log_priors[n])
    return found


def ohms_grid(ohms: tuple[float, float]) -> Floats:
    """Return ln ohms all over a range."""
    low, high = log(ohms[0]), log(ohms[1])
    return np.linspace(low, high, max(3, round((high - low) / _STEP) + 1))


def sampled_over(bench: Bench, ways: Sequence[Way], ohms: tuple[float, float]) -> "Sampled":
    """Return what live readings are at ohms all over a range, in each of some families."""
    x = ohms_grid(ohms)
    alone = replace(bench, spots=tuple(compress(bench.spots, bench.live.tolist())))
    read = alone.read([way.edit(r) for way in ways for r in np.exp(x).tolist()])
    return Sampled(bench.live, x, read.reshape(len(ways), len(x), -1))


@dataclass(frozen=True, slots=True)
class Sampled:
    """Live readings at some ln ohms ``x``, rising: ``read`` is (families, len(x), live)."""

    live: Flags
    x: Floats
    read: Floats

    def at(self, x: Floats) -> Floats:
        """Return them at ln ohms of shape (families, k), in shape (families, k, live)."""
        after = np.clip(np.searchsorted(self.x, x), 1, len(self.x) - 1)
        share = (x - self.x[after - 1]) / (self.x[after] - self.x[after - 1])
        family = np.arange(len(self.read))[:, None]
        one, two = self.read[family, after - 1], self.read[family, after]
        with np.errstate(invalid="ignore"):
            between = one + (two - one) * share[..., None]
        return np.where(np.isfinite(one) & np.isfinite(two), between, np.inf)

    def only(self, families: Indices) -> "Sampled":
        """Return those of some families."""
        return Sampled(self.live, self.x, self.read[families])


def _profiles(
    jury: Jury, ends: Floats, ohms: tuple[float, float], sampled: Sampled | None
) -> "Iterator[_Profile]":
    """Yield ln ohms, rising, the quick log likelihood at each, and the curve, of some families."""
    low, high = log(ohms[0]), log(ohms[1])
    curves = Curves(ends, sampled)
    grid = ohms_grid(ohms)
    with np.errstate(divide="ignore"):
        asked = np.log(curves.ohms_for(jury.observed.value))
    asked = np.sort(np.clip(np.nan_to_num(asked, nan=low), low, high), axis=1)
    evenly = np.linspace(0, asked.shape[1] - 1, min(_ASKED, asked.shape[1])).astype(int)
    x = np.concatenate([np.broadcast_to(grid, (len(ends), len(grid))), asked[:, evenly]], axis=1)
    scores = jury.glance(curves.at(np.exp(x)))
    peak = np.take_along_axis(x, scores.argmax(axis=1)[:, None], axis=1)
    finer = np.clip(peak + _ZOOM, low, high)
    x = np.concatenate([x, finer], axis=1)
    scores = np.concatenate([scores, jury.glance(curves.at(np.exp(finer)))], axis=1)
    for family, (points, values) in enumerate(zip(x, scores, strict=True)):
        rising, first = np.unique(points, return_index=True)
        own = sampled.only(np.array([family])) if sampled else None
        yield rising, values[first], Curves(ends[family : family + 1], own)


_OF_CURVES = ("bolted", "opened", "straight", "slope", "bend", "unmoved")


class Curves:
    """Readings as functions of a branch's ohms, from those bolted, in the middle and open.

    Between bolted and open a reading is ``(bolted * bend + opened * r) / (bend + r)``, or a
    straight line where open breaks its only path. Shape of ``ends``: (families, 3, r). Live
    readings are as they were sampled.
    """

    def __init__(self, ends: Floats, sampled: Sampled | None = None) -> None:
        self.sampled = sampled
        self.bolted, middle, self.opened = (ends[:, i, :] for i in range(3))
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            rise = middle - self.bolted
            self.straight = ~np.isfinite(self.opened)
            self.slope = rise / MIDDLE_OHM
            # Never negative but by rounding, where the ohms do not matter to a reading.
            self.bend = np.maximum(MIDDLE_OHM * (self.opened - middle) / rise, 0.0)
        self.unmoved = (rise == 0) | ~np.isfinite(self.bolted)

    def only(self, families: Indices) -> "Curves":
        """Return those of some families."""
        some = copy(self)
        for name in _OF_CURVES:
            setattr(some, name, getattr(self, name)[families])
        some.sampled = self.sampled and self.sampled.only(families)
        return some

    def of_one(self, families: Indices, readings: Indices) -> "Curves":
        """Return those of one reading for each of some families; live ones tell no ohms."""
        some = copy(self)
        for name in _OF_CURVES:
            setattr(some, name, getattr(self, name)[families, readings][:, None])
        if self.sampled is not None:
            some.unmoved = some.unmoved | self.sampled.live[readings][:, None]
            some.sampled = None
        return some

    def at(self, r_ohm: Floats) -> Floats:
        """Return readings at ohms of shape (families, k), in shape (families, k, r)."""
        r = r_ohm[..., None]
        bolted, opened, bend = (a[:, None, :] for a in (self.bolted, self.opened, self.bend))
        with np.errstate(invalid="ignore", over="ignore"):
            curved = (bolted * bend + opened * r) / (bend + r)
            straight = bolted + self.slope[:, None, :] * r
        read = np.where(self.straight[:, None, :], straight, curved)
        read = np.where(self.unmoved[:, None, :], bolted, read)
        if self.sampled is not None:
            read[..., self.sampled.live] = self.sampled.at(np.log(r_ohm))
        return np.asarray(read, dtype=np.float64)

    def ohms_for(self, value: Floats) -> Floats:
        """Return the ohms that would make each reading as read, (families, r); nan for none."""
        with np.errstate(invalid="ignore", divide="ignore"):
            curved = self.bend * (value - self.bolted) / (self.opened - value)
            straight = (value - self.bolted) / self.slope
        r_ohm = np.where(self.straight, straight, curved)
        possible = ~self.unmoved & np.isfinite(r_ohm) & (r_ohm > 0)
        if self.sampled is not None:
            possible[:, self.sampled.live] = False
        return np.where(possible, r_ohm, np.nan)


_Profile = tuple[Floats, Floats, Curves]


def _rows(x: Floats, scores: Floats) -> Indices:
    """Return the points worth an exact look, at equal steps of the likelihood's mass.

    The likelihood is taken to half its power: the full one may be shifted against the quick one.
    """
    mass = np.cumsum(np.exp((scores - scores.max()) / 2) * cells(x))
    steps = np.linspace(_EDGE, 1 - _EDGE, _ROWS) * mass[-1]
    best = scores.argmax()
    about = np.clip([best - 1, best, best + 1], 0, len(x) - 1)
    return np.unique([*np.searchsorted(mass, steps), *about])


def cells(x: Floats) -> Floats:
    """Return the width that each point of a rising grid stands for."""
    edges = np.concatenate([x[:1], (x[1:] + x[:-1]) / 2, x[-1:]])
    # Two points may be one but for rounding: no width, but one that has a logarithm.
    return np.asarray(np.maximum(np.diff(edges), np.finfo(float).tiny))
