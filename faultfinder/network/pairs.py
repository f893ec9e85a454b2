"""Readings of very many pairs of edits at once, to choose what to work out exactly.

What any two edits' ports see of each other is one matrix, made once; a pair's ``K`` of
``lowrank.py`` is picked from it, and pairs of like ranks are solved together. Two edits that touch
no branch in common can be made in any order and are simply joined; of two that do, the second is to
be made on the network that the first left, which is for the caller to do.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from faultfinder.network.branch import Branch, Edit, Network, Probe
from faultfinder.network.constraints import Constraint, Stack, series
from faultfinder.network.desk import Batch, Desk, Rig
from faultfinder.network.inverses import Flags
from faultfinder.network.lowrank import Fitted, Screened, Task, screened
from faultfinder.network.ports import Floats, Indices

_MOST_NUMBERS = 200_000  # in one array, so that it stays in cache


class PairScreen:
    """Reads pairs of a list of edits.

    Attributes
    ----------
    touching : ndarray of bool, shape (edits, edits)
        Which touch a branch in common, each with itself too.
    """

    touching: Flags

    def __init__(
        self,
        network: Network,
        probes: Sequence[Probe],
        edits: Sequence[Edit],
        composed: Callable[[int, int], Edit],
        floor_ohm: float = 1e-9,
    ) -> None:
        """Get ready to read pairs.

        Parameters
        ----------
        network, probes, edits, floor_ohm
            As for ``lowrank.screened``.
        composed : callable
            From the numbers of two edits that touch a branch in common to the one edit that making
            the first and then the second comes to.
        """
        self._network, self._probes, self._composed = network, probes, composed
        self._floor_ohm = floor_ohm
        names = {name: i for i, name in enumerate(dict.fromkeys(n for e in edits for n in e))}
        touches = np.zeros((len(edits), len(names)), dtype=np.float32)
        for number, edit in enumerate(edits):
            touches[number, [names[name] for name in edit]] = 1.0
        self.touching = touches @ touches.T > 0
        batch = Batch(Desk(network, probes), edits)
        self._fitted = [_Paired(batch, fitted, floor_ohm) for fitted in batch.desk.by_fitted]

    def interacting(self, edits: Indices) -> Flags:
        """Return which of these edits, by number, act on each other anywhere, (n, n).

        Where two do not, and touch no branch in common, what they change in a reading adds up.
        """
        return np.asarray(np.any([fitted.interacting(edits) for fitted in self._fitted], axis=0))

    def read(self, pairs: Indices) -> Screened:
        """Return readings of pairs of edits by number, (n, 2): shape (n, probes). [ohm]"""
        found = Screened.open(len(pairs), len(self._probes))
        together = self.touching[pairs[:, 0], pairs[:, 1]]
        apart = np.flatnonzero(~together)
        for fitted in self._fitted:
            fitted.fill(pairs, apart, found)
        if together.any():
            edits = [self._composed(i, j) for i, j in pairs[together].tolist()]
            whole = screened(self._network, self._probes, edits, self._floor_ohm)
            found.read[together], found.good[together] = whole.read, whole.good
        return found


@dataclass(frozen=True, slots=True, eq=False)
class _Lists:
    """Lists of constraints end to end, and what their ports see.

    Shapes, of m constraints in l lists on u ports: between (u, u), is_shunt (u,), facing
    (u, columns); port and t (m,); first, length and ties (l,). ``ties`` numbers the set of ties
    that a list needs.
    """

    between: Floats
    is_shunt: Flags
    facing: Floats
    port: Indices
    t: Floats
    first: Indices
    length: Indices
    ties: Indices


@dataclass(frozen=True, slots=True, eq=False)
class _Listed:
    """A rig, with each edit's list of constraints in it.

    ``list_of`` is -1 where that is as at rest; ``extra`` is the list that all have besides, -1 for
    none. An edit with a list of its own needs no extra.
    """

    rig: Rig
    list_of: Indices
    extra: int


class _Paired:
    """The network with one set of things fitted."""

    def __init__(self, batch: Batch, fitted: tuple[Branch, ...], floor_ohm: float) -> None:
        self._batch = batch
        self._fitted = Fitted(batch, fitted, floor_ohm)
        self._arranged = self._fitted.arranged
        self._leads = self._arranged.leads
        self._tie_sets: list[frozenset[int]] = [frozenset()]
        self._several: list[tuple[Constraint, ...]] = list(batch.at_rest)
        each = zip(self._arranged.rigs, self._fitted.touching(), strict=True)
        self._rigs = [self._listed(rig, touching) for rig, touching in each]
        matrix = self._fitted.matrix
        # Each tie is a list of its own, the last ones.
        self._first_tie_list = len(self._several)
        self._several += [(series(tie),) for tie in range(self._fitted.ports.nodes, len(matrix))]
        self._lists = self._flat()
        first, second = self._leads.T
        self._own = (matrix[first, first] - matrix[first, second]) - (
            matrix[second, first] - matrix[second, second]
        )

    def _listed(self, rig: Rig, touching: Flags) -> _Listed:
        batch = self._batch
        list_of = np.full(len(batch.edits), -1)
        extra = -1
        special = {number for gate in rig.operated for number in batch.gates_of.get(gate, ())}
        if rig.is_cut:
            special |= set(np.flatnonzero(touching).tolist())
        elif rig.extra:
            extra = len(self._several)
            self._several.append(rig.extra)
        for number in sorted(special):
            list_of[number] = len(self._several)
            self._several.append(batch.while_rigged(rig, batch.edits[number]))
        return _Listed(rig, list_of, extra)

    def _flat(self) -> _Lists:
        fitted = self._fitted
        ties = []
        for constraints in self._several:
            crossed = frozenset(c.rows[0] for c in fitted.tied(constraints)[len(constraints) :])
            if crossed not in self._tie_sets:
                self._tie_sets.append(crossed)
            ties.append(self._tie_sets.index(crossed))
        flat = [constraint for constraints in self._several for constraint in constraints]
        # Many constraints are of one port: its ohms at both ends of a range, say.
        ports: dict[tuple[tuple[int, ...], tuple[float, ...]], int] = {}
        port = np.array(
            [ports.setdefault((c.rows, c.shares), len(ports)) for c in flat], dtype=np.intp
        )
        t = np.array([constraint.t for constraint in flat])
        stack = Stack.of([[Constraint(*which, 0.0) for which in ports]])[0]  # type: ignore[arg-type]
        both = list(zip(stack.rows.T, stack.shares.T, strict=True))
        seen = sum(fitted.matrix[rows] * shares[:, None] for rows, shares in both)
        between = np.ascontiguousarray(sum(seen[:, rows] * shares for rows, shares in both))
        facing = seen[:, self._leads[:, 0]] - seen[:, self._leads[:, 1]]
        length = np.array([len(constraints) for constraints in self._several])
        first = np.cumsum(length) - length
        shunt = fitted.is_shunt(stack)
        return _Lists(between, shunt, facing, port, t, first, length, np.array(ties))

    def interacting(self, edits: Indices) -> Flags:
        """Return which of these edits' ports see anything of one another's, (n, n)."""
        flat = self._lists
        found = self._seen(edits, edits)
        # What needs a part of the network held may act on all that is held.
        tied = flat.ties[edits] > 0
        found |= tied[:, None] | tied
        for listed in self._rigs:
            own = np.flatnonzero(listed.list_of[edits] >= 0)
            if own.size:
                seen = self._seen(listed.list_of[edits[own]], edits)
                seen[:, own] = True
                seen |= (flat.ties[listed.list_of[edits[own]]] > 0)[:, None]
                found[own] |= seen
                found[:, own] |= seen.T
            if listed.extra >= 0:
                touched = self._seen(edits, np.array([listed.extra]))
                found |= touched & touched.T
        return found

    def _seen(self, some: Indices, others: Indices) -> Flags:
        """Return which lists see anything of which other lists, (some, others)."""
        flat = self._lists
        sees = flat.between != 0

        def either(rows: Flags, lists: Indices) -> Flags:
            whole = np.zeros((len(lists), rows.shape[1]), dtype=bool)
            for place in range(int(flat.length[lists].max(initial=0))):
                has = np.flatnonzero(flat.length[lists] > place)
                whole[has] |= rows[flat.port[flat.first[lists[has]] + place]]
            return whole

        return either(np.ascontiguousarray(either(sees, some).T), others).T

    def fill(self, pairs: Indices, apart: Indices, into: Screened) -> None:
        """Fill in the readings of the pairs that are ``apart``."""
        i, j = pairs[apart].T
        plain = self._solve(np.stack([i, j], axis=1), np.arange(len(self._leads)))
        at, to = self._arranged.at, np.ix_(apart, self._arranged.columns)
        found = plain.read[:, at]
        found[:, self._arranged.through] = np.inf
        into.read[to], into.good[to] = found, plain.good[:, at]
        for listed in self._rigs:
            rig = listed.rig
            if listed.extra >= 0:
                extra = np.full(len(i), listed.extra)
                whole = self._solve(np.stack([i, j, extra], axis=1), rig.at)
                to = np.ix_(apart, rig.columns)
                into.read[to], into.good[to] = whole.read, whole.good
            one, other = listed.list_of[i], listed.list_of[j]
            for own, rest in ((one, j), (other, i)):
                alone = np.flatnonzero((own >= 0) & ((one < 0) | (other < 0)))
                if alone.size:
                    some = self._solve(np.stack([own[alone], rest[alone]], axis=1), rig.at)
                    to = np.ix_(apart[alone], rig.columns)
                    into.read[to], into.good[to] = some.read, some.good
            self._both(rig, pairs, apart[(one >= 0) & (other >= 0)], into)

    def _both(self, rig: Rig, pairs: Indices, those: Indices, into: Screened) -> None:
        """Fill in pairs of which both have a say in what a rig reads."""
        edits, tasks = self._batch.edits, []
        for number in those.tolist():
            i, j = pairs[number].tolist()
            constraints = self._batch.while_rigged(rig, {**edits[i], **edits[j]})
            tasks.append(Task(number, self._fitted.tied(constraints), rig.columns))
        self._fitted.work(tasks, into)

    def _solve(self, lists: Indices, at: Indices) -> Screened:
        """Return readings (n, columns) of n edits, each the lists of constraints in its row."""
        into = Screened.open(len(lists), len(at))
        flat = self._lists
        code = np.zeros(len(lists), dtype=np.int64)
        for each in lists.T:
            code = (code * (flat.length.max() + 1) + flat.length[each]) * len(self._tie_sets)
            code += flat.ties[each]
        parts = self._fitted.ports.part[self._leads[at]]
        crossing = parts[:, 0] != parts[:, 1]
        facing = flat.facing[:, at]
        for alike in _alike(code):
            sample = lists[alike[0]]
            held = frozenset[int]().union(*(self._tie_sets[t] for t in flat.ties[sample].tolist()))
            ties = [tie - self._fitted.ports.nodes + self._first_tie_list for tie in held]
            cut = crossing & ~np.isin(parts, [0, *held]).all(axis=1)
            k = int(flat.length[sample].sum()) + len(ties)
            step = max(1, _MOST_NUMBERS // max(1, k * max(k, len(at))))
            for start in range(0, len(alike), step):
                some = alike[start : start + step]
                places = np.concatenate(
                    [
                        *(
                            flat.first[lists[some, column], None] + np.arange(flat.length[number])
                            for column, number in enumerate(sample)
                        ),
                        np.broadcast_to(flat.first[ties], (len(some), len(ties))),
                    ],
                    axis=1,
                )
                ports = flat.port[places]
                between = flat.between.take(ports[:, :, None] * len(flat.between) + ports[:, None])
                diagonal = np.arange(k)
                between[:, diagonal, diagonal] += flat.t[places]
                found, is_good, _ = self._fitted.solved(
                    between, flat.is_shunt[ports], facing[ports], self._own[at]
                )
                into.read[some], into.good[some] = np.where(cut, np.inf, found), is_good | cut
        return into


def _alike(code: Indices) -> list[Indices]:
    """Return the places of each code, those of one code together."""
    order = np.argsort(code, kind="stable")
    return [part for part in np.split(order, np.flatnonzero(np.diff(code[order])) + 1) if part.size]
