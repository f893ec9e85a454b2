"""A quick look at every hypothesis: which can have made the readings, and with how many ohms.

In the ohms of one branch every reading of a linear network is a ratio of two straight lines, so
that three exact solutions (bolted, open, and one between) give it for all ohms. What predicts best,
each reading by itself (``quick.py``), says how readings lean; with shared errors settled so
(``settled.py``) every hypothesis is then scored at ohms all over its range, and more closely about
its best. Nothing here is reported; it only says what to work out, and what the rest comes to.

The size of a phasor is no such ratio, and a test that compares two voltages even less. So live
readings are worked out at ohms all over the range, and what lies between is taken from a straight
line over the logarithm.
"""

from dataclasses import dataclass, replace
from functools import partial
from math import exp, inf

import numpy as np

from faultfinder.diagnosis.catalogue import Way
from faultfinder.diagnosis.families import Families
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.quick import Quick
from faultfinder.diagnosis.settled import settled
from faultfinder.diagnosis.spans import Leader, Reads, Span
from faultfinder.evidence.lean import Floats

BEHIND_NATS = 16.0
"""So far behind, weighing more exactly cannot make up for it."""
_MATTERS_NATS = 14.0  # what is so far behind holds less than a millionth of the leader's share
_NEAR_NATS = 8.0  # what is farther behind is hardly ever listed: a few of its ohms will do
_SCATTER_NATS = 10.0  # less than one in 20,000: a scatter adds no more to any hypothesis
_MOST_KEPT = 60  # candidates that get shared errors of their own
_UNSPOKEN_NATS = 0.5  # a rough score so far below the sound circuit's is below it on a close look
_PEAK_NATS = 0.3  # above the sound circuit's, so that there is a top to look at closely
_LEADERS = 3  # hypotheses that tell how readings lean


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
    log : ndarray, shape (k,)
        About what the log likelihood is at each.
    reads : callable or None
        What is read at any ohms, (k,) to (k, r), to six figures; None where nothing tells. [ohm]
    """

    index: int
    way: Way | None
    r_ohm: Floats
    log: Floats
    reads: Reads | None = None


@dataclass(frozen=True, slots=True)
class Screened:
    """What a quick look leaves.

    Attributes
    ----------
    candidates : list of Candidate
        Worth an exact look, in the order of the hypotheses; the sound circuit among them.
    log_unseen : float
        Logarithm of the prior of faults that these readings do not speak for, each times its
        likelihood over the sound circuit's.
    log_dropped : float
        Logarithm of what is left out of those they do speak for, over what the leader holds.
    scatters : tuple of float
        Those of the jury that can matter to any.
    """

    candidates: list[Candidate]
    log_unseen: float
    log_dropped: float
    scatters: tuple[float, ...]


def screen(jury: Jury, families: Families) -> Screened:
    """Return the candidates worth an exact look, and the weight of what is left out."""
    scores = _scored(jury, families)
    sound = float(scores.average[families.sound])
    mass = scores.average + families.log_prior
    whole = np.full(families.hypotheses, -inf)
    np.logaddexp.at(whole, families.index, scores.average + families.log_weight)
    spoken_for = (whole >= sound - _UNSPOKEN_NATS)[families.index]
    spoken_for[families.sound] = True
    enough = np.sort(mass[spoken_for])[::-1][:_MOST_KEPT][-1]
    kept = spoken_for & (mass >= max(mass.max() - _MATTERS_NATS, enough))
    kept[families.sound] = True
    near = mass > mass.max() - _NEAR_NATS
    return Screened(
        [
            _candidate(families, scores, number, closely=bool(near[number]))
            for number in np.flatnonzero(kept).tolist()
        ],
        float(np.logaddexp.reduce(mass[~spoken_for] - sound, initial=-inf)),
        float(np.logaddexp.reduce(mass[spoken_for & ~kept] - mass.max(), initial=-inf)),
        scores.scatters,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Scores:
    """Log likelihoods of all families averaged over their ohms, (f,), and over these.

    Also the scatters that can matter to any.
    """

    average: Floats
    span: Span
    scatters: tuple[float, ...]


def _scored(jury: Jury, families: Families) -> _Scores:
    """Return every family scored, as far as it may come near the leader.

    The sound circuit always is; what is too far behind has minus infinity.
    """
    log_prior, fixed, ranged = families.log_prior, families.fixed, families.ranged
    span = Span(families.ohms, families.curves, jury.observed.value)
    leaders = _leaders(Quick(jury), families, span)
    lean = families.bench.glimpse_lean(
        [families.edit(leader.family, exp(leader.x)) for leader in leaders]
    )
    bounds = settled(jury, lean.read, jury.spread(lean))
    scores = bounds.at_suiting()
    tops = scores.about(lean.read)
    leader = float((tops + log_prior[[leader.family for leader in leaders]]).max())
    scatters = bounds.that_matter(leader - float(log_prior.max()), _SCATTER_NATS)
    average = np.full(len(log_prior), -inf)
    enough = leader - BEHIND_NATS - log_prior
    enough[families.sound] = -inf
    average[fixed] = scores.about(families.shown, enough[fixed])
    leader = max(leader, float((average + log_prior).max()))
    sound = float(average[families.sound])
    own = log_prior[ranged]
    plain = float(scores.plainly(jury.sound.read)[0])
    span.score(scores, leader - BEHIND_NATS - own, plain)
    leader = max(leader, float((span.log.max(axis=1) + own).max(initial=-inf)))
    span.look_closer(scores, np.maximum(leader - BEHIND_NATS - own, sound + _PEAK_NATS))
    average[ranged] = span.averages()
    return _Scores(average, span, scatters)


def _candidate(families: Families, scores: _Scores, number: int, *, closely: bool) -> Candidate:
    """Return one family with the ohms that are worth an exact look."""
    index, way = int(families.index[number]), families.ways[number]
    place = int(np.searchsorted(families.ranged, number))
    if place < len(families.ranged) and families.ranged[place] == number:
        return Candidate(index, way, *scores.span.worth_a_look(place, closely=closely))
    read = families.shown[np.searchsorted(families.fixed, number)]
    log = scores.average[number : number + 1]
    return Candidate(index, way, np.zeros(1), log, partial(_whatever, read))


def _whatever(read: Floats, r_ohm: Floats) -> Floats:
    """Return what is read (r,) whatever the ohms (k,) are, (k, r)."""
    return np.broadcast_to(read, (len(r_ohm), len(read)))


def _leaders(quick: Quick, families: Families, span: Span) -> list[Leader]:
    """Return the families that do best reading by reading: as they lean, so do readings."""
    fixed, ranged = families.fixed, families.ranged
    scores = quick.scores(families.shown) + families.log_prior[fixed]
    best = np.argsort(-scores, kind="stable")[:_LEADERS].tolist()
    found = [Leader(int(fixed[i]), float(scores[i]), 0.0) for i in best]
    over = span.leaders(quick, families.log_prior[ranged], _LEADERS)
    found += [replace(one, family=int(ranged[one.family])) for one in over]
    return sorted(found, key=lambda leader: -leader.score)[:_LEADERS]
