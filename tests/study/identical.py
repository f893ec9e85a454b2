"""How few suspects a diagnosis can end with: the faults that read exactly as the truth does."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from drawing import ALONG, Circuit, Fault, Key
from resistances import Floats, Sweep, readings, sweep

EQUAL_OHM = 1e-6
_GOLDEN = (5**0.5 - 1) / 2


def identical_faults(
    circuit: Circuit, truth: Fault, keys: Sequence[Key], faults: Sequence[Fault]
) -> list[Fault]:
    """Return the faults that give the very readings the truth gives, the truth among them.

    A fault with ohms counts if some value of them does it, a bridge in a run if some spot does.

    Parameters
    ----------
    circuit : Circuit
        The circuit as drawn.
    truth : Fault
        What is wrong, with its ohms.
    keys : sequence of Key
        What was read.
    faults : sequence of Fault
        What might be wrong.
    """
    exact = readings(circuit, truth, keys)
    found: dict[object, Fault] = {truth.label: truth}
    for fault in faults:
        if fault.label not in found and _misfit_anywhere(circuit, fault, keys, exact) < EQUAL_OHM:
            found[fault.label] = fault
    return list(found.values())


def _misfit_anywhere(circuit: Circuit, fault: Fault, keys: Sequence[Key], exact: Floats) -> float:
    """Return the least misfit over where a bridge lies, for a fault in one place just that."""

    def at(along: float | None) -> float:
        return misfit(sweep(circuit, replace(fault, along=along), keys), exact)

    if fault.along is None:
        return at(None)
    low, high = ALONG
    spots = np.linspace(low, high, 7).tolist()
    best = min(range(7), key=lambda i: at(spots[i]))
    low, high = spots[max(0, best - 1)], spots[min(6, best + 1)]
    while high - low > 1e-8:
        left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        low, high = (low, right) if at(left) < at(right) else (left, high)
    return at((low + high) / 2)


def misfit(family: Sweep, exact: Floats) -> float:
    """Return the greatest difference at the best ohms, infinity if no ohms come near. [ohm]

    The ohms follow from the reading that feels them most; then every reading has to agree.
    """
    finite = np.isfinite(exact)
    if np.any(finite != np.isfinite(family.base)):
        return np.inf
    values = family.base
    if not family.is_constant:
        most = int(np.argmax(family.k2))
        fall = family.base[most] - exact[most]
        left = family.k2[most] - fall * family.r_uv[most]
        if left <= 0:  # no ohms, or less than none
            return np.inf
        conductance = 1 / family.at_ohm + fall / left
        if conductance <= 0:  # as good as open, or more
            return np.inf
        values = family.at(1 / conductance)
        if np.any(finite != np.isfinite(values)):
            return np.inf
    return float(np.max(np.abs(values[finite] - exact[finite]), initial=0.0))
