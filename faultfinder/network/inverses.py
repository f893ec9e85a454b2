"""Inverses of very many small symmetric matrices, some of which have none.

They are what an edit's ports see of one another (``lowrank.py``), scaled so that what a number was
the difference of is of the order of one: a number far below that is rounding, and nil.
"""

import numpy as np
import numpy.typing as npt

from faultfinder.network.ports import Floats

Flags = npt.NDArray[np.bool_]

_NIL = 1e-13
DOUBTFUL = 1e-8
"""A number this far below what it is made of is neither surely nil nor surely not."""

_MOST_STRETCH = 1e6  # of a matrix that needs no closer look: its norm times its inverse's


def plain_inverse(between: Floats) -> tuple[Floats, Flags, Flags]:
    """Return inverses of symmetric matrices (n, k, k), rows of nothing left out.

    Also which rows have nothing, (n, k), and which matrices need a closer look, (n,).
    """
    n, k, _ = between.shape
    nil = np.all(np.abs(between) <= _NIL, axis=2)
    filled = between + nil[:, :, None] * np.eye(k)
    try:
        inverse = np.linalg.inv(filled)
    except np.linalg.LinAlgError:  # one of them at least
        return np.zeros_like(filled), nil, np.ones(n, dtype=bool)
    stretch = np.abs(filled).sum(axis=2).max(axis=1) * np.abs(inverse).sum(axis=2).max(axis=1)
    careful = np.logical_not(stretch < _MOST_STRETCH)
    inverse[careful] = 0.0
    return np.asarray(inverse * ~nil[:, None, :]), nil, careful


def careful_solution(between: Floats, facing: Floats) -> tuple[Floats, Flags, Flags]:
    """Return ``K⁻¹ B`` as far as it has a solution, where it has none, (n, p), and doubt, (n,)."""
    inverse, doubtful = _ranked_inverse(between)
    driven = inverse @ facing
    left = np.abs(facing - between @ driven)
    whole = 1.0 + np.abs(facing) + np.abs(between) @ (np.abs(inverse) @ np.abs(facing))
    return driven, np.any(left > DOUBTFUL * whole, axis=1), doubtful


def _ranked_inverse(between: Floats) -> tuple[Floats, Flags]:
    """Return inverses of symmetric matrices (n, k, k), as far as they have any.

    Gauss and Jordan's elimination with the largest pivot each time. Numbers that are rounding next
    to what cancelled are nil; rows and columns with nothing left are left out. Also which have a
    pivot that may itself be rounding.
    """
    n, k, _ = between.shape
    work = np.concatenate([between, np.broadcast_to(np.eye(k), (n, k, k))], axis=2)
    made_of = 1.0 + np.abs(between)
    each = np.arange(n)
    free_row = np.ones((n, k), dtype=bool)
    free_column = np.ones((n, k), dtype=bool)
    pivots = []
    doubtful = np.zeros(n, dtype=bool)
    for _ in range(k):
        left = np.abs(work[:, :, :k])
        left[left <= _NIL * made_of] = 0.0
        left *= free_row[:, :, None] & free_column[:, None, :]
        flat = left.reshape(n, -1).argmax(axis=1)
        i, j = flat // k, flat % k
        size = left[each, i, j]
        none = size == 0
        doubtful |= ~none & (size < DOUBTFUL * made_of[each, i, j])
        row = work[each, i] / np.where(none, 1.0, work[each, i, j])[:, None]
        row[none] = 0.0
        column = work[each, :, j].copy()
        column[each, i] = 0.0
        change = column[:, :, None] * row[:, None, :]
        work -= change
        made_of += np.abs(change[:, :, :k])
        work[each[~none], i[~none]] = row[~none]
        free_row[each, i] &= none
        free_column[each, j] &= none
        pivots.append((i, j, none))
    inverse = np.zeros((n, k, k))
    for i, j, none in pivots:
        some = each[~none]
        inverse[some, j[some]] = work[some, i[some], k:]
    return inverse, doubtful
