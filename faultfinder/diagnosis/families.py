"""Every way of every hypothesis, with what would be read in it, whatever was."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import compress
from math import log

import numpy as np

from faultfinder.diagnosis.catalogue import BuiltWay, Hypothesis, Way, no_edit
from faultfinder.diagnosis.curves import ENDS_OHM, Curves, sampled_over
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Floats, Indices
from faultfinder.network.branch import MakeEdit

_COARSE = 8  # ohms over the whole range


@dataclass(frozen=True, eq=False)
class Families:
    """Every way of every hypothesis, f of them.

    Attributes
    ----------
    bench : Bench
        What is read, r readings.
    hypotheses : int
        How many hypotheses they are of.
    index : ndarray of int, shape (f,)
        Which hypothesis each is of.
    ways : list of (Way or None)
        How each is built; None for the sound circuit.
    log_weight, log_prior : ndarray, shape (f,)
        Of its share among the ways, and of the hypothesis' prior too.
    sound : int
        Which is the sound circuit.
    fixed : ndarray of int, shape (n,)
        Those without ohms.
    shown : ndarray, shape (n, r)
        What they read, to six figures.
    ranged : ndarray of int, shape (m,)
        Those with ohms.
    ohms : ndarray, shape (m, 2)
        Their ranges. [ohm]
    curves : Curves
        What they read over them.
    """

    bench: Bench
    hypotheses: int
    index: Indices
    ways: list[Way | None]
    log_weight: Floats
    log_prior: Floats
    sound: int
    fixed: Indices
    shown: Floats
    ranged: Indices
    ohms: Floats
    curves: Curves

    def edit(self, family: int, r_ohm: float) -> MakeEdit:
        """Return the edit of one of them, with these ohms where it has any. [ohm]"""
        way = self.ways[family]
        return way.edit(r_ohm) if way else no_edit

    @cached_property
    def faulty(self) -> tuple[Floats, Floats]:
        """What is read with each fault by itself: without ohms (i, r), and at some all over."""
        is_fault = np.array([isinstance(way, BuiltWay) for way in self.ways])
        some = np.flatnonzero(is_fault[self.ranged])
        low, high = self.ohms[some].T
        over = self.curves.only(some).at(np.geomspace(low, high, _COARSE, axis=1))
        return self.shown[is_fault[self.fixed]], over.reshape(-1, self.shown.shape[1])

    def taken_at(self, bench: Bench, readings: Indices, hypotheses: int) -> "Families":
        """Return what the first so many hypotheses read with readings taken where others are.

        ``bench`` is what is read then; ``readings`` are the numbers of its readings here.
        """
        kept = self.index < hypotheses
        number = np.cumsum(kept) - 1
        fixed, ranged = kept[self.fixed], kept[self.ranged]
        return Families(
            bench=bench,
            hypotheses=hypotheses,
            index=self.index[kept],
            ways=list(compress(self.ways, kept.tolist())),
            log_weight=self.log_weight[kept],
            log_prior=self.log_prior[kept],
            sound=int(number[self.sound]),
            fixed=number[self.fixed[fixed]],
            shown=self.shown[fixed][:, readings],
            ranged=number[self.ranged[ranged]],
            ohms=self.ohms[ranged],
            curves=self.curves.only(np.flatnonzero(ranged)).read_at(readings),
        )


def families(bench: Bench, hypotheses: Sequence[Hypothesis]) -> Families:
    """Return every way of some hypotheses, the sound circuit among them, read on a bench."""
    both = [(i, way) for i, one in enumerate(hypotheses) for way in one.ways or (None,)]
    edits: list[MakeEdit] = []
    fixed: list[int] = []
    fixed_rows: list[int] = []
    ranged: list[int] = []
    ranges: list[tuple[float, float]] = []
    ranged_rows: list[int] = []
    for number, (index, way) in enumerate(both):
        ohms = hypotheses[index].ohms
        if way is None or ohms is None:
            fixed.append(number)
            fixed_rows.append(len(edits))
            edits.append(way.edit() if way else no_edit)
        else:
            ranged.append(number)
            ranges.append(ohms)
            ranged_rows.append(len(edits))
            edits += [way.edit(r_ohm) for r_ohm in ENDS_OHM]
    read = bench.glimpse(edits)
    log_weight = np.array([log(way.weight) if way else 0.0 for _, way in both])
    ohms_of = np.array(ranges).reshape(-1, 2)
    sampled = None
    if bench.live.any():
        sampled = sampled_over(bench, [way for n in ranged if (way := both[n][1])], ohms_of)
    ends = read[np.array(ranged_rows, dtype=int)[:, None] + np.arange(len(ENDS_OHM))]
    return Families(
        bench=bench,
        hypotheses=len(hypotheses),
        index=np.array([index for index, _ in both]),
        ways=[way for _, way in both],
        log_weight=log_weight,
        log_prior=log_weight + np.array([hypotheses[index].log_prior for index, _ in both]),
        sound=next(number for number, (_, way) in enumerate(both) if way is None),
        fixed=np.array(fixed),
        shown=read[fixed_rows],
        ranged=np.array(ranged, dtype=int),
        ohms=ohms_of,
        curves=Curves(ends, sampled),
    )
