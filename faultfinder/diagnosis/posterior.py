"""The probability of every hypothesis, its ohms integrated over their range."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import exp, log

import numpy as np

from faultfinder.diagnosis.catalogue import Hypothesis, Way, no_edit
from faultfinder.diagnosis.curves import cells
from faultfinder.diagnosis.families import Families, families
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.ohms import Quantiles, between, closer, over_ohms, quantiles
from faultfinder.diagnosis.screen import Candidate, screen
from faultfinder.diagnosis.stretches import stretched
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Flags, Floats
from faultfinder.network.branch import MakeEdit
from faultfinder.wiring.fault import Fault

_CLOSER_NATS = 7.0  # what is so far behind is less than one in a thousand: hardly ever listed
_MOST_BETWEEN = 2  # looks into gaps of what was looked at
_CALLED_FOR_NATS = 3.0  # readings have to be twenty times likelier with both than with either
_ROUNDING = 1e-6  # of a log likelihood
_UNSCREENED = 60  # ohms a hypothesis is tried at when no screen has found its own
_TIED_FIGURES = 9  # suspects that read alike come out alike to some twelve figures


@dataclass(frozen=True, slots=True)
class Suspect:
    """A hypothesis with its probability, and what it predicts at its likeliest.

    Attributes
    ----------
    hypothesis : Hypothesis
        What may be the matter.
    probability : float
        Its share of the posterior of all hypotheses.
    ohms : tuple of ((float, float, float) or None)
        5 %, 50 % and 95 % points of the ohms of each fault, where it has any. [ohm]
    way : Way or None
        The likeliest way it is built; None for the sound circuit.
    r_ohm : float
        The likeliest ohms of that way; 0 where it has none. [ohm]
    read : ndarray, shape (r,)
        Predicted readings at that way and ohms, in the tests' units.
    spread : ndarray, shape (r, p)
        Shared errors there.
    residual : ndarray, shape (r,)
        What shared errors leave of each number, in standard deviations of its scatter.
    slips : ndarray of bool, shape (r,)
        Readings it has no explanation for.
    refuted : ndarray of bool, shape (r,)
        Those of them that no misreading of a digit makes: open against a value, or a bound.
    variants : ndarray, shape (k, r)
        Predictions over the ways of its rule file and the ohms that fit.
    log_likelihood : float
        Logarithm of the likelihood, averaged over its ways and ohms.
    """

    hypothesis: Hypothesis
    probability: float
    ohms: tuple[Quantiles | None, ...]
    way: Way | None
    r_ohm: float
    read: Floats
    spread: Floats
    residual: Floats
    slips: Flags
    refuted: Flags
    variants: Floats
    log_likelihood: float

    @property
    def faults(self) -> tuple[Fault, ...]:
        """The faults, with the middle of their ohms' intervals; none for the sound circuit."""
        both = zip(self.hypothesis.faults, self.ohms, strict=True)
        return tuple(replace(fault, r_ohm=ohms[1]) if ohms else fault for fault, ohms in both)

    @property
    def leaves_readings(self) -> bool:
        """Whether there are readings it has no explanation for."""
        return bool(self.refuted.any()) or int(self.slips.sum()) > 0

    @property
    def edit(self) -> MakeEdit:
        """The edit that builds it at its likeliest."""
        return _edit(self.way, self.r_ohm)


@dataclass(frozen=True, slots=True)
class Judged:
    """The suspects, the most probable first, and what is left of the probability.

    ``unseen`` is the share of faults that these readings cannot show, ``log_whole`` the logarithm
    of what all probabilities are shares of.
    """

    suspects: tuple[Suspect, ...]
    unseen: float
    log_whole: float

    @property
    def singles(self) -> tuple[Suspect, ...]:
        """The sound circuit, and the suspects of one fault or mistake."""
        return tuple(s for s in self.suspects if len(s.hypothesis.faults) <= 1)

    def calls_for(self, suspect: Suspect) -> bool:
        """Return whether readings speak clearly more for all its faults than for fewer of them."""
        faults = set(suspect.hypothesis.faults)
        fewer = (s.log_likelihood for s in self.suspects if set(s.hypothesis.faults) < faults)
        return suspect.log_likelihood > max(fewer) + _CALLED_FOR_NATS

    def with_more(self, found: Sequence[Suspect]) -> "Judged":
        """Return the same with more suspects, all sharing the probability."""
        logs = [suspect.log_likelihood + suspect.hypothesis.log_prior for suspect in found]
        whole = float(np.logaddexp.reduce([self.log_whole, *logs]))
        left = exp(self.log_whole - whole)
        before = [replace(s, probability=s.probability * left) for s in self.suspects]
        new = [replace(s, probability=exp(log - whole)) for s, log in zip(found, logs, strict=True)]
        ranked = sorted([*before, *new], key=likeliest_first)
        return Judged(tuple(ranked), self.unseen * left, whole)


