"""What a plan can find by the signs alone: where the rule files leave gaps.

Each fault is put in at some of its ohms, the readings are graded as a meter without error would
have them, and the signs are run. It is seen if a sign points to it, and taken for all that signs
point to then.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from faultfinder.coverage.assembling import Sight, Tried, assemble
from faultfinder.coverage.lineup import Lineup
from faultfinder.coverage.plan import Plan
from faultfinder.coverage.result import Coverage
from faultfinder.diagnosis.pointing import signs_met
from faultfinder.evidence.expectation import expectations, of_spots
from faultfinder.evidence.grading import grade_readings
from faultfinder.evidence.lean import Floats
from faultfinder.readings.reading import Reading
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.source.quantity import Amount

_OHMS = 4  # of a fault's range are tried
_DIGITS = 0.01  # the last digit of a reading, as a person writes it


def by_signs(lineup: Lineup, plan: Plan, rulebook: Rulebook) -> Coverage:
    """Return what the signs alone see in a plan's readings, and what they take it for."""
    trials = list(_trials(lineup, rulebook))
    sights = []
    for index, hypothesis in enumerate(lineup.hypotheses):
        own = [tried for tried in trials if tried.fault == index]
        prior = sum(tried.weight for tried in own)
        seen = sum(tried.weight * tried.seen for tried in own)
        met = any(len(tried.taken_for) for tried in own)
        fault, ohms = hypothesis.faults[0], hypothesis.ohms
        sights.append(Sight(fault, prior, seen / prior, ohms, moves=met))
    minutes = plan.minutes(lineup.bench.procedures)
    return assemble(lineup.circuit, plan, minutes, "rules", 0.0, sights, trials)


def _trials(lineup: Lineup, rulebook: Rulebook) -> Iterator[Tried]:
    number = {fault: index for index, fault in enumerate(lineup.faults)}
    expected = of_spots(expectations(lineup.bench, lineup.meter, lineup.tolerances, lineup.sound))
    prior = np.bincount(lineup.of, lineup.weight)
    for index in range(len(lineup.hypotheses)):
        for read in _tried(lineup, index):
            readings = _as_written(lineup, read)
            met = signs_met(lineup.circuit, rulebook, grade_readings(readings, expected))
            pointed = {number[fault] for fault in met if fault in number}
            weight = float(prior[index]) / (_OHMS if lineup.hypotheses[index].ohms else 1)
            yield Tried(index, weight, float(index in pointed), dict.fromkeys(pointed, 0.0))


def _tried(lineup: Lineup, index: int) -> Iterator[Floats]:
    """Yield readings of the likeliest way of a fault, at ohms all over its range."""
    families = np.flatnonzero(lineup.of == index)
    family = families[lineup.weight[families].argmax()]
    samples = np.flatnonzero(lineup.samples.family == family)
    some = samples[np.linspace(0, len(samples) - 1, min(_OHMS, len(samples))).round().astype(int)]
    yield from lineup.samples.read[some]


def _as_written(lineup: Lineup, read: Floats) -> Sequence[Reading]:
    shown = lineup.meter.shows_value(read).tolist()
    return [
        Reading(spot, Amount(value if is_value else np.inf, "=" if is_value else "open"), _DIGITS)
        for spot, value, is_value in zip(lineup.spots, read.tolist(), shown, strict=True)
    ]
