"""What the ports of a network see of one another: one symmetric matrix for all of them.

A *shunt* port is a pair of nodes: a current is driven in at one and out at the other, and the
voltage between them is seen. A *series* port is a branch cut open: a voltage is put in series with
it, and its current is seen. A *tie* is the series port of a joint of no ohms that holds a part of
the network, which nothing else joins to the rest, to it: its current is to be nil.

Method
------
The branches of least ohms that join all there is are a tree; a branch beyond it, a *chord*, closes
a loop. A current from node u to node v flows by the tree's path, so that without chords

    voltage between (w, x) = ohms of the path w..x shared with u..v, by direction
    current in branch b    = 1 if b is on the path u..v, by direction, else 0

which are sums of ohms, and whole numbers. With ``S`` the ohms two nodes' paths to the root share
and ``D`` whether a branch is on a node's path, ``[[S, D], [D', 0]]`` holds both, and a port is the
difference of two of its rows, of nodes, or of a branch and the root (a row of zeros). Loops take
off ``U M⁻¹ U'``: ``U`` is what each chord's ends see, ``M`` the loops' own ohms, positive definite.
A branch in no loop has no entry of ``U``, and its own conductance is exactly zero.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import inf, isfinite

import numpy as np
import numpy.typing as npt

from faultfinder.network.branch import Branch, Network, Node

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

_LEAST_LOOP_OHM = 1e-9  # a loop of bolted joints alone; how its current divides is told by nothing


class Directory:
    """Where each branch, thing fitted and node has its row, whatever is fitted; ties come after.

    Row 0 is of zeros, the root's. Nodes may be added until a matrix is made.
    """

    def __init__(self, network: Network, fitted: Iterable[Branch] = ()) -> None:
        """Give rows to the branches of a network and to what is ever fitted, then to nodes."""
        self.branch = {name: row for row, name in enumerate(network, start=1)}
        self.fitted = {
            branch: row for row, branch in enumerate(dict.fromkeys(fitted), start=len(network) + 1)
        }
        self.first_node = 1 + len(network) + len(self.fitted)
        self._nodes: dict[Node, int] = {}
        for branch in network.values():
            self.node(branch.start)
            self.node(branch.end)
        self.drawn = frozenset(self._nodes)
        for branch in self.fitted:
            self.node(branch.start)
            self.node(branch.end)

    def node(self, node: Node) -> int:
        """Return the row of a node, a new one if it has none yet."""
        return self._nodes.setdefault(node, self.first_node + len(self._nodes))

    @property
    def nodes(self) -> slice:
        """The rows of nodes."""
        return slice(self.first_node, self.first_node + len(self._nodes))


@dataclass(frozen=True, slots=True, eq=False)
class Ports:
    """What rows of a directory see of one another.

    Attributes
    ----------
    matrix : ndarray, shape (n, n)
        Symmetric: volts per ampere, amperes per ampere, and less amperes per volt.
    part : ndarray of int, shape (n,)
        Row of the tie that holds the part a row's node is in; 0 for the root's part.
    most_ohm : float
        The most ohms on any path to the root: what rounding is measured by. [ohm]
    least_ohm, widest_ohm : float
        The least ohms of a branch that is not bolted, and the most of any branch or path. [ohm]
    nodes : int
        Where the rows of nodes end, and those of ties begin.
    """

    matrix: Floats
    part: Indices
    most_ohm: float
    least_ohm: float
    widest_ohm: float
    nodes: int


def conducts(branch: Branch, operated: frozenset[str] = frozenset()) -> bool:
    """Tell whether a branch conducts at d.c. while gates are operated."""
    made = not branch.gate or branch.normally_made != (branch.gate in operated)
    return made and isfinite(branch.r_ohm) and branch.x_ohm >= 0


def ports(network: Network, directory: Directory, fitted: Sequence[Branch]) -> Ports:
    """Return what the ports of a network at rest see, with branches fitted to it."""
    branches = [
        *((branch, directory.branch[name]) for name, branch in network.items()),
        *((branch, directory.fitted[branch]) for branch in fitted),
    ]
    links = [
        (branch.r_ohm, directory.node(branch.start), directory.node(branch.end), row)
        for branch, row in branches
        if conducts(branch) and branch.start != branch.end
    ]
    nodes = directory.nodes
    neighbours, chords = _tree(links, nodes.stop)
    order, parts = _walk(neighbours, nodes)
    matrix = np.zeros((nodes.stop + parts,) * 2)
    part = np.zeros(len(matrix), dtype=np.intp)
    for node, before, r_ohm, row in order:
        matrix[node] = matrix[before]
        matrix[nodes, node] = matrix[before, nodes]
        matrix[node, node] = matrix[before, before] + r_ohm
        part[node] = part[before] if before else row
        if row:
            matrix[node, row] = 1.0
    for others in (slice(0, nodes.start), slice(nodes.stop, None)):
        matrix[others, nodes] = matrix[nodes, others].T
    most_ohm = float(matrix[nodes, nodes].max(initial=0.0))
    if chords:
        _close(matrix, chords)
    ohms = [r_ohm for r_ohm, *_ in links if r_ohm]
    least_ohm, widest_ohm = min(ohms, default=inf), max((most_ohm, *ohms))
    return Ports(matrix, part, most_ohm, least_ohm, widest_ohm, nodes.stop)


def _walk(
    neighbours: "list[list[tuple[int, float, int]]]", nodes: slice
) -> tuple[list[tuple[int, int, float, int]], int]:
    """Return each node, the one before it, ohms and row of what joins them; and how many ties.

    The first node is the root; every other part hangs from it by a tie.
    """
    order: list[tuple[int, int, float, int]] = []
    seen: set[int] = set()
    parts = 0
    for root in range(nodes.start, nodes.stop):
        if root in seen:
            continue
        order.append((root, 0, 0.0, nodes.stop + parts - 1 if parts else 0))
        parts += 1
        seen.add(root)
        todo = [root]
        while todo:
            near = todo.pop()
            for far, r_ohm, row in neighbours[near]:
                if far not in seen:
                    seen.add(far)
                    order.append((far, near, r_ohm, row))
                    todo.append(far)
    return order, max(parts - 1, 0)


_Link = tuple[float, int, int, int]  # ohms, node, node, row of the branch


def _tree(links: list[_Link], count: int) -> tuple[list[list[tuple[int, float, int]]], list[_Link]]:
    """Return each node's neighbours in a tree of least ohms, and the links left over."""
    neighbours: list[list[tuple[int, float, int]]] = [[] for _ in range(count)]
    chords = []
    stands_for = list(range(count))

    def root(node: int) -> int:
        while stands_for[node] != node:
            stands_for[node] = stands_for[stands_for[node]]
            node = stands_for[node]
        return node

    for link in sorted(links):
        r_ohm, a, b, row = link
        one, other = root(a), root(b)
        if one == other:
            chords.append(link)
            continue
        stands_for[one] = other
        neighbours[a].append((b, r_ohm, row))
        neighbours[b].append((a, r_ohm, row))
    return neighbours, chords


def _close(matrix: Floats, chords: list[_Link]) -> None:
    """Close the loops of chords, in place."""
    r_ohm = np.array([chord[0] for chord in chords])
    start, end, row = (np.array([chord[i] for chord in chords]) for i in (1, 2, 3))
    ends = matrix[:, start] - matrix[:, end]
    round_loop = ends[start] - ends[end]
    own = np.diag(round_loop) + r_ohm
    round_loop[np.diag_indices_from(round_loop)] = np.maximum(own, _LEAST_LOOP_OHM)
    ends[row, np.arange(len(row))] = -1.0
    whitened = np.linalg.solve(np.linalg.cholesky(round_loop), ends.T)
    matrix -= whitened.T @ whitened
