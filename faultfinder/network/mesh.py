"""Star-mesh elimination, for many edits of one network and many readings at once.

Method
------
A node with branch admittances y_1 … y_d is taken away and every pair of its neighbours gains
y_i y_j / (y_1 + … + y_d). It is Gaussian elimination of the nodal matrix, but only adds, multiplies
and divides what the branches hold, and no diagonal is stored, so that nothing is ever subtracted:
with resistances every digit survives even where milliohms and gigohms meet in one network (state
reduction in the manner of Grassmann, Taksar and Heyman, 1985; cited from memory). With reactance,
imaginary parts of either sign can still cancel in a sum: near a resonance of quality Q about
1e-16 Q of the reading is lost, and a lossless branch exactly at resonance has no answer.

An open is an absent branch, admittance exactly zero. A bolted joint is given ``BOLTED_S``: its
1e-18 ohm lies below the rounding of any resistance over 1e-2 ohm and changes one of 1e-4 ohm by
one part in 1e14, which subtraction-free elimination leaves as harmless as it sounds.

All edits are solved together: an admittance that differs between edits is a numpy vector with one
entry an edit, one that does not is a plain number. Readings share work by halving: nodes that no
reading of a half needs are taken away before that half is halved again, so that r readings on n
nodes cost about n log r eliminations, not n r.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from heapq import heapify, heappop, heappush
from math import inf
from typing import Any

import numpy as np
import numpy.typing as npt

from faultfinder.network.branch import Branch, Edit, Network, Node, Probe

Values = npt.NDArray[Any]
"""Real or complex, shape (edits,) or ()."""

Admittance = Values | float | complex
Mesh = dict[Node, dict[Node, Admittance]]

BOLTED_S = 1e18

_MOST_FRESH = 2.0
"""Pairs that a node which no reading needs may join, for each of its branches. Where readings keep
the ends of side branches all along a run, taking away all of the run would join every end to every
other; such nodes wait until fewer ends are kept. Of 1, 2 and no bound, 2 was the quickest."""

_FEW = 16
"""Nodes kept, at which halving ends: what it would save is less than the dividing costs. Of 0 to 24
measured, 16 was the quickest for one edit and 14 for many."""


@dataclass(frozen=True, slots=True)
class _Gated:
    start: Node
    end: Node
    admittance: Admittance
    normally_made: bool


_Gates = Mapping[str, tuple[_Gated, ...]]


@dataclass(frozen=True, slots=True)
class Task:
    """What to do with a network: how branches admit, which nodes to keep, how to read.

    Attributes
    ----------
    admit : callable
        Admittance of a branch. [S]
    kept : frozenset of Node
        Nodes that no reading may lose.
    read : callable
        From a mesh with everything fitted, and a probe, to what it reads under each edit.
    fitted : mapping
        Admittance under each edit of what probes fit, where edits differ in it. [S]
    """

    admit: Callable[[Branch], complex]
    kept: frozenset[Node]
    read: Callable[[Mesh, Probe], Values]
    fitted: Mapping[Branch, Values] = field(default_factory=dict)

    def fit(self, branch: Branch) -> Admittance:
        """Return the admittance of something fitted. [S]"""
        return self.fitted[branch] if branch in self.fitted else self.admit(branch)


def run(
    task: Task, network: Network, probes: Sequence[Probe], edits: Sequence[Edit], out: Values
) -> None:
    """Fill ``out``, shape (edits, probes), with what each probe reads under each edit."""
    mesh, gates = _batch(task, network, edits)
    if probes:
        _halve(task, mesh, gates, list(enumerate(probes)), out)


def _batch(task: Task, network: Network, edits: Sequence[Edit]) -> tuple[Mesh, _Gates]:
    """Lay all edits over one another: one set of nodes, a vector where edits differ."""
    count = len(edits)
    everything = (*network.values(), *(b for edit in edits for b in edit.values() if b))
    kind = np.result_type(*{type(task.admit(branch)) for branch in everything}, float)
    touched: dict[tuple[str, ...], dict[int, Branch | None]] = {}
    for index, edit in enumerate(edits):
        for name, branch in edit.items():
            touched.setdefault(name, {})[index] = branch
    laid: dict[tuple[Node, Node, str, bool], Admittance] = {}

    def lay(branch: Branch, g: Admittance) -> None:
        ends = (min(branch.start, branch.end), max(branch.start, branch.end))
        key = (*ends, branch.gate, branch.normally_made)
        laid[key] = laid[key] + g if key in laid else g

    for name, branch in network.items():
        if name in touched:
            kept = np.full(count, task.admit(branch), dtype=kind)
            kept[list(touched[name])] = 0.0
            lay(branch, kept)
        else:
            lay(branch, task.admit(branch))
    added: dict[tuple[Node, Node, str, bool], tuple[Branch, Values]] = {}
    for replaced in touched.values():
        for index, new in replaced.items():
            if new is None:
                continue
            key = (new.start, new.end, new.gate, new.normally_made)
            if key not in added:
                added[key] = (new, np.zeros(count, dtype=kind))
            added[key][1][index] += task.admit(new)
    for new, sums in added.values():
        lay(new, sums)

    mesh: Mesh = {}
    gates: dict[str, tuple[_Gated, ...]] = {}
    for (start, end, gate, normally_made), g in laid.items():
        if gate:
            gates[gate] = (*gates.get(gate, ()), _Gated(start, end, g, normally_made))
        else:
            join(mesh, start, end, g)
    return mesh, gates


def join(mesh: Mesh, a: Node, b: Node, g: Admittance) -> None:
    """Put an admittance between two nodes, beside any that is there."""
    if a == b:
        return
    row = mesh.setdefault(a, {})
    row[b] = mesh.setdefault(b, {})[a] = row[b] + g if b in row else g


def eliminate(mesh: Mesh, keep: AbstractSet[Node], most_fresh: float = inf) -> None:
    """Take away all nodes but ``keep``, fewest neighbours first (least fill-in).

    A node stays if its going would join more than ``most_fresh`` pairs, for each of its branches,
    that nothing joins yet.
    """
    queue = [(len(mesh[node]), node) for node in mesh if node not in keep]
    heapify(queue)
    while queue:
        degree, node = heappop(queue)
        if node not in mesh or len(mesh[node]) != degree:  # gone, or queued anew since
            continue
        if degree > most_fresh and _fresh(mesh, node) > most_fresh * degree:
            continue
        star = list(mesh.pop(node).items())
        for neighbour, _ in star:
            del mesh[neighbour][node]
        if len(star) > 1:
            total: Admittance = sum((g for _, g in star[1:]), start=star[0][1])
            # A node that some edits leave with no branch at all has a total of zero and nothing to
            # pass on: dividing by one instead leaves the zeros as they are.
            if isinstance(total, np.ndarray):
                share: Admittance = 1.0 / np.where(total != 0, total, 1.0)
            else:
                share = 1.0 / (total or 1.0)
            scaled = [g * share for _, g in star]
            for i, (a, g) in enumerate(star):
                for j in range(i):
                    join(mesh, a, star[j][0], g * scaled[j])
        for neighbour, _ in star:
            if neighbour not in keep:
                heappush(queue, (len(mesh[neighbour]), neighbour))


def _fresh(mesh: Mesh, node: Node) -> int:
    """Return how many pairs of a node's neighbours nothing joins yet."""
    around = list(mesh[node])
    return sum(b not in mesh[a] for i, a in enumerate(around) for b in around[:i])


