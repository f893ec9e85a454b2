"""What a plan can find by the model: what a diagnosis of its readings has to go by."""

from collections.abc import Iterator

import numpy as np

from faultfinder.coverage.assembling import Sight, Tried, assemble
from faultfinder.coverage.isolation import Isolation, taken_for
from faultfinder.coverage.lineup import SAMPLES, Lineup
from faultfinder.coverage.plan import Plan
from faultfinder.coverage.power import SURELY, Alarm, Looks
from faultfinder.coverage.result import Coverage, Ohms
from faultfinder.evidence.lean import Flags, Floats, Indices

FALSE_ALARM = 0.01
"""Chance that a sound circuit is called faulty, if not said otherwise."""

_STRIDE = 3  # of the samples of a family that is the only way of its fault, one in so many
_WIDEST = 12  # the same where several ways share the work
_WORTH_TELLING = 0.5  # power from which it is asked what a sample is taken for
_STIRRED = 1e-6  # λ from which a reading moves at all
_HALVINGS = 24  # of a step of ln ohms, to place an edge


def by_model(lineup: Lineup, plan: Plan, false_alarm: float = FALSE_ALARM) -> Coverage:
    """Return what a plan detects and isolates, from a lineup of its readings."""
    alarm = Alarm(lineup, false_alarm)
    looks = alarm.sampled
    weight = lineup.samples.weight
    return assemble(
        lineup.circuit,
        plan,
        plan.minutes(lineup.bench.procedures),
        "model",
        false_alarm,
        _sights(alarm, looks),
        _trials(alarm, looks.power),
        float((weight * looks.most).sum() / weight.sum()),
    )


def _sights(alarm: Alarm, looks: Looks) -> list[Sight]:
    lineup, samples, power = alarm.lineup, alarm.lineup.samples, looks.power
    count = len(lineup.hypotheses)
    of = lineup.of[samples.family]
    prior = np.bincount(of, samples.weight, minlength=count)
    seen = np.bincount(of, samples.weight * power, minlength=count)
    stirred = (looks.root**2 > _STIRRED) | (looks.surely > 0)
    moves = np.bincount(of, stirred, minlength=count) > 0
    by_family = np.bincount(samples.family, samples.weight * power) / lineup.weight
    ranges = _seen_ranges(alarm, power)
    found = []
    for index, hypothesis in enumerate(lineup.hypotheses):
        # The way it is likeliest built; of several as likely, the one seen least.
        families = np.flatnonzero(lineup.of == index)
        likely = families[lineup.weight[families] > 0.99 * lineup.weight[families].max()]
        shown = int(likely[by_family[likely].argmin()])
        found.append(
            Sight(
                hypothesis.faults[0],
                float(prior[index]),
                float(seen[index] / prior[index]),
                hypothesis.ohms,
                tuple(ranges.get(shown, ())),
                bool(moves[index]),
            )
        )
    return found


def _seen_ranges(alarm: Alarm, power: Floats) -> dict[int, list[Ohms]]:
    """Return the ranges of ohms in which each family is seen nine times in ten. [ohm]

    Between two samples, one seen and one not, the edge is halved down upon.
    """
    lineup, samples = alarm.lineup, alarm.lineup.samples
    ranged = np.flatnonzero(lineup.ranged)
    grid = samples.r_ohm[lineup.ranged[samples.family]].reshape(-1, SAMPLES)
    seen = (power >= SURELY)[lineup.ranged[samples.family]].reshape(-1, SAMPLES)
    grid = np.column_stack([lineup.low[ranged], grid, lineup.high[ranged]])
    ends = np.concatenate([ranged, ranged])
    at_ends = alarm.power(lineup.read_at(ends, np.concatenate([grid[:, 0], grid[:, -1]])))
    first, last = (at_ends >= SURELY).reshape(2, -1)
    seen = np.column_stack([first, seen, last])
    row, column = np.nonzero(seen[:, 1:] != seen[:, :-1])
    edges = _edges(alarm, ranged[row], grid[row, column], grid[row, column + 1])
    found: dict[int, list[Ohms]] = {}
    for number, family in enumerate(ranged.tolist()):
        bounds = [float(edge) for edge in edges[row == number]]
        if seen[number, 0]:
            bounds.insert(0, float(grid[number, 0]))
        if seen[number, -1]:
            bounds.append(float(grid[number, -1]))
        found[family] = list(zip(bounds[::2], bounds[1::2], strict=True))
    return found


def _edges(alarm: Alarm, family: Indices, low: Floats, high: Floats) -> Floats:
    """Return the ohms at which families begin or cease to be seen, between two that differ."""
    lineup = alarm.lineup
    was = alarm.power(lineup.read_at(family, low)) >= SURELY
    for _ in range(_HALVINGS if family.size else 0):
        middle = np.sqrt(low * high)
        same = (alarm.power(lineup.read_at(family, middle)) >= SURELY) == was
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return np.asarray(np.sqrt(low * high))


def _trials(alarm: Alarm, power: Floats) -> Iterator[Tried]:
    """Yield what samples that are seen are taken for: of each family some, all over its ohms."""
    lineup, samples = alarm.lineup, alarm.lineup.samples
    chosen = chosen_samples(lineup) & (power >= _WORTH_TELLING)
    some = samples[chosen]
    isolation = Isolation(
        lineup, alarm.spread, alarm.variance, some, np.ones(len(lineup.spots), dtype=bool)
    )
    # What is left out of a family's samples is stood for by those that are chosen.
    seen = np.bincount(samples.family, samples.weight * power)
    tried = np.bincount(some.family, some.weight * power[chosen], minlength=len(seen))
    weight = some.weight * (seen / np.where(tried > 0, tried, 1.0))[some.family]
    told = taken_for(isolation, lineup.of)
    for index, others in enumerate(told):
        yield Tried(
            int(lineup.of[some.family[index]]),
            float(weight[index]),
            float(power[chosen][index]),
            others,
        )


def chosen_samples(lineup: Lineup) -> Flags:
    """Return which samples stand for their families where each costs, shape (n,).

    Several ways of one fault share the work, each at ohms of its own.
    """
    family = lineup.samples.family
    ways = np.bincount(lineup.of)[lineup.of]
    stride = np.where(ways == 1, _STRIDE, np.minimum(_STRIDE * ways, _WIDEST))
    number = np.arange(len(family)) - np.searchsorted(family, family)
    way = np.arange(len(lineup.of)) - np.searchsorted(lineup.of, lineup.of)
    turn = (number + _STRIDE * way[family]) % stride[family] == 1
    return np.asarray(turn | ~lineup.ranged[family])
