"""What the marks of a study amount to."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, groupby
from math import pi, sqrt
from statistics import fmean

from faultfinder.coverage.study.marking import Mark

_MOST_BINS = 10
_LEAST = 10  # cases in a bin, counted as if all had equal weight


@dataclass(frozen=True, slots=True)
class ModeSummary:
    """Of one fault mode: cases, those that show, and how they were answered.

    ``leads`` is the share of those that show whose truth is in the leading group, ``group`` and
    ``places`` the mean size of that group.
    """

    mode: str
    cases: int
    shown: int
    leads: float
    group: float
    places: float


@dataclass(frozen=True, slots=True)
class Bin:
    """Cases whose leader had about the same probability: its mean, and the share that was right.

    ``weight`` is theirs, of all; both figures are by weight. ``sd`` is how much the share that is
    right scatters by chance where what is said is honest: of a mean by weights that depend on the
    truth, from what is left over in each case (W. G. Cochran, Sampling Techniques, 1977, ratio
    estimates; from memory).
    """

    cases: int
    weight: float
    said: float
    right: float
    sd: float


@dataclass(frozen=True, slots=True)
class StudySummary:
    """A study in figures.

    Attributes
    ----------
    cases, sound : int
        Cases, and those of them without a fault.
    false_alarms : int
        Sound circuits called anything else.
    modes : tuple of ModeSummary
        By mode; the last is of all.
    calibration : tuple of Bin
        Cases by the leader's probability, about as much weight in each. No bins where all are
        sound or all faulty: how often a leader is right depends on the others too.
    off, by_chance : float or None
        Calibration error: mean distance of what was said from what was right, by weight; and the
        same as chance alone makes it where what is said is honest. None without bins.
    seconds : float
        Mean time of a diagnosis, on one core. [s]
    """

    cases: int
    sound: int
    false_alarms: int
    modes: tuple[ModeSummary, ...]
    calibration: tuple[Bin, ...]
    off: float | None
    by_chance: float | None
    seconds: float


def summary_of(marks: Sequence[Mark]) -> StudySummary:
    """Return the figures of some marks."""
    faulty = [mark for mark in marks if mark.truth]
    sound = [mark for mark in marks if not mark.truth]
    modes = sorted({mark.mode for mark in faulty})
    bins = tuple(_bins(marks)) if faulty and sound else ()
    chance = sqrt(2 / pi)  # mean distance of a Gaussian from its mean, in standard deviations
    return StudySummary(
        cases=len(marks),
        sound=len(sound),
        false_alarms=sum(mark.verdict != "sound" for mark in sound),
        modes=tuple(
            _mode(mode, [mark for mark in faulty if mode in {mark.mode, "all"}])
            for mode in (*modes, "all")
        ),
        calibration=bins,
        off=sum(b.weight * abs(b.said - b.right) for b in bins) if bins else None,
        by_chance=sum(b.weight * b.sd * chance for b in bins) if bins else None,
        seconds=_mean([mark.seconds for mark in marks]),
    )


def _mode(mode: str, marks: Sequence[Mark]) -> ModeSummary:
    shown = [mark for mark in marks if mark.shows]
    return ModeSummary(
        mode,
        len(marks),
        len(shown),
        _mean([mark.leads for mark in shown]),
        _mean([mark.group for mark in shown]),
        _mean([mark.places for mark in shown]),
    )


def _bins(marks: Sequence[Mark]) -> Iterator[Bin]:
    """Yield bins of about equal weight, by the leader's probability.

    So many cases of unequal weight say as much as (sum w)^2 / (sum w^2) of equal weight (L. Kish,
    Survey Sampling, 1965; from memory).
    """
    ordered = sorted(marks, key=lambda mark: mark.top)
    ends = list(accumulate(mark.weight for mark in ordered))
    whole = ends[-1]
    equal = whole**2 / sum(mark.weight**2 for mark in ordered)
    count = min(_MOST_BINS, max(1, int(equal / _LEAST)))
    middles = [end - mark.weight / 2 for mark, end in zip(ordered, ends, strict=True)]
    places = [int(count * middle / whole) for middle in middles]
    for _, some in groupby(zip(places, ordered, strict=True), lambda pair: pair[0]):
        yield _bin([mark for _, mark in some], whole)


def _bin(marks: Sequence[Mark], whole: float) -> Bin:
    weights = [mark.weight for mark in marks]
    own = sum(weights)
    return Bin(
        cases=len(marks),
        weight=own / whole,
        said=fmean([mark.top for mark in marks], weights),
        right=fmean([mark.is_top for mark in marks], weights),
        sd=sqrt(sum((mark.weight * (mark.is_top - mark.top)) ** 2 for mark in marks)) / own,
    )


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else 0.0
