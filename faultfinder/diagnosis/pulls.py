"""What misfits cost at least, and which way they pull, with shared errors settled.

Misfits are in standard deviations of scatter. The covariance is ``s² + U σ² Uᵀ`` at every scatter
``s``, so that two thin products settle what is shared.

Bound
-----
Of misfits ``t`` within ranges the log density is at most ``peak - ½ min tᵀ Q t``, with ``Q`` the
inverse covariance. For any ``λ`` that is nil where ``t`` lies inside its range, and pulls the right
way where it is at an end,

    min ½ tᵀ Q t  ≥  λᵀt - ½ λᵀ Q⁻¹ λ,

by duality; a few rounds of settling and clipping find a ``λ`` near the best.
"""

from dataclasses import dataclass

import numpy as np

from faultfinder.evidence.lean import Flags, Floats, Indices

_ROUNDS = 4  # of settling and clipping
_FIRST_ROUNDS = 12
_LEAST_SHARED = 0.15  # of the scatter: smaller shared errors are taken for each reading's own
_RIDGE = 1e-4  # of a bend, so that two changes that are all but one share a step
_NO_BEND = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class AtScatter:
    """What holds at one factor of scatter. Shapes: q shared errors, r numbers.

    ``thin`` (r, q): misfits times it, and times it again, are what shared errors make of them;
    times ``root`` (q,) it is the shared errors themselves. ``own`` is the variance of scatter,
    ``peak`` the log density of no misfit at all; ``slip`` (r,) what calling a number a slip costs,
    ``width`` (r,) the misfit from which on it is cheaper; ``start`` (r,) what shared errors make of
    the leader's misfits.
    """

    scatter: float
    thin: Floats
    root: Floats
    own: float
    peak: float
    slip: Floats
    width: Floats
    start: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Off:
    """How far off numbers are at least and at most, both (n, r); one array where that is one."""

    low: Floats
    high: Floats

    def near(self, wanted: Floats) -> Floats:
        """Return what is nearest to what is wanted."""
        if self.low is self.high:
            return self.low
        return np.asarray(np.minimum(np.maximum(wanted, self.low), self.high))

    def only(self, rows: Indices) -> "Off":
        """Return some of the rows."""
        low = self.low[rows]
        return Off(low, low if self.low is self.high else self.high[rows])

    def may_pull(self, pull: Floats, near: Floats) -> Floats:
        """Return pulls as far as they bound a whole range: at its ends, and outwards."""
        if self.low is self.high:
            return pull
        wrong = ((pull > 0) & (near > self.low)) | ((pull < 0) & (near < self.high))
        return np.where(wrong, 0.0, pull)


def parted(lean: Floats) -> tuple[Floats, Floats]:
    """Return shared errors (r, p), in scatters of one, as directions (r, q) and sizes in them."""
    left, size, _ = np.linalg.svd(lean, full_matrices=False)
    return left, size


def thinned(left: Floats, size: Floats, scatter: float) -> tuple[Floats, Floats, float]:
    """Return the ``parted`` errors that are more than scatter, as ``thin``, ``root`` and ``own``.

    What is less is taken for scatter, at its most.
    """
    kept = size > _LEAST_SHARED * scatter
    own = scatter**2 + float((size[~kept] ** 2).max(initial=0.0))
    whole = np.sqrt(own + size[kept] ** 2)
    return left[:, kept] * (size[kept] / whole), whole, own


def leaders_fit(at: AtScatter, misfit: Floats) -> Floats:
    """Return what shared errors make of the leader's misfits, slips left out."""
    impossible = ~np.isfinite(misfit)
    fit = np.zeros_like(misfit)
    for _ in range(_FIRST_ROUNDS):
        held = ~impossible & (np.abs(misfit - fit) <= 2 * at.width)
        fit = (np.where(held, misfit, fit) @ at.thin) @ at.thin.T
        if held.all():
            break
    return np.asarray(fit[0])


def losses_at_first(at: AtScatter, off: Off, impossible: Flags) -> Floats:
    """Return what misfits cost at least, pulled at as if shared errors were the leader's.

    What would be a slip then may be none with shared errors of its own: it costs nothing here.
    """
    near = off.near(at.start)
    pull = near - at.start
    pull[impossible | (np.abs(pull) > at.width)] = 0.0
    return _dual(at, pull, near)


def losses(at: AtScatter, off: Off, impossible: Flags) -> Floats:
    """Return what misfits cost at least, shared errors settled and slips told by what is left."""
    fit = at.start
    for _ in range(_ROUNDS):
        # One that is far off may be a slip, and pulls no harder than one that just is none.
        held = np.minimum(np.maximum(off.near(fit), fit - at.width), fit + at.width)
        fit = (np.where(impossible, fit, held) @ at.thin) @ at.thin.T
    slips = ~impossible & (np.abs(off.near(fit) - fit) > at.width)
    loss = _loss(at, off, fit, slips | impossible) + slips @ at.slip
    rows = np.flatnonzero(slips.any(axis=1))
    if rows.size:
        without = _loss(at, off.only(rows), fit[rows], impossible[rows])
        loss[rows] = np.minimum(loss[rows], without)
    return np.asarray(loss)


def _loss(at: AtScatter, off: Off, fit: Floats, out: Flags) -> Floats:
    """Return what misfits cost at least, those left ``out`` aside."""
    near = off.near(fit)
    held = np.where(out, fit, near)
    for _ in range(_ROUNDS):
        pull = held - (held @ at.thin) @ at.thin.T
        if not out.any():
            break
        held[out] -= pull[out]
    pull[out] = 0.0
    return _dual(at, off.may_pull(pull, near), near)


def _dual(at: AtScatter, pull: Floats, near: Floats) -> Floats:
    """Return what a pull on misfits shows that they cost, at its best strength.

    Misfits are within ranges, of which these are the ends that it pulls at.
    """
    along = (pull * near).sum(axis=1)
    back = at.own * (pull**2).sum(axis=1) + (((pull @ at.thin) * at.root) ** 2).sum(axis=1)
    pulls = (along > 0) & (back > 0)
    return np.asarray(np.divide(along**2, 2 * back, out=np.zeros_like(back), where=pulls))


def steps(at: AtScatter, off: Floats, after: Floats) -> Floats:
    """Return how much of some changes would suit misfits (n, r) best, (n, k), as if straight.

    ``after`` (n, k, r) is what misfits are after each. What is a slip does not count.
    """
    finite = np.isfinite(off)
    off = np.where(finite, off, 0.0)
    fit = at.start
    for _ in range(_ROUNDS):
        held = np.minimum(np.maximum(off, fit - at.width), fit + at.width)
        fit = (np.where(finite, held, fit) @ at.thin) @ at.thin.T
    used = finite & (np.abs(off - fit) <= at.width)
    slopes = np.where(used[:, None] & np.isfinite(after), after - off[:, None], 0.0)
    settled = slopes - (slopes @ at.thin) @ at.thin.T
    bend = slopes @ np.swapaxes(settled, 1, 2)
    pull = (settled * np.where(used, off, fit)[:, None]).sum(axis=-1)
    diagonal = np.arange(slopes.shape[1])
    bend[:, diagonal, diagonal] += np.maximum(_RIDGE * bend[:, diagonal, diagonal], _NO_BEND)
    return -np.linalg.solve(bend, pull[..., None])[..., 0]
