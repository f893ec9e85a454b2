"""Whether what a single fault leaves has room for a second: only then are pairs looked for."""

from collections.abc import Sequence
from math import log1p

import numpy as np

from faultfinder.diagnosis.catalogue import BuiltWay, Hypothesis
from faultfinder.diagnosis.families import Families, families
from faultfinder.diagnosis.gaussian import Joint
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Flags, Floats, Indices

_ROOM_NATS = 7.0  # what a second fault must gain to make up for its prior, about
_LEAST_MULTIPLE = 0.05  # of what a fault without ohms changes alone, beside another
_STEP = 0.02  # of a fault's own ohms, to tell how they move what it reads


def leaves_room(
    bench: Bench,
    jury: Jury,
    hypotheses: Sequence[Hypothesis],
    singles: Sequence[Suspect],
    foreseen: Families | None,
) -> bool:
    """Return whether a second fault could make up for its prior, whatever it did.

    Where each reading's errors are taken for its own there may seem to be room that shared errors
    account for. So where that look sees any, the changes that a second fault could make, as it
    makes them by itself, are tried on what single faults leave.
    """
    leader = singles[0]
    if leader.leaves_readings:
        return True
    # Nothing does better than the very numbers; open readings and bounds cannot speak for anything.
    most = float(jury.glance_each(jury.observed.value)[jury.observed.number].sum())
    # What the second is added to is a fault too, and has what it is behind the leader to make up.
    leads = leader.log_likelihood + leader.hypothesis.log_prior
    firsts = [
        (s, _ROOM_NATS + leads - s.log_likelihood - s.hypothesis.log_prior)
        for s in singles
        if isinstance(s.way, BuiltWay)
    ]
    firsts = [(s, asked) for s, asked in firsts if most - float(jury.glance(s.read)) > asked]
    if not firsts:
        return False
    both = (foreseen or families(bench, hypotheses)).faulty
    changed = np.concatenate(both)
    least = np.repeat([_LEAST_MULTIPLE, 0.0], [len(some) for some in both])
    # What makes a number open is no second fault.
    may_be = ~(np.isinf(changed) & jury.observed.number).any(axis=1)
    changed, least = changed[may_be], least[may_be]
    spreads = _with_own_ohms(bench, jury, [s for s, _ in firsts])
    return any(
        most_gained(jury, s.read, spread, s.slips, changed, least).max(initial=0.0) > asked
        for (s, asked), spread in zip(firsts, spreads, strict=True)
    )


def _with_own_ohms(bench: Bench, jury: Jury, firsts: Sequence[Suspect]) -> list[Floats]:
    """Return the shared errors of faults, (r, p), each with what its ohms do as one more.

    Beside a second fault the first may have other ohms, by some such factor as e.
    """
    spreads = [first.spread for first in firsts]
    some = [number for number, first in enumerate(firsts) if first.hypothesis.ohms]
    more = [
        first.way.edit(first.r_ohm * (1 + _STEP))
        for number in some
        if (first := firsts[number]).way
    ]
    if some:
        scale = jury.observed.meter.scale
        for number, read in zip(some, bench.glimpse(more), strict=True):
            own = firsts[number].read
            both = np.isfinite(own) & np.isfinite(read)
            with np.errstate(invalid="ignore"):
                slope = np.where(both, (scale(read) - scale(own)) / log1p(_STEP), 0.0)
            spreads[number] = np.column_stack([spreads[number], slope])
    return spreads


def most_gained(
    jury: Jury, read: Floats, spread: Floats, slips: Flags, changed: Floats, least: Floats
) -> Floats:
    """Return what predictions could gain in log likelihood by more of some changes, (k,).

    For misfits e, a change d and the inverse covariance Q the multiple m of d gains
    m dᵀQe - ½m² dᵀQd, and the best of them (dᵀQe)² / 2dᵀQd: a score test. Scatter is averaged over;
    readings that are no numbers, and those that a change makes open, are left aside. What is a slip
    stays one, or is none with the change, whichever is likelier: of several all stay slips, none,
    one, or all but one.

    Parameters
    ----------
    jury : Jury
        The readings, r of them.
    read : ndarray, shape (r,)
        Predictions that explain the readings but for their errors.
    spread : ndarray, shape (r, p)
        Their shared errors.
    slips : ndarray of bool, shape (r,)
        Readings that they have no explanation for.
    changed : ndarray, shape (k, r)
        What the sound circuit would read with each change in it.
    least : ndarray, shape (k,)
        Multiples of each change that are smaller cannot be, of either sign.
    """
    if jury.observed.open.any():
        kept, closed = jury.closed
        return most_gained(closed, read[kept], spread[kept], slips[kept], changed[:, kept], least)
    meter, sound = jury.observed.meter, jury.sound.read[0]
    whole = jury.joint(read[None], spread[None])
    finite = whole.used[0] & np.isfinite(changed) & np.isfinite(sound)
    with np.errstate(invalid="ignore"):
        change = np.where(finite, meter.scale(changed) - meter.scale(sound), 0.0)
    called = tuple(np.flatnonzero(slips & whole.used[0]).tolist())
    but_one = [tuple(i for i in called if i != one) for one in called]
    remain = dict.fromkeys([called, (), *((one,) for one in called), *but_one])
    before, *after = [
        _before_and_after(jury, whole, np.array(out, dtype=int), change, least) for out in remain
    ]
    return np.asarray(np.max([before[1], *(more for _, more in after)], axis=0) - before[0])


def _before_and_after(
    jury: Jury, whole: Joint, out: Indices, change: Floats, least: Floats
) -> tuple[float, Floats]:
    """Return log likelihoods with nothing changed and with the best of each change, (k,).

    Those of one hypothesis at a scatter of one, readings left ``out`` being slips.
    """
    used = whole.used.copy()
    used[:, out] = False
    unit = Joint(whole.error, whole.variance, whole.spread, used)
    spread, scatters = unit.spread[0], np.array(jury.scatters)
    joint = unit.scaled(scatters)
    weighted = change * unit.weight[0]
    squared, projected = scatters[:, None] ** 2, weighted @ spread
    settled = np.linalg.solve(joint.inner, projected.T[None] / squared[..., None])
    own = (weighted * change).sum(-1) - np.einsum("kp,spk->sk", projected, settled)
    along = (joint.weight * joint.left) @ change.T
    bend = np.where(own > 0, own, 1.0) / squared
    times = np.copysign(np.maximum(np.abs(along / bend), least), along)
    gain = np.where(own > 0, times * along - times**2 * bend / 2, 0.0)
    before = joint.log() + jury.slip_log[out].sum()
    return float(np.logaddexp.reduce(before)), np.logaddexp.reduce(before[:, None] + gain)
