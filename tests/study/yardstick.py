"""A plain brute-force diagnosis to compare with: every fault, every ohms, Bayes' rule.

It knows the faults that the cases are drawn from, takes the circuit for exactly as drawn, the
errors for gaussian and independent, and all faults for equally likely. It is for comparison only:
with the errors it assumes nothing can do much better, with other errors it is easily misled.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from drawing import ALONG, OHMS, Circuit, Fault, Key
from resistances import Floats, Sweep, sweep

COARSE, FINE = 64, 128  # steps of ln ohms over all the range, and over the two steps at the best
SPOTS = 19  # along a run
MISMATCH = -50.0  # log likelihood of open where a number was foretold, or a number for open


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault (None: sound), its share of belief, and its readings at the likeliest ohms."""

    fault: Fault | None
    probability: float
    values: Floats
    r_ohm: float | None


def rank(
    circuit: Circuit, keys: Sequence[Key], values: Floats, faults: Sequence[Fault]
) -> list[Suspect]:
    """Return the sound circuit and all faults, the likeliest first.

    Parameters
    ----------
    circuit : Circuit
        The circuit as drawn.
    keys : sequence of Key
        What was read.
    values : array
        The readings, infinity for open. [ohm]
    faults : sequence of Fault
        What might be wrong, ohms left open.
    """
    weighed = [_weigh_anywhere(circuit, fault, keys, values) for fault in (None, *faults)]
    logs = np.array([log for log, _ in weighed])
    shares = np.exp(logs - logs.max())
    shares /= shares.sum()
    found = [
        Suspect(s.fault, float(share), s.values, s.r_ohm)
        for share, (_, s) in zip(shares, weighed, strict=True)
    ]
    return sorted(found, key=lambda suspect: -suspect.probability)


def leading_group(suspects: Sequence[Suspect], within_sd: float = 2.0) -> list[Suspect]:
    """Return the first suspect and those whose readings are its own, within the noise.

    Parameters
    ----------
    suspects : sequence of Suspect
        As ranked.
    within_sd : float
        How far two sets of readings may lie apart and still be equal: the root of the summed
        squares of their differences, each in standard deviations.
    """
    leader = suspects[0].values
    return [s for s in suspects if _distance(s.values, leader) <= within_sd]


def _sd(value: Floats) -> Floats:
    return np.where(np.isfinite(value), 0.01 * np.where(np.isfinite(value), value, 0.0) + 0.01, 1.0)


def _residual(values: Floats, foretold: Floats) -> Floats:
    """Return the differences in standard deviations, zero where either is open."""
    both = np.isfinite(values) & np.isfinite(foretold)
    a, b = np.where(both, values, 0.0), np.where(both, foretold, 0.0)
    residual: Floats = (a - b) / _sd(b)
    return residual


def _mismatches(values: Floats, foretold: Floats) -> Floats:
    number: Floats = np.sum(np.isfinite(values) != np.isfinite(foretold), axis=-1)
    return number


def _distance(values: Floats, leader: Floats) -> float:
    if _mismatches(values, leader):
        return np.inf
    return float(np.linalg.norm(_residual(values, leader)))


def _log_likelihood(values: Floats, foretold: Floats) -> Floats:
    normal = -0.5 * _residual(values, foretold) ** 2 - np.log(_sd(foretold))
    logs: Floats = np.sum(normal, axis=-1) + MISMATCH * _mismatches(values, foretold)
    return logs


def _weigh_anywhere(
    circuit: Circuit, fault: Fault | None, keys: Sequence[Key], values: Floats
) -> tuple[float, Suspect]:
    """Return the log evidence of a fault; a bridge in a run may lie anywhere along it."""
    if fault is None or fault.along is None:
        return _weigh(sweep(circuit, fault, keys), values)
    spots = [replace(fault, along=float(along)) for along in np.linspace(*ALONG, SPOTS)]
    weighed = [_weigh(sweep(circuit, spot, keys), values) for spot in spots]
    log, suspect = max(weighed, key=lambda one: one[0])
    return log + float(np.log(np.mean([np.exp(one[0] - log) for one in weighed]))), suspect


def _weigh(family: Sweep, values: Floats) -> tuple[float, Suspect]:
    """Return the log evidence of a fault, its ohms integrated over their range, even in ln ohms."""
    fault = family.fault
    if fault is None or fault.mode not in OHMS:
        log = float(_log_likelihood(values, family.base))
        return log, Suspect(fault, 0.0, family.base, None)
    low, high = np.log(OHMS[fault.mode])
    coarse = np.linspace(low, high, COARSE)
    best = coarse[np.argmax(_log_likelihood(values, family.at(np.exp(coarse))))]
    step = coarse[1] - coarse[0]
    fine = np.linspace(max(low, best - step), min(high, best + step), FINE)
    grid = np.union1d(coarse, fine)
    foretold = family.at(np.exp(grid))
    logs = _log_likelihood(values, foretold)
    top = int(np.argmax(logs))
    weights = np.exp(logs - logs[top])
    area = float(np.sum((weights[1:] + weights[:-1]) / 2 * np.diff(grid)))
    log = float(logs[top]) + float(np.log(area / (high - low)))
    return log, Suspect(fault, 0.0, foretold[top], float(np.exp(grid[top])))
