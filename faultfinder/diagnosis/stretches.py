"""Where along a run a fault lies: a spot that a rule file lists stands for the stretch about it.

Readings may tell places along a long run apart that lie between two spots, and a likelihood that
rises all along a stretch is more than it is in the middle. So where it matters a spot is made
three, by Gauss's rule: what is a polynomial of the fifth degree along the stretch comes out right.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from math import inf, sqrt

import numpy as np

from faultfinder.diagnosis.catalogue import BuiltWay, Hypothesis
from faultfinder.diagnosis.curves import ENDS_OHM, Curves
from faultfinder.diagnosis.screen import Candidate
from faultfinder.evidence.bench import Bench

_NODES = tuple(zip((-sqrt(0.6), 0.0, sqrt(0.6)), (5 / 18, 8 / 18, 5 / 18), strict=True))
"""Gauss's three places from the middle of a stretch, in halves of it, and shares of it (Handbook of
Mathematical Functions, table 25.4, from memory; what they are for is tested)."""
_LEVEL_NATS = 0.3  # between neighbours: a hundredth of the stretch's likelihood at most


def stretched(
    bench: Bench,
    hypotheses: Sequence[Hypothesis],
    candidates: Sequence[Candidate],
    mass: Sequence[float],
    least: float,
) -> tuple[list[Candidate], list[Candidate], list[int]]:
    """Return candidates with shares of their stretches, and those to be looked at beside them.

    The third is whose stretch each of the second has. Only stretches are taken in parts whose
    ``mass``, the log of likelihood and prior at its highest, is above ``least``, and not level.
    """
    mass_at = {
        (one.index, way.along): own
        for one, own in zip(candidates, mass, strict=True)
        if isinstance(way := one.way, BuiltWay)
    }
    kept = list(candidates)
    beside: list[Candidate] = []
    whose: list[int] = []
    for number, (one, own) in enumerate(zip(candidates, mass, strict=True)):
        way = one.way
        if own <= least or not isinstance(way, BuiltWay) or way.along is None:
            continue
        spots = sorted(
            other.along
            for other in hypotheses[one.index].ways
            if isinstance(other, BuiltWay) and other.along is not None
        )
        place = spots.index(way.along)
        near = [*spots[max(0, place - 1) : place], *spots[place + 1 : place + 2]]
        if all(abs(own - mass_at.get((one.index, spot), -inf)) < _LEVEL_NATS for spot in near):
            continue
        half = min([way.along, 1 - way.along, *(abs(spot - way.along) / 2 for spot in near)])
        for offset, share in _NODES:
            part = way.placed(way.along + offset * half, way.weight * share)
            if offset:
                beside.append(replace(one, way=part))
                whose.append(number)
            else:
                kept[number] = replace(one, way=part)
    return kept, _with_reads(bench, beside), whose


def _with_reads(bench: Bench, candidates: Sequence[Candidate]) -> list[Candidate]:
    """Return candidates with what they read at any ohms, where that is not to be worked out."""
    if bench.live.any() or not candidates:
        return [replace(one, reads=None) for one in candidates]
    edits = [one.way.edit(r_ohm) for one in candidates if one.way for r_ohm in ENDS_OHM]
    ends = bench.glimpse(edits).reshape(len(candidates), len(ENDS_OHM), -1)
    curves = Curves(ends)
    return [replace(one, reads=partial(curves.of, n)) for n, one in enumerate(candidates)]