def judge(
    bench: Bench,
    jury: Jury,
    hypotheses: Sequence[Hypothesis],
    foreseen: Families | None = None,
) -> Judged:
    """Weigh the hypotheses that may have made the readings.

    A screen scores all of them with shared errors as the best lean; those that can still matter are
    then weighed with their own, and more closely about their own best ohms. A fault is a suspect
    only if readings speak for it: one that fits no better than the sound circuit, all its ohms
    considered, is a fault these readings cannot show. ``foreseen`` is what the hypotheses read on
    the bench, where that is known already.
    """
    screened = screen(jury, foreseen or families(bench, hypotheses))
    found = weighed(bench, jury, hypotheses, screened.candidates, screened.scatters)
    return _normalised(found, screened.log_unseen, screened.log_dropped)


def weigh(
    bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis], judged: Judged
) -> list[Suspect]:
    """Return hypotheses weighed exactly, however far behind, as shares of what was judged."""
    candidates = []
    for index, hypothesis in enumerate(hypotheses):
        ohms = hypothesis.ohms
        r_ohm = np.geomspace(*ohms, _UNSCREENED) if ohms else np.zeros(1)
        for way in hypothesis.ways or (None,):
            read = bench.read([_edit(way, r) for r in r_ohm.tolist()])
            candidates.append(more_closely(Candidate(index, way, r_ohm, jury.weigh_roughly(read))))
    found = weighed(bench, jury, hypotheses, candidates)
    logs = [s.log_likelihood + s.hypothesis.log_prior - judged.log_whole for s in found]
    return [replace(s, probability=exp(min(0.0, log))) for s, log in zip(found, logs, strict=True)]


def more_closely(candidate: Candidate) -> Candidate:
    """Return a candidate with more ohms about where its likelihood is highest."""
    ends = float(candidate.r_ohm[0]), float(candidate.r_ohm[-1])
    r_ohm = np.union1d(candidate.r_ohm, closer(candidate.r_ohm, candidate.log, ends))
    return replace(candidate, r_ohm=r_ohm, log=np.interp(r_ohm, candidate.r_ohm, candidate.log))


def weighed(
    bench: Bench,
    jury: Jury,
    hypotheses: Sequence[Hypothesis],
    candidates: Sequence[Candidate],
    scatters: Sequence[float] = (),
) -> list[Suspect]:
    """Return the hypotheses of candidates weighed with shared errors of their own.

    At all scatters of the jury, where it is not known which can matter.
    """
    best = [
        _edit(candidate.way, float(candidate.r_ohm[candidate.log.argmax()]))
        for candidate in candidates
    ]
    spread = jury.spread(bench.glimpse_lean(best))
    look = partial(_looks, bench, jury, scatters)
    first = look(candidates, spread, [candidate.r_ohm for candidate in candidates])
    mass = [
        one.log.max() + hypotheses[candidate.index].log_prior + _log_weight(candidate.way)
        for one, candidate in zip(first, candidates, strict=True)
    ]
    spots = candidates
    candidates, beside, whose = stretched(bench, hypotheses, spots, mass)
    if beside:
        first += look(beside, spread[whose], [candidate.r_ohm for candidate in beside])
        candidates += beside
        mass += [mass[number] for number in whose]
        spread = np.concatenate([spread, spread[whose]])
    # Where the likelihood's weight lies is known only now: look there more closely, but not at what
    # is too far behind to be told of.
    ranges = [hypotheses[candidate.index].ohms for candidate in candidates]
    whole = [
        own - _above_mean(one, ohms) for own, one, ohms in zip(mass, first, ranges, strict=True)
    ]
    near = [own > max(whole) - _CLOSER_NATS for own in whole]
    closely = [
        closer(one.r_ohm, one.log, ohms) if is_near else one.r_ohm[:0]
        for one, ohms, is_near in zip(first, ranges, near, strict=True)
    ]
    second = look(candidates, spread, closely)
    looks = [one.merged(two) for one, two in zip(first, second, strict=True)]
    for _ in range(_MOST_BETWEEN):  # they may turn out to be narrower than the steps of a look
        gaps = [
            between(one.r_ohm, one.log) if is_near and ohms else one.r_ohm[:0]
            for one, ohms, is_near in zip(looks, ranges, near, strict=True)
        ]
        if not any(map(len, gaps)):
            break
        again = look(candidates, spread, gaps)
        looks = [one.merged(two) for one, two in zip(looks, again, strict=True)]
    by_hypothesis: dict[int, list[int]] = {}
    for number, candidate in enumerate(candidates):
        by_hypothesis.setdefault(candidate.index, []).append(number)
    return [
        _suspect(
            jury,
            hypotheses[index],
            [(candidates[n].way, looks[n], spread[n]) for n in numbers],
            [_log_weight(spots[n].way) for n in numbers if n < len(spots)],
        )
        for index, numbers in by_hypothesis.items()
    ]


def _log_weight(way: Way | None) -> float:
    return log(way.weight) if way else 0.0


def _edit(way: Way | None, r_ohm: float) -> MakeEdit:
    return way.edit(r_ohm) if way else no_edit


