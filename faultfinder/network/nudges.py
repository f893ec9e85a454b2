"""How readings change with small changes of ohms, to first order.

With one ampere through the leads, a small change of a branch's ohms changes the reading by the
square of the branch's current times as much (Cohn, The resistance of an electrical network, 1950;
from memory). What an edit adds or joins carries what is driven in at its ports (``lowrank.py``),
and its ``t`` is in ohms too: the same holds for a small change of ``t``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from faultfinder.network.branch import Branch, Edit, MakeEdit, Network
from faultfinder.network.constraints import Stack, of_edit
from faultfinder.network.desk import Batch
from faultfinder.network.ports import Floats, Indices

Changes = tuple[tuple[int, int, float], ...]
"""Constraint, nudge, and the change of its ``t``."""


@dataclass(frozen=True, slots=True)
class Nudge:
    """A small change: branches by name as they are then, and new ohms of what probes fit. [ohm]"""

    branches: Network
    fitted: Mapping[Branch, float]


class Nudges:
    """Small changes of ohms, v of them, and what they do to edits.

    Attributes
    ----------
    rows : ndarray of int, shape (b,)
        The rows, in the directory, of what changes.
    """

    def __init__(
        self,
        batch: Batch,
        makes: Sequence[MakeEdit],
        nudges: Sequence[Nudge],
    ) -> None:
        """Work out what each nudge changes in the network, and in edits made by functions of it."""
        network, directory = batch.desk.network, batch.desk.directory
        self._batch = batch
        ohms = np.zeros((len(nudges), directory.first_node))
        for row, nudge in zip(ohms, nudges, strict=True):
            for name, branch in nudge.branches.items():
                row[directory.branch[name]] = branch.r_ohm - network[name].r_ohm
            for branch, r_ohm in nudge.fitted.items():
                row[directory.fitted[branch]] = r_ohm - branch.r_ohm
        self.rows: Indices = np.flatnonzero(ohms.any(axis=0))
        self._ohms = ohms[:, self.rows]
        self._nudged: dict[int, list[tuple[int, Network, Edit]]] = {}
        for number, (make, edit) in enumerate(zip(makes, batch.edits, strict=True)):
            for which, nudge in enumerate(nudges):
                if not edit.keys().isdisjoint(nudge.branches):
                    other = {**network, **nudge.branches}
                    self._nudged.setdefault(number, []).append((which, other, make(other)))

    def __len__(self) -> int:
        """Return how many nudges there are."""
        return len(self._ohms)

    def of_edit(self, number: int, operated: frozenset[str] = frozenset()) -> Changes:
        """Return what nudges change in the constraints of an edit, while gates are operated."""
        if number not in self._nudged:
            return ()
        desk, at_rest = self._batch.desk, self._batch.at_rest[number]
        if operated:
            at_rest = of_edit(desk.network, desk.directory, self._batch.edits[number], operated)
        return tuple(
            (place, which, new.t - old.t)
            for which, network, edit in self._nudged[number]
            for place, (old, new) in enumerate(
                zip(at_rest, of_edit(network, desk.directory, edit, operated), strict=True)
            )
            if new.t != old.t
        )

    def moved(
        self,
        matrix: Floats,
        stack: Stack,
        leads: Indices,
        driven: Floats,
        changes: Sequence[Changes],
    ) -> Floats:
        """Return changes of readings, (n, v, p), of n edits.

        ``driven`` (n, k, p) is what each constraint drives in while one ampere goes through the
        ``leads``, (p, 2) or (n, p, 2); ``changes`` holds each edit's own. [ohm]
        """
        first, second = leads[..., 0], leads[..., 1]
        rows = np.expand_dims(self.rows, -1)
        through = matrix[rows, np.expand_dims(first, -2)] - matrix[rows, np.expand_dims(second, -2)]
        ports = np.einsum("bnki,nki->nbk", matrix[self.rows][:, stack.rows], stack.shares)
        through = through - ports @ driven
        own = np.zeros((len(changes), len(self), driven.shape[1]))
        for number, each in enumerate(changes):
            for place, which, change in each:
                own[number, which, place] = change
        return np.asarray(self._ohms @ through**2 + own @ driven**2)
