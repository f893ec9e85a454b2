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

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf, log

import numpy as np

from faultfinder.diagnosis.catalogue import Hypothesis, Way, no_edit
from faultfinder.diagnosis.curves import MIDDLE_OHM, Curves, Indices, sampled_over
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.quick import Quick
from faultfinder.diagnosis.settled import settled
from faultfinder.diagnosis.spans import Leader, Span
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Flags, Floats
from faultfinder.network.branch import MakeEdit

_BEHIND_NATS = 20.0  # so far behind, weighing more exactly cannot make up for it
_MATTERS_NATS = 14.0  # what is so far behind holds less than a millionth of the leader's share
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
    """

    index: int
    way: Way | None
    r_ohm: Floats
    log: Floats


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
    """

    candidates: list[Candidate]
    log_unseen: float
    log_dropped: float


def screen(bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis]) -> Screened:
    """Return the candidates worth an exact look, and the weight of what is left out."""
    families = _Families.of(hypotheses)
    read = bench.glimpse(families.edits)
    fixed = np.flatnonzero(~families.open_ended)
    shown = read[families.row[fixed]]
    spans = [_span(bench, jury, families, those, read) for those in families.by_range()]
    leaders = _leaders(Quick(jury), families, fixed, shown, spans)
    lean = bench.lean([families.edit(leader.family, exp(leader.x)) for leader in leaders])
    settled_ = settled(jury, lean.read, jury.spread(lean)).at_suiting()

    # Every family at its best, and averaged over its ohms, as logarithms.
    best = np.full(len(families.index), -inf)
    average = best.copy()
    tops = settled_.about(lean.read) + families.log_prior[[one.family for one in leaders]]
    leader = float(tops.max())
    enough = leader - _BEHIND_NATS - families.log_prior
    enough[families.sound] = -inf
    best[fixed] = average[fixed] = settled_.about(shown, enough[fixed])
    leader = max(leader, float((best + families.log_prior).max()))
    sound = float(average[families.sound])
    for span in spans:
        span.score(settled_, leader - _BEHIND_NATS - families.log_prior[span.those], sound)
        best[span.those] = span.log.max(axis=1)
        leader = max(leader, float((best + families.log_prior)[span.those].max()))
    for span in spans:
        enough = leader - _BEHIND_NATS - families.log_prior[span.those]
        span.look_closer(settled_, np.maximum(enough, sound + _PEAK_NATS))
        average[span.those] = span.averages()

    mass = average + families.log_prior
    whole = np.full(len(hypotheses), -inf)
    np.logaddexp.at(whole, families.index, average + families.log_weight)
    spoken_for = (whole >= sound - _UNSPOKEN_NATS)[families.index]
    spoken_for[families.sound] = True
    enough = np.sort(mass[spoken_for])[::-1][:_MOST_KEPT][-1]
    kept = spoken_for & (mass >= max(mass.max() - _MATTERS_NATS, enough))
    kept[families.sound] = True
    unseen = mass[~spoken_for] - sound
    dropped = mass[spoken_for & ~kept] - mass.max()
    candidates = {
        number: Candidate(
            int(families.index[number]),
            families.ways[number],
            np.zeros(1),
            best[number : number + 1],
        )
        for number in fixed[kept[fixed]].tolist()
    }
    for span in spans:
        for place in np.flatnonzero(kept[span.those]).tolist():
            number = int(span.those[place])
            index, way = int(families.index[number]), families.ways[number]
            candidates[number] = Candidate(index, way, *span.worth_a_look(place))
    return Screened(
        [candidates[number] for number in sorted(candidates)],
        float(np.logaddexp.reduce(unseen)) if len(unseen) else -inf,
        float(np.logaddexp.reduce(dropped)) if len(dropped) else -inf,
    )


@dataclass(frozen=True, slots=True)
class _Families:
    """Every way of every hypothesis.

    Attributes
    ----------
    index : ndarray of int, shape (f,)
        Which hypothesis each is of.
    ways : list of (Way or None)
        How each is built; None for the sound circuit.
    ohms : list of ((float, float) or None)
        Range of the ohms of each, where it has any. [ohm]
    log_weight, log_prior : ndarray, shape (f,)
        Of its share among the ways, and of the hypothesis' prior too.
    edits : list
        What is to be read: one edit for each, or where it has ohms bolted, in the middle and open.
    row : ndarray of int, shape (f,)
        Where its edits begin.
    sound : int
        Which is the sound circuit.
    """

    index: Indices
    ways: list[Way | None]
    ohms: list[tuple[float, float] | None]
    log_weight: Floats
    log_prior: Floats
    edits: list[MakeEdit]
    row: Indices
    sound: int

    @staticmethod
    def of(hypotheses: Sequence[Hypothesis]) -> "_Families":
        both = [(i, way) for i, one in enumerate(hypotheses) for way in one.ways or (None,)]
        edits: list[MakeEdit] = []
        row = []
        for index, way in both:
            row.append(len(edits))
            if way is None:
                edits.append(no_edit)
            elif hypotheses[index].ohms is None:
                edits.append(way.edit())
            else:
                edits += [way.edit(r_ohm) for r_ohm in (0.0, MIDDLE_OHM, inf)]
        log_weight = np.array([log(way.weight) if way else 0.0 for _, way in both])
        return _Families(
            np.array([index for index, _ in both]),
            [way for _, way in both],
            [hypotheses[index].ohms for index, _ in both],
            log_weight,
            log_weight + np.array([hypotheses[index].log_prior for index, _ in both]),
            edits,
            np.array(row),
            next(number for number, (_, way) in enumerate(both) if way is None),
        )

    def edit(self, family: int, r_ohm: float) -> MakeEdit:
        """Return the edit of one of them, with these ohms where it has any."""
        way = self.ways[family]
        return way.edit(r_ohm) if way else no_edit

    @property
    def open_ended(self) -> Flags:
        """Which have ohms, shape (f,)."""
        return np.array([ohms is not None for ohms in self.ohms])

    def by_range(self) -> list[Indices]:
        """Return those with ohms, those of one range together."""
        found: dict[tuple[float, float], list[int]] = {}
        for number, ohms in enumerate(self.ohms):
            if ohms is not None:
                found.setdefault(ohms, []).append(number)
        return [np.array(those) for those in found.values()]


def _span(bench: Bench, jury: Jury, families: _Families, those: Indices, read: Floats) -> Span:
    """Return families of one range, from the readings of all edits."""
    ohms = families.ohms[those[0]] or (1.0, 1.0)
    ends = read[families.row[those][:, None] + np.arange(3)]
    ways = [way for number in those.tolist() if (way := families.ways[number])]
    sampled = sampled_over(bench, ways, ohms) if bench.live.any() else None
    return Span(those, ohms, Curves(ends, sampled), jury.observed.value)


def _leaders(
    quick: Quick, families: _Families, fixed: Indices, shown: Floats, spans: Sequence[Span]
) -> list[Leader]:
    """Return the families that do best reading by reading: as they lean, so do readings."""
    scores = quick.scores(shown) + families.log_prior[fixed]
    best = np.argsort(-scores, kind="stable")[:_LEADERS].tolist()
    found = [Leader(int(fixed[i]), float(scores[i]), 0.0, shown[i]) for i in best]
    for span in spans:
        found += span.leaders(quick, families.log_prior[span.those], _LEADERS)
    return sorted(found, key=lambda leader: -leader.score)[:_LEADERS]
