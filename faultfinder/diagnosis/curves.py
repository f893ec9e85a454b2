"""Readings as functions of the ohms of one branch.

In the ohms of one branch every reading of a linear network is a ratio of two straight lines, so
that three exact solutions (bolted, open, and one between) give it for all ohms.

The size of a phasor is no such ratio, and a test that compares two voltages even less. So live
readings are worked out at ohms all over the range, and what lies between is taken from a straight
line over the logarithm.
"""

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import compress
from math import inf

import numpy as np

from faultfinder.diagnosis.catalogue import Way
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Flags, Floats, Indices

MIDDLE_OHM = 5.0  # of the order of the terminators, where the curves bend
ENDS_OHM = (0.0, MIDDLE_OHM, inf)
"""Ohms from which a curve of readings follows for all."""
_STEP = 0.4  # of ln ohms, between neighbours of a grid


def ohms_grid(ohms: Floats) -> Floats:
    """Return ln ohms all over ranges (n, 2), in equal steps, (n, k); the last comes several times.

    Of the widest range there are k, of the others fewer.
    """
    low, high = np.log(ohms).T[..., None]
    count = np.maximum(3, np.round((high - low) / _STEP).astype(int) + 1)
    steps = np.minimum(np.arange(count.max(initial=3)), count - 1) / (count - 1)
    return np.asarray(low + (high - low) * steps)


def sampled_over(bench: Bench, ways: Sequence[Way], ohms: Floats) -> "Sampled":
    """Return what live readings are at ohms all over ranges, (n, 2), in each of n families."""
    x = ohms_grid(ohms)
    new = np.diff(x, axis=1, prepend=-inf) > 0  # ohms that come several times are read once
    alone = replace(bench, spots=tuple(compress(bench.spots, bench.live.tolist())))
    row, column = np.nonzero(new)
    both = zip(row.tolist(), np.exp(x[row, column]).tolist(), strict=True)
    read = alone.read([ways[number].edit(r_ohm) for number, r_ohm in both])
    return Sampled(bench.live, x, read[np.cumsum(new).reshape(x.shape) - 1])


@dataclass(frozen=True, slots=True)
class Sampled:
    """Live readings at ln ohms ``x``, (families, n) of ``ohms_grid``: (families, n, live)."""

    live: Flags
    x: Floats
    read: Floats

    def at(self, x: Floats) -> Floats:
        """Return them at ln ohms of shape (families, k), in shape (families, k, live)."""
        start, step = self.x[:, :1], np.diff(self.x[:, :2], axis=1)
        # One of no width has no ohms: it reads the same wherever it is looked at.
        place = (x - start) / np.where(step > 0, step, 1.0)
        after = np.clip(np.ceil(place).astype(int), 1, self.x.shape[1] - 1)
        share = np.minimum(place - (after - 1), 1.0)  # no rounding past the last
        family = np.arange(len(self.read))[:, None]
        one, two = self.read[family, after - 1], self.read[family, after]
        with np.errstate(invalid="ignore"):
            between = one + (two - one) * share[..., None]
        return np.where(np.isfinite(one) & np.isfinite(two), between, np.inf)

    def only(self, families: Indices) -> "Sampled":
        """Return those of some families."""
        return Sampled(self.live, self.x[families], self.read[families])


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
        some.__dict__.pop("_ratio", None)
        some.sampled = self.sampled and self.sampled.only(families)
        return some

    def read_at(self, readings: Indices) -> "Curves":
        """Return them with each reading taken where another is, (r,); of dead readings."""
        if self.sampled is not None:
            raise ValueError("live readings are taken where they are")
        some = copy(self)
        for name in _OF_CURVES:
            setattr(some, name, getattr(self, name)[:, readings])
        some.__dict__.pop("_ratio", None)
        return some

    def at(self, r_ohm: Floats) -> Floats:
        """Return readings at ohms of shape (families, k), in shape (families, k, r)."""
        r = r_ohm[..., None]
        at_nil, per_ohm, bend, share = (a[:, None, :] for a in self._ratio)
        with np.errstate(invalid="ignore", over="ignore"):
            read = (at_nil + per_ohm * r) / (bend + share * r)
        if self.sampled is not None:
            read[..., self.sampled.live] = self.sampled.at(np.log(r_ohm))
        return np.asarray(read)

    def each_at(self, families: Indices, r_ohm: Floats) -> Floats:
        """Return readings of some families at one ohms each, (m,), in shape (m, r)."""
        r = r_ohm[:, None]
        at_nil, per_ohm, bend, share = self._ratio
        with np.errstate(invalid="ignore", over="ignore"):
            read = at_nil[families] + per_ohm[families] * r
            read /= bend[families] + share[families] * r
        if self.sampled is not None:
            live = self.sampled.only(families).at(np.log(r_ohm)[:, None])
            read[:, self.sampled.live] = live[:, 0]
        return np.asarray(read)

    def of(self, family: int, r_ohm: Floats) -> Floats:
        """Return readings of one family at ohms (k,), in shape (k, r)."""
        return self.each_at(np.full(len(r_ohm), family), r_ohm)

    def one_at(self, families: Indices, readings: Indices, r_ohm: Floats) -> Floats:
        """Return one dead reading of each of some families at its ohms, all of shape (m,)."""
        at_nil, per_ohm, bend, share = (part[families, readings] for part in self._ratio)
        with np.errstate(invalid="ignore", over="ignore"):
            return np.asarray((at_nil + per_ohm * r_ohm) / (bend + share * r_ohm))

    def one_ohms_for(self, families: Indices, readings: Indices, value: Floats) -> Floats:
        """Return the ohms that would make one dead reading of each of some families a value.

        All of shape (m,); nan for none.
        """
        at_nil, per_ohm, bend, share = (part[families, readings] for part in self._ratio)
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            r_ohm = (value * bend - at_nil) / (per_ohm - value * share)
        return np.where(np.isfinite(r_ohm) & (r_ohm > 0), r_ohm, np.nan)

    @cached_property
    def _ratio(self) -> tuple[Floats, Floats, Floats, Floats]:
        """What a reading is the ratio of: two straight lines, at nil and per ohm."""
        curved = ~(self.straight | self.unmoved)
        with np.errstate(invalid="ignore", over="ignore"):
            at_nil = np.where(curved, self.bolted * self.bend, self.bolted)
        per_ohm = np.where(curved, self.opened, np.where(self.unmoved, 0.0, self.slope))
        return at_nil, per_ohm, np.where(curved, self.bend, 1.0), curved * 1.0

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


def curves_of(bench: Bench, ways: Sequence[Way]) -> Curves:
    """Return what dead readings are at any ohms of some ways, from what they are at three."""
    ends = bench.glimpse([way.edit(r_ohm) for way in ways for r_ohm in ENDS_OHM])
    return Curves(ends.reshape(len(ways), len(ENDS_OHM), -1))


def cells(x: Floats) -> Floats:
    """Return the width that each point of rising grids (..., k) stands for."""
    edges = np.concatenate([x[..., :1], (x[..., 1:] + x[..., :-1]) / 2, x[..., -1:]], axis=-1)
    # Two points may be one but for rounding: no width, but one that has a logarithm.
    return np.asarray(np.maximum(np.diff(edges), np.finfo(float).tiny))
