"""A quick look at every hypothesis: which can have made the readings, and with how many ohms.

In the ohms of one branch every reading of a linear network is a ratio of two straight lines, so
that three exact solutions (bolted, open, and one between) give it for all ohms. Readings are scored
one by one, shared errors taken as if each reading had its own: no linear algebra, and seldom harder
on a hypothesis than the full likelihood. Nothing here is reported; it only says what to work out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from faultfinder.diagnosis.catalogue import BuiltWay, Hypothesis, no_edit
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.observed import Floats

_MIDDLE_OHM = 5.0  # of the order of the terminators, where the curves bend
_STEP = 0.4  # of ln ohms, between neighbours of the first grid
_ZOOMS = (_STEP, _STEP / 8)  # half widths of the grids about the best so far
_ZOOM_POINTS = 17
_BEHIND_NATS = 25.0  # so far behind, shared errors cannot make up for it
_TAIL_NATS = 8.0  # the part of a likelihood in its ohms that is worth integrating
_ROWS = 9  # ohms that are then predicted exactly


@dataclass(frozen=True, slots=True)
class Candidate:
    """One way of one hypothesis that may have made the readings.

    Attributes
    ----------
    index : int
        Which hypothesis.
    way : BuiltWay or None
        How it is built; None for the sound circuit.
    r_ohm : ndarray, shape (k,)
        Ohms worth predicting exactly, rising; a single zero for a way without ohms. [ohm]
    log_weight : ndarray, shape (k,)
        Logarithm of each one's share of the prior, the way's own share included.
    best : int
        Which of the ohms looks best.
    """

    index: int
    way: BuiltWay | None
    r_ohm: Floats
    log_weight: Floats
    best: int


def screen(bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis]) -> list[Candidate]:
    """Return the candidates worth an exact look, in the order of the hypotheses."""
    families = [
        (index, way)
        for index, hypothesis in enumerate(hypotheses)
        for way in hypothesis.ways or (None,)
    ]
    edits = []
    first_row = []
    for index, way in families:
        first_row.append(len(edits))
        if way is None:
            edits.append(no_edit)
        elif hypotheses[index].ohms is None:
            edits.append(way.edit())
        else:
            edits += [way.edit(r_ohm) for r_ohm in (0.0, _MIDDLE_OHM, float("inf"))]
    read = bench.read(edits)
    scored: list[tuple[float, Candidate]] = []
    for (index, way), row in zip(families, first_row, strict=True):
        hypothesis = hypotheses[index]
        share = log(way.weight) if way else 0.0
        if way is None or hypothesis.ohms is None:
            score = float(jury.glance(read[row]))
            candidate = Candidate(index, way, np.zeros(1), np.array([share]), 0)
        else:
            x, scores = _scores_over_ohms(jury, read[row : row + 3], hypothesis.ohms)
            score = float(scores.max())
            candidate = _worth_integrating(index, way, x, scores, hypothesis.ohms, share)
        scored.append((score + share + hypothesis.log_prior, candidate))
    leader = max(score for score, _ in scored)
    return [candidate for score, candidate in scored if score > leader - _BEHIND_NATS]


def _scores_over_ohms(
    jury: Jury, ends: Floats, ohms: tuple[float, float]
) -> tuple[Floats, Floats]:
    """Return ln ohms, rising, and the quick log likelihood at each."""
    low, high = log(ohms[0]), log(ohms[1])
    x = np.linspace(low, high, max(3, round((high - low) / _STEP) + 1))
    scores = jury.glance(_between(ends, np.exp(x)))
    for width in _ZOOMS:
        peak = x[scores.argmax()]
        finer = np.linspace(max(low, peak - width), min(high, peak + width), _ZOOM_POINTS)
        finer = np.setdiff1d(finer, x)
        x = np.concatenate([x, finer])
        scores = np.concatenate([scores, jury.glance(_between(ends, np.exp(finer)))])
        order = x.argsort()
        x, scores = x[order], scores[order]
    return x, scores


def _between(ends: Floats, r_ohm: Floats) -> Floats:
    """Return readings at any ohms, shape (k, r), from those bolted, in the middle and open."""
    bolted, middle, opened = ends
    r = r_ohm[:, None]
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        rise = middle - bolted
        bend = np.where(rise == 0, np.inf, _MIDDLE_OHM * (opened - middle) / rise)
        curved = (bolted * bend + opened * r) / (bend + r)
        straight = bolted + rise / _MIDDLE_OHM * r
    out = np.where(np.isfinite(opened), curved, straight)
    return np.where((rise == 0) | ~np.isfinite(bolted), bolted, out)


def _worth_integrating(
    index: int, way: BuiltWay, x: Floats, scores: Floats, ohms: tuple[float, float], share: float
) -> Candidate:
    """Return the ohms that carry the likelihood, with each one's share of the flat prior in ln."""
    (carrying,) = np.nonzero(scores > scores.max() - _TAIL_NATS)
    if len(carrying) > _ROWS:
        spots = np.linspace(x[carrying[0]], x[carrying[-1]], _ROWS)
        chosen = {int(np.abs(x - spot).argmin()) for spot in spots} | {int(scores.argmax())}
        carrying = np.array(sorted(chosen))
    x = x[carrying]
    edges = np.concatenate([x[:1], (x[1:] + x[:-1]) / 2, x[-1:]])
    widths = np.maximum(np.diff(edges), 1e-9)
    if len(x) == 1:  # narrower than the finest grid
        widths = np.array([2 * _ZOOMS[-1] / (_ZOOM_POINTS - 1)])
    log_weight = share + np.log(widths / log(ohms[1] / ohms[0]))
    return Candidate(index, way, np.exp(x), log_weight, int(scores[carrying].argmax()))