def _settle(mesh: Mesh, gated: Iterable[_Gated], *, operated: bool) -> None:
    for contact in gated:
        if contact.normally_made != operated:
            join(mesh, contact.start, contact.end, contact.admittance)


def _needed(probe: Probe, gates: _Gates) -> set[Node]:
    nodes = {*probe.first, *probe.second}
    for branch in probe.fitted:
        nodes |= {branch.start, branch.end}
    for gate in probe.operated:
        for contact in gates.get(gate, ()):
            nodes |= {contact.start, contact.end}
    return nodes


def _halve(
    task: Task, mesh: Mesh, gates: _Gates, probes: list[tuple[int, Probe]], out: Values
) -> None:
    """Read a set of probes: drop what none of them needs, then do each half alone."""
    mesh = _copy(mesh)
    operated = frozenset[str]().union(*(probe.operated for _, probe in probes))
    for gate, contacts in gates.items():
        if gate not in operated:
            _settle(mesh, contacts, operated=False)
    gates = {gate: contacts for gate, contacts in gates.items() if gate in operated}
    needs = [task.kept | _needed(probe, gates) for _, probe in probes]
    keep = set[Node]().union(*needs)
    if len(keep) <= _FEW or all(need == keep for need in needs):
        eliminate(mesh, keep)
        _read_here(task, mesh, gates, probes, out)
        return
    eliminate(mesh, keep, _MOST_FRESH)
    # Readings at one place stay together, so that a half is a stretch of the circuit.
    order = sorted(range(len(probes)), key=lambda i: sorted(needs[i]))
    middle = len(order) // 2
    while middle < len(order) and needs[order[middle]] == needs[order[middle - 1]]:
        middle += 1
    if middle == len(order):
        middle = next(i for i in range(1, len(order)) if needs[order[i]] != needs[order[i - 1]])
    for half in (order[:middle], order[middle:]):
        _halve(task, mesh, gates, [probes[i] for i in half], out)


def _read_here(
    task: Task, mesh: Mesh, gates: _Gates, probes: list[tuple[int, Probe]], out: Values
) -> None:
    """Read a few probes: those that operate alike, and those that fit alike, share the work."""
    for operating in _alike(probes, lambda probe: probe.operated):
        switched = _copy(mesh)
        for gate, contacts in gates.items():
            _settle(switched, contacts, operated=gate in operating[0][1].operated)
        eliminate(switched, task.kept.union(*(_needed(probe, {}) for _, probe in operating)))
        for same in _alike(operating, lambda probe: probe.fitted):
            fitted = _copy(switched)
            for branch in same[0][1].fitted:
                join(fitted, branch.start, branch.end, task.fit(branch))
            if len(same) > 1:
                touched = {node for _, probe in same for node in (*probe.first, *probe.second)}
                eliminate(fitted, task.kept | touched)
            for index, probe in same:
                out[:, index] = task.read(_copy(fitted), probe)


def _alike(
    probes: Sequence[tuple[int, Probe]], how: Callable[[Probe], object]
) -> Iterable[list[tuple[int, Probe]]]:
    """Return probes by what they have in common."""
    found: dict[object, list[tuple[int, Probe]]] = {}
    for index, probe in probes:
        found.setdefault(how(probe), []).append((index, probe))
    return found.values()


def _copy(mesh: Mesh) -> Mesh:
    return {node: dict(row) for node, row in mesh.items()}