@dataclass(frozen=True, slots=True)
class _Look:
    """One candidate predicted and weighed at some of its ohms, rising.

    Shapes: r_ohm and log (k,), the others (k, r).
    """

    r_ohm: Floats
    read: Floats
    log: Floats
    residual: Floats
    slips: Flags

    def merged(self, other: "_Look") -> "_Look":
        """Return two looks at one candidate as one."""
        order = np.concatenate([self.r_ohm, other.r_ohm]).argsort(kind="stable")
        names = ("r_ohm", "read", "log", "residual", "slips")
        return _Look(*(np.concatenate([getattr(self, n), getattr(other, n)])[order] for n in names))


def _looks(
    bench: Bench,
    jury: Jury,
    scatters: Sequence[float],
    candidates: Sequence[Candidate],
    spread: Floats,
    ohms: Sequence[Floats],
) -> list[_Look]:
    """Return a look at each candidate at the ohms wanted, all in one batch."""
    counts = [len(wanted) for wanted in ohms]
    whose = np.repeat(np.arange(len(candidates)), counts)
    known = np.array([candidate.reads is not None for candidate in candidates])[whose]
    read = np.empty((len(whose), len(bench.spots)))
    told = [c.reads(wanted) for c, wanted in zip(candidates, ohms, strict=True) if c.reads]
    if told:
        read[known] = np.concatenate(told)
    if not known.all():
        both = zip(candidates, ohms, strict=True)
        edits = [_edit(c.way, r) for c, wanted in both if not c.reads for r in wanted.tolist()]
        read[~known] = bench.read(edits)
    fits = jury.weigh(read, spread, whose, scatters)
    ends = np.cumsum(counts)
    return [
        _Look(wanted, read[rows], fits.log[rows], fits.residual[rows], fits.slips[rows])
        for wanted, rows in zip(ohms, map(slice, ends - counts, ends), strict=True)
    ]


def _above_mean(look: _Look, ohms: tuple[float, float] | None) -> float:
    """Return by how much a likelihood is higher than its mean over a range, roughly. [nats]"""
    if ohms is None:
        return 0.0
    shares = cells(np.log(look.r_ohm)) / log(ohms[1] / ohms[0])
    return float(-np.log(np.exp(look.log - look.log.max()) @ shares))


def _suspect(
    jury: Jury,
    hypothesis: Hypothesis,
    ways: Sequence[tuple[Way | None, _Look, Floats]],
    log_weights: Sequence[float],
) -> Suspect:
    """Return a hypothesis weighed over its ways and ohms; its probability is set later.

    The first of its ways are those of the rule file, with their weights there: it is told, and set
    against others, by what it reads in them. What follows are other parts of their stretches.
    """
    ln_ohms, log_mass = [], []
    for way, look, _ in ways:
        share = _log_weight(way)
        if hypothesis.ohms is None:
            x, mass = np.zeros(1), look.log + share
        else:
            x, mass = over_ohms(look.r_ohm, look.log)
            mass = mass + share - log(log(hypothesis.ohms[1] / hypothesis.ohms[0]))
        ln_ohms.append(x)
        log_mass.append(mass)
    top = [look.log.max() + weight for (_, look, _), weight in zip(ways, log_weights, strict=False)]
    way, look, spread = ways[int(np.argmax(top))]
    row = int(look.log.argmax())
    masses = np.concatenate(log_mass)
    return Suspect(
        hypothesis=hypothesis,
        probability=0.0,
        ohms=tuple(
            quantiles(np.concatenate(ln_ohms), masses)
            if hypothesis.ohms and number == hypothesis.ohms_of
            else None
            for number in range(len(hypothesis.faults))
        ),
        way=way,
        r_ohm=float(look.r_ohm[row]),
        read=look.read[row],
        spread=spread,
        residual=look.residual[row],
        slips=look.slips[row],
        refuted=look.slips[row] & ~(jury.observed.number & np.isfinite(look.read[row])),
        variants=np.concatenate([look.read for _, look, _ in ways[: len(log_weights)]]),
        log_likelihood=float(np.logaddexp.reduce(masses)),
    )


def _normalised(found: Sequence[Suspect], log_unseen: float, log_dropped: float) -> Judged:
    """Return the suspects that readings speak for, with probabilities, the most probable first."""
    least = next(s.log_likelihood for s in found if not s.faults) + _ROUNDING
    spoken_for = [s for s in found if not s.faults or s.log_likelihood > least]
    logs = [s.log_likelihood + s.hypothesis.log_prior for s in spoken_for]
    rest = [
        s.log_likelihood + s.hypothesis.log_prior
        for s in found
        if s.faults and s.log_likelihood <= least
    ]
    log_rest = np.logaddexp.reduce([least + log_unseen, max(logs) + log_dropped, *rest])
    whole = np.logaddexp.reduce([log_rest, *logs])
    shares = np.exp(np.array(logs) - whole).tolist()
    ranked = [replace(s, probability=share) for s, share in zip(spoken_for, shares, strict=True)]
    unseen = float(np.exp(log_rest - whole))
    return Judged(tuple(sorted(ranked, key=likeliest_first)), unseen, float(whole))


def likeliest_first(suspect: Suspect) -> float:
    """Return the key that sorts suspects: those only rounding tells apart keep their order."""
    return -float(f"{suspect.probability:.{_TIED_FIGURES}g}")
