"""Where along a run a fault lies: a spot that a rule file lists stands for the stretch about it.

Readings may tell places along a long run apart that lie between two spots, and a likelihood that
rises all along a stretch is more than it is in the middle. So where it matters a spot is made
three, by Gauss's rule: what is a polynomial of the fifth degree along the stretch comes out right.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from math import exp, inf, sinh, sqrt

from faultfinder.diagnosis.catalogue import BuiltWay, Hypothesis, Way
from faultfinder.diagnosis.curves import curves_of
from faultfinder.diagnosis.screen import Candidate
from faultfinder.evidence.bench import Bench

_NODES = tuple(zip((-sqrt(0.6), 0.0, sqrt(0.6)), (5 / 18, 8 / 18, 5 / 18), strict=True))
"""Gauss's three places from the middle of a stretch, in halves of it, and shares of it (Handbook of
Mathematical Functions, table 25.4, from memory; what they are for is tested)."""
_MATTERS = 0.002  # of the leader's probability, that the middle alone would be off by
_STEEPEST_NATS = 12.0  # from spot to spot; what was not looked at is taken to be so far off


def stretched(
    bench: Bench,
    hypotheses: Sequence[Hypothesis],
    candidates: Sequence[Candidate],
    mass: Sequence[float],
) -> tuple[list[Candidate], list[Candidate], list[int]]:
    """Return candidates with shares of their stretches, and those to be looked at beside them.

    The third is whose stretch each of the second has. ``mass`` is the log of each one's likelihood
    and prior at its highest; stretches are taken in parts where their steepness can matter.
    """
    spots_of = {
        index: sorted(a for way in hypotheses[index].ways if (a := _along(way)) is not None)
        for index in {candidate.index for candidate in candidates}
    }
    mass_at = {(c.index, _along(c.way)): own for c, own in zip(candidates, mass, strict=True)}
    kept, beside, whose = list(candidates), [], []
    for number, (one, own) in enumerate(zip(candidates, mass, strict=True)):
        way = one.way
        if not isinstance(way, BuiltWay) or way.along is None:
            continue
        spots = spots_of[one.index]
        place = spots.index(way.along)
        near = [*spots[max(0, place - 1) : place], *spots[place + 1 : place + 2]]
        steps = [abs(own - mass_at.get((one.index, spot), -inf)) for spot in near]
        if exp(own - max(mass)) * _off_by(max(steps, default=0.0)) < _MATTERS:
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


def _along(way: Way | None) -> float | None:
    return way.along if isinstance(way, BuiltWay) else None


def _off_by(nats: float) -> float:
    """Return by what share a stretch is more than its middle says, that rises by so much. [nats]"""
    half = min(nats, _STEEPEST_NATS) / 2
    return sinh(half) / half - 1 if half > 0 else 0.0


def _with_reads(bench: Bench, candidates: Sequence[Candidate]) -> list[Candidate]:
    """Return candidates with what they read at any ohms, where that is not to be worked out."""
    if bench.live.any() or not candidates:
        return [replace(one, reads=None) for one in candidates]
    curves = curves_of(bench, [one.way for one in candidates if one.way])
    return [replace(one, reads=partial(curves.of, n)) for n, one in enumerate(candidates)]
