"""What the marks of a study amount to."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from faultfinder.coverage.study.marking import Mark

_BINS = 10


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
    """Cases whose leader had about the same probability: its mean, and the share that was right."""

    cases: int
    said: float
    right: float


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
        Cases by the leader's probability, as many in each.
    off : float
        Calibration error: mean distance of what was said from what was right.
    seconds : float
        Mean time of a diagnosis, on one core. [s]
    """

    cases: int
    sound: int
    false_alarms: int
    modes: tuple[ModeSummary, ...]
    calibration: tuple[Bin, ...]
    off: float
    seconds: float


def summary_of(marks: Sequence[Mark]) -> StudySummary:
    """Return the figures of some marks."""
    faulty = [mark for mark in marks if mark.truth]
    sound = [mark for mark in marks if not mark.truth]
    modes = sorted({mark.mode for mark in faulty})
    bins = tuple(_bins(marks))
    return StudySummary(
        cases=len(marks),
        sound=len(sound),
        false_alarms=sum(mark.verdict != "sound" for mark in sound),
        modes=tuple(
            _mode(mode, [mark for mark in faulty if mode in {mark.mode, "all"}])
            for mode in (*modes, "all")
        ),
        calibration=bins,
        off=sum(b.cases * abs(b.said - b.right) for b in bins) / max(1, len(marks)),
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


def _bins(marks: Sequence[Mark]) -> list[Bin]:
    """Return bins of as many cases each, by the leader's probability."""
    ordered = sorted(marks, key=lambda mark: mark.top)
    count = min(_BINS, max(1, len(ordered) // 10))
    ends = [round(i * len(ordered) / count) for i in range(count + 1)]
    parts = [ordered[a:b] for a, b in pairwise(ends) if b > a]
    return [
        Bin(len(part), _mean([m.top for m in part]), _mean([m.is_top for m in part]))
        for part in parts
    ]


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else 0.0
