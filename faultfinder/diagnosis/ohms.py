"""A likelihood over the ohms of one fault: where to look at it, and what it comes to."""

from math import log, sqrt

import numpy as np

from faultfinder.diagnosis.curves import cells
from faultfinder.evidence.lean import Floats, Indices

_CLOSER = 9  # ohms about the best
_REACH_SD = 3.5
_WELL_DOWN_NATS = 3.0
_STEEP_NATS = 2.0  # between neighbours: what is between is not told by them
_MATTERS = 0.02  # of the mass
_HALVES = 0.5 ** np.arange(1, 8)  # of a gap
_FINE = 8  # steps between ohms looked at
_ABOVE_NATS = 0.5  # that a likelihood may be higher between ohms looked at
_SAME_DECIMALS = 9  # of ln ohms

Quantiles = tuple[float, float, float]
"""5, 50 and 95 % points. [ohm]"""


def closer(r_ohm: Floats, logs: Floats, within: tuple[float, float] | None) -> Floats:
    """Return ohms about the top of a likelihood, from the parabola through its three highest.

    They reach some standard deviations of that parabola either way, to the neighbours of the
    highest where it is none with a top. Where the highest is at an end of what was looked at they
    reach as far either side of it as to where the likelihood is well down. None for a candidate
    without ohms, and none outside the range it may have them in. [ohm]
    """
    if within is None or len(r_ohm) < len(("below", "top", "above")):
        return r_ohm[:0]
    x, first = _apart(r_ohm)
    logs = logs[first]
    top = int(logs.argmax())
    if top in (0, len(x) - 1):
        low = np.flatnonzero(logs < logs[top] - _WELL_DOWN_NATS)
        down = x[low[np.abs(low - top).argmin()]] if len(low) else x[len(x) - 1 - top]
        ends = x[top] + np.array([-1.0, 1.0]) * abs(x[top] - down)
    else:
        ends = x[[top - 1, top + 1]]
        rise, fall = np.diff(logs[top - 1 : top + 2]) / np.diff(x[top - 1 : top + 2])
        bend = 2 * (rise - fall) / (ends[1] - ends[0])  # minus the second derivative
        if bend > 0:
            slope = (rise * (ends[1] - x[top]) + fall * (x[top] - ends[0])) / (ends[1] - ends[0])
            middle = np.clip(x[top] + slope / bend, *ends)
            ends = middle + np.array([-1.0, 1.0]) * _REACH_SD / sqrt(bend)
    low, high = np.clip(ends, log(within[0]), log(within[1])).tolist()
    return np.asarray(np.exp(np.linspace(low, high, _CLOSER)))


def between(r_ohm: Floats, logs: Floats) -> Floats:
    """Return ohms in gaps where a likelihood is steep, and that hold some of its mass. [ohm]

    They come ever closer to the higher end. A straight line over a gap says what it holds.
    """
    x, first = _apart(r_ohm)
    logs = logs[first] - logs.max()
    width, rise = np.diff(x), np.diff(logs)
    steep = np.abs(rise) > _STEEP_NATS
    share = np.exp(logs)
    level = (share[1:] + share[:-1]) / 2
    mass = width * np.where(steep, np.diff(share) / np.where(steep, rise, 1.0), level)
    (gaps,) = np.nonzero(steep & (mass > _MATTERS * mass.sum()))
    up = rise[gaps] > 0
    higher, way = np.where(up, x[gaps + 1], x[gaps]), np.where(up, -width[gaps], width[gaps])
    return np.asarray(np.exp(np.sort(higher[:, None] + way[:, None] * _HALVES, axis=None)))


def over_ohms(r_ohm: Floats, logs: Floats) -> tuple[Floats, Floats]:
    """Return ln ohms on a fine grid, and log of likelihood times width at each.

    Between the ohms looked at the log likelihood is a smooth curve: straight lines would cut off a
    tenth of a nat at the top.
    """
    rows, first = _apart(r_ohm)
    steps = np.linspace(0, len(rows) - 1, _FINE * (len(rows) - 1) + 1)
    x = np.interp(steps, np.arange(len(rows)), rows)
    logs = logs[first]
    # A curve through few steep points may rise far above them: no top is higher than looks found.
    curve = np.minimum(_curve(rows, logs, x), logs.max() + _ABOVE_NATS)
    return x, curve + np.log(cells(x))


def _apart(r_ohm: Floats) -> tuple[Floats, Indices]:
    """Return ln of rising ohms, those that are one but for rounding once, and which they are.

    Ends of ranges, and what readings without error ask for, may be the same ohms so.
    """
    x = np.log(r_ohm).round(_SAME_DECIMALS)
    first = np.flatnonzero(np.diff(x, prepend=-np.inf))
    return x[first], first


def _curve(x: Floats, y: Floats, wanted: Floats) -> Floats:
    """Return values between points, x rising, by cubics with one slope at each point.

    The slope is that of the parabola through the point and its neighbours, but never so steep
    against the lines to them that a flat stretch would sag (Hermite's form; three times the flatter
    line is what keeps a cubic monotone: Fritsch and Carlson, from memory).
    """
    if len(x) < len(("left", "middle", "right")):
        return np.interp(wanted, x, y)
    step, rise = np.diff(x), np.diff(y) / np.diff(x)
    inner = (rise[:-1] * step[1:] + rise[1:] * step[:-1]) / (step[:-1] + step[1:])
    most = 3 * np.minimum(np.abs(rise[:-1]), np.abs(rise[1:]))
    slope = np.concatenate([rise[:1], np.clip(inner, -most, most), rise[-1:]])
    left = np.clip(np.searchsorted(x, wanted, side="right") - 1, 0, len(step) - 1)
    h, t = step[left], (wanted - x[left]) / step[left]
    bend_left, bend_right = slope[left] - rise[left], slope[left + 1] - rise[left]
    straight = y[left] + rise[left] * (wanted - x[left])
    return np.asarray(straight + h * t * (1 - t) * (bend_left * (1 - t) - bend_right * t))


def quantiles(ln_ohms: Floats, log_mass: Floats) -> Quantiles:
    """Return the 5, 50 and 95 % points of ohms from masses at points of their logarithm. [ohm]"""
    order = ln_ohms.argsort()
    share = np.exp(log_mass[order] - log_mass.max())
    share /= share.sum()
    middle = np.cumsum(share) - share / 2
    low, median, high = np.exp(np.interp([0.05, 0.5, 0.95], middle, ln_ohms[order]))
    return float(low), float(median), float(high)
