"""Readings of very many edits at once, to choose what to work out exactly.

An edit touches a few ports of a network. The matrix ``A`` of what ports see of one another
(``ports.py``) is made once for what is fitted; with ``K`` its block for the edit's ports, the
edit's ``t`` on the diagonal (``constraints.py``), and ``B`` its block of the edit's ports by the
leads,

    reading = A_leads - B' K⁻¹ B,

the Woodbury identity for ports. All is done in arrays, many edits of one rank at a time.

Where ``K`` has no inverse an edit cuts the only path to something. What hangs there takes up any
voltage: it is left out, and readings that would need a current through the cut are infinite.
Whether a number is nil or only rounding is told by the size of what cancelled; where that cannot
be told, and where too few figures of a reading are left, it is not ``good``, and is to be worked
out by ``solve.py``. No reading from here is to be reported.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from faultfinder.network.branch import Branch, Edit, MakeEdit, Network, Probe
from faultfinder.network.constraints import (
    WIDTH,
    Constraint,
    Stack,
    series,
)
from faultfinder.network.desk import Batch, Desk, Rig
from faultfinder.network.inverses import DOUBTFUL, Flags, careful_solution, plain_inverse
from faultfinder.network.nudges import Nudge, Nudges
from faultfinder.network.ports import Floats, Indices

_MOST_MIXED = 1e8
_MOST_APART = 1e-12  # of the most ohms: about what is nil in a matrix
_ROUNDING = 8 * float(np.finfo(float).eps)
_FIGURES = 1e-7  # relative error allowed to a good reading
_FLOOR_OHM = 1e-9  # errors that do not matter, where nothing else is said
_MOST_NUMBERS = 1_000_000  # in one array


@dataclass(frozen=True, slots=True, eq=False)
class Screened:
    """Readings of edits, quickly.

    Attributes
    ----------
    read : ndarray, shape (edits, probes)
        Resistance between the leads; infinity where no path joins them. [ohm]
    good : ndarray of bool, shape (edits, probes)
        Whether it is right to 1e-6, or within what was said not to matter.
    moved : ndarray, shape (edits, nudges, probes)
        How small changes of ohms, where any were asked for, change it to first order. [ohm]
    """

    read: Floats
    good: Flags
    moved: Floats

    @classmethod
    def open(cls, edits: int, probes: int, nudges: int = 0) -> "Screened":
        """Return readings to be filled in: all open."""
        shape = edits, probes
        moved = np.zeros((edits, nudges, probes))
        return cls(np.full(shape, np.inf), np.ones(shape, dtype=bool), moved)


def screened(
    network: Network, probes: Sequence[Probe], edits: Sequence[Edit], floor_ohm: float = _FLOOR_OHM
) -> Screened:
    """Return what each probe reads at d.c. under each edit, quickly.

    Parameters
    ----------
    network, probes, edits
        As for ``solve.resistances``, which gives the same to the last figure but takes longer.
    floor_ohm : float
        Errors that do not matter. [ohm]
    """
    return _read(Batch(Desk(network, probes), edits), floor_ohm)


def nudged(desk: Desk, makes: Sequence[MakeEdit], nudges: Sequence[Nudge]) -> Screened:
    """Return what ``screened`` does on a desk, and how small changes of ohms change it.

    Parameters
    ----------
    desk : Desk
        The network and the probes.
    makes : sequence of callable
        The edits, as functions of the network.
    nudges : sequence of Nudge
        Small changes of ohms.
    """
    batch = Batch(desk, [make(desk.network) for make in makes])
    return _read(batch, _FLOOR_OHM, Nudges(batch, makes, nudges))


def _read(batch: Batch, floor_ohm: float, nudges: Nudges | None = None) -> Screened:
    desk = batch.desk
    found = Screened.open(len(batch.edits), len(desk.probes), len(nudges or ()))
    for fitted in desk.by_fitted:
        Fitted(batch, fitted, floor_ohm, nudges).fill(found)
    np.copyto(found.moved, 0.0, where=np.isinf(found.read)[:, None])
    return found


class Fitted:
    """The network with one set of things fitted."""

    def __init__(
        self,
        batch: Batch,
        fitted: tuple[Branch, ...],
        floor_ohm: float,
        nudges: Nudges | None = None,
    ) -> None:
        self.batch, self.floor_ohm, self._nudges = batch, floor_ohm, nudges
        self.desk = desk = batch.desk
        arranged = desk.arranged(fitted)
        self.arranged, self.ports, self.matrix = arranged, arranged.ports, arranged.ports.matrix
        # Voltages are differences of ohms along paths, shares of a current differences of ones:
        # with ohms in units of the longest path's, all are of the order of one, or less.
        self.root_ohm = sqrt(self.ports.most_ohm or 1.0)
        branches = slice(0, desk.directory.first_node)
        most_s = float(-self.matrix[branches, branches].min(initial=0.0))
        # Loops of so few ohms beside paths of so many leave no figures for either.
        self.is_mixed = most_s * self.ports.most_ohm > _MOST_MIXED
        # Nor is what looks like nil surely nil, where some ohms are so few beside others. What an
        # edit puts in stands by itself, and has to be farther off to be taken for rounding.
        least_ohm, most_ohm = self.ports.least_ohm, self.ports.widest_ohm
        put_least, put_most = batch.range_ohm
        self.is_wide = least_ohm < DOUBTFUL * most_ohm or (
            min(least_ohm, put_least) < _MOST_APART * max(most_ohm, put_most)
        )
        self.constraints = [self.tied(each) for each in batch.at_rest]

    def tied(self, constraints: tuple[Constraint, ...]) -> tuple[Constraint, ...]:
        """Return constraints with the ties of all parts they join."""
        if len(self.matrix) == self.ports.nodes:
            return constraints
        part = self.ports.part
        first_node = self.desk.directory.first_node
        crossed: set[int] = set()
        for rows, shares, _ in constraints:
            if rows[0] >= first_node:
                there = {
                    int(part[row]) for row, share in zip(rows, shares, strict=True) if share and row
                }
                if len(there) > 1:
                    crossed |= there
        return (*constraints, *(series(tie) for tie in sorted(crossed - {0})))

    def fill(self, found: Screened) -> None:
        """Fill in the readings taken with these things fitted."""
        arranged = self.arranged
        plain = self._plain(arranged.leads)
        to, at = arranged.columns, arranged.at
        found.read[:, to], found.good[:, to] = plain.read[:, at], plain.good[:, at]
        found.moved[..., to] = plain.moved[..., at]
        # Nothing goes through a cut but what an edit or a lead puts beyond it.
        found.read[:, to[arranged.through]] = np.inf
        each = zip(arranged.rigs, self.touching(), strict=True)
        self.work([task for rig, touching in each for task in self._tasks(rig, touching)], found)

    def _plain(self, leads: Indices) -> Screened:
        """Return readings of every edit with nothing operated."""
        found = Screened.open(len(self.constraints), len(leads), len(self._nudges or ()))
        seen = self.matrix[:, leads[:, 0]] - self.matrix[:, leads[:, 1]]
        own = seen[leads[:, 0], np.arange(len(leads))] - seen[leads[:, 1], np.arange(len(leads))]
        for numbers, stack in _stacked(self.constraints):
            step = self._at_once(stack.t.shape[1] * len(leads), len(leads))
            for i in range(0, len(numbers), step):
                some, part = numbers[i : i + step], stack[i : i + step]
                facing = np.einsum("nki,nkip->nkp", part.shares, seen[part.rows])
                found.read[some], found.good[some], driven = self._read(part, facing, own)
                if self._nudges:
                    changes = [self._nudges.of_edit(number) for number in some.tolist()]
                    found.moved[some] = self._nudges.moved(
                        self.matrix, part, leads, driven, changes
                    )
        parts = self.ports.part[leads]
        crossing = np.flatnonzero(parts[:, 0] != parts[:, 1])
        if crossing.size:
            held = np.zeros((len(found.read), len(self.matrix)), dtype=bool)
            held[:, 0] = True
            for number, constraints in enumerate(self.constraints):
                held[number, [c.rows[0] for c in constraints]] = True
            cut = ~(held[:, parts[crossing, 0]] & held[:, parts[crossing, 1]])
            found.read[:, crossing] = np.where(cut, np.inf, found.read[:, crossing])
            found.good[:, crossing] |= cut
        return found

    def _at_once(self, numbers: int, columns: int) -> int:
        """Return how many edits to solve at once, with so many numbers each."""
        nudged = len(self._nudges.rows) * columns if self._nudges else 0
        return max(1, _MOST_NUMBERS // max(1, numbers, nudged))

    def _tasks(self, rig: Rig, touching: Flags) -> "Iterator[Task]":
        """Yield what does not follow from plain readings: a rig under edits that it acts on.

        ``touching`` says which of them see anything of what it breaks.
        """
        batch, columns = self.batch, rig.columns
        own = {number for gate in rig.operated for number in batch.gates_of.get(gate, ())}
        for number in sorted(own):
            constraints = self.tied(batch.while_rigged(rig, batch.edits[number]))
            yield Task(number, constraints, columns, rig.operated)
        if not rig.extra:
            return
        for number in np.flatnonzero(touching).tolist() if rig.is_cut else range(len(batch.edits)):
            if number not in own:
                constraints = self.tied((*batch.at_rest[number], *rig.extra))
                yield Task(number, constraints, columns, rig.operated)

    def touching(self) -> Flags:
        """Return which edits see anything of what each rig breaks, shape (rigs, edits)."""
        rigs = self.arranged.rigs
        rows = [[row for one in each for row in one.rows] for each in self.constraints]
        some = [number for number, own in enumerate(rows) if own]
        touching = np.zeros((len(rigs), len(rows)), dtype=bool)
        if some:
            starts = np.cumsum([0, *(len(rows[number]) for number in some)])[:-1]
            sees = np.stack([rig.sees for rig in rigs])[:, [row for own in rows for row in own]]
            touching[:, some] = np.logical_or.reduceat(sees, starts, axis=1)
        return touching

    def work(self, tasks: "Sequence[Task]", into: Screened) -> None:
        """Solve the tasks, those of one shape together."""
        shapes: dict[tuple[int, int], list[Task]] = {}
        for task in tasks:
            shapes.setdefault((len(task.constraints), len(task.columns)), []).append(task)
        for same in shapes.values():
            stack = Stack.of([task.constraints for task in same])
            numbers = np.array([task.number for task in same])
            columns = np.array([task.columns for task in same])
            leads = np.array(self.desk.leads)[columns]
            step = self._at_once(stack.t.shape[1] * WIDTH * columns.shape[1], columns.shape[1])
            for i in range(0, len(same), step):
                part, to = stack[i : i + step], leads[i : i + step]
                rows = part.rows[..., None]
                seen = self.matrix[rows, to[:, None, None, :, 0]]
                seen = seen - self.matrix[rows, to[:, None, None, :, 1]]
                facing = np.einsum("nki,nkip->nkp", part.shares, seen)
                first, second = to[..., 0], to[..., 1]
                own = (self.matrix[first, first] - self.matrix[first, second]) - (
                    self.matrix[second, first] - self.matrix[second, second]
                )
                found, is_good, driven = self._read(part, facing, own)
                tied = self._held(part, self.ports.part[to])
                at = numbers[i : i + step, None], columns[i : i + step]
                into.read[at] = np.where(tied, found, np.inf)
                into.good[at] = is_good | ~tied
                if self._nudges:
                    changes = [
                        self._nudges.of_edit(task.number, task.operated)
                        for task in same[i : i + step]
                    ]
                    moved = self._nudges.moved(self.matrix, part, to, driven, changes)
                    into.moved[at[0], :, at[1]] = np.swapaxes(moved, 1, 2)

    def _held(self, stack: Stack, parts: Indices) -> Flags:
        """Return whether constraints hold the ties of the parts that leads lie in."""
        rows = stack.rows[:, :, 0]
        held = (parts == 0) | (rows[:, :, None, None] == parts[:, None]).any(axis=1)
        return np.asarray(held.all(axis=-1) | (parts[..., 0] == parts[..., 1]))

    def _read(self, stack: Stack, facing: Floats, own: Floats) -> tuple[Floats, Flags, Floats]:
        between = self._between(stack)
        return self.solved(between, self.is_shunt(stack), facing, own)

    def solved(
        self, between: Floats, is_shunt: Flags, facing: Floats, own: Floats
    ) -> tuple[Floats, Flags, Floats]:
        """Return readings, (n, p), and which are good, of n edits with k constraints each.

        Also what each constraint drives in, (n, k, p), with one ampere through the leads.

        ``between`` is what the constraints' ports see of one another, (n, k, k), with ``t``, and
        ``is_shunt`` says which are shunt ports, (n, k); ``facing`` is what they see of the leads,
        (n, k, p), and ``own`` what the leads see of themselves, (p,) or (n, p).
        """
        if not between.shape[1]:
            read = np.broadcast_to(own, (len(between), facing.shape[-1]))
            return read, self._is_good(read, np.zeros_like(read)), facing
        shares = 1.0 / self.root_ohm ** (2.0 * is_shunt - 1.0)
        unit = shares[:, :, None] * shares[:, None]
        scaled = between * unit
        inverse, nil, careful = plain_inverse(scaled)
        inverse *= unit
        driven = inverse @ facing
        cut = np.any(np.abs(facing) * (nil * shares)[..., None] > DOUBTFUL, axis=1)
        doubtful = np.zeros(len(between), dtype=bool)
        rows = np.flatnonzero(careful)
        if rows.size:
            driven[rows], cut[rows], doubtful[rows] = careful_solution(
                scaled[rows], facing[rows] * shares[rows, :, None]
            )
            driven[rows] *= shares[rows, :, None]
        # Twice what the leads see of what is driven, less what that sees of itself: an error in
        # what is driven counts squared. ``|x|' |K| |x|`` measures what rounding of ``K`` does.
        x = driven / shares[..., None]
        each = facing * driven
        read = own - 2.0 * each.sum(axis=1) + (x * (scaled @ x)).sum(axis=1)
        np.abs(x, out=x)
        size = np.abs(each, out=each) + x * (np.maximum(np.abs(scaled), 1.0) @ x)
        good = self._is_good(read, size.sum(axis=1)) | cut
        if self.is_wide:
            unsure = careful | (nil & scaled.any(axis=2)).any(axis=1)
            good &= ~(cut & unsure[:, None])
        # Ohms of an edit beside a network of so few leave no figures either.
        mixed = (np.abs(scaled) > _MOST_MIXED).any(axis=(1, 2))
        good &= ~(doubtful | mixed | self.is_mixed)[:, None]
        np.maximum(read, 0.0, out=read)
        read[cut] = np.inf
        return read, good, driven

    def _between(self, stack: Stack) -> Floats:
        """Return what constraints' ports see of one another, (n, k, k), with ``t``."""
        n, k = stack.t.shape
        rows, shares = stack.rows.reshape(n, -1), stack.shares.reshape(n, -1)
        seen = self.matrix[rows[:, :, None], rows[:, None, :]]
        seen *= shares[:, :, None] * shares[:, None, :]
        # Alike first, so that what two nodes share cancels before it is added to anything.
        seen = seen.reshape(n, k, WIDTH, k, WIDTH).sum(axis=4).sum(axis=2)
        diagonal = np.arange(k)
        seen[:, diagonal, diagonal] += stack.t
        return np.asarray(seen)

    def is_shunt(self, stack: Stack) -> Flags:
        """Return which constraints are of shunt ports, shape of ``t``."""
        rows = stack.rows[..., 0]
        return np.asarray((rows >= self.desk.directory.first_node) & (rows < self.ports.nodes))

    def _is_good(self, read: Floats, size: Floats) -> Flags:
        error = _ROUNDING * (self.ports.most_ohm + size)
        return np.asarray(error <= np.maximum(self.floor_ohm, _FIGURES * np.abs(read)))


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """One edit read at the columns of one set-up."""

    number: int
    constraints: tuple[Constraint, ...]
    columns: Indices
    operated: frozenset[str] = frozenset()


def _stacked(
    several: Sequence[tuple[Constraint, ...]],
) -> Iterator[tuple[Indices, Stack]]:
    """Yield the constraints of one length stacked, with their numbers."""
    by_length: dict[int, list[int]] = {}
    for number, constraints in enumerate(several):
        by_length.setdefault(len(constraints), []).append(number)
    for numbers in by_length.values():
        yield np.array(numbers), Stack.of([several[number] for number in numbers])
