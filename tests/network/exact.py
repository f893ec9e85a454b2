"""A second solver, independent of the package's: nodal analysis in exact rational numbers.

Bolted joints are merged by union-find, opens left out, the part that holds the first lead is
grounded at the second lead, one ampere is driven into the first, and the nodal equations are
solved by Gauss's elimination on ``fractions.Fraction``. Nothing is rounded anywhere.
"""

import math
from fractions import Fraction

LEADS = ("first lead", "second lead")


def made_branches(network, probe):
    """Return what conducts while a probe reads: fitted, not behind a gate, or a gate then made."""
    for branch in network.values():
        if not branch.gate or branch.normally_made != (branch.gate in probe.operated):
            yield branch
    yield from probe.fitted


def exact_ohm(network, probe):
    """Return what a probe reads as a Fraction, or infinity where nothing joins the leads."""
    links = [(b.start, b.end, b.r_ohm) for b in made_branches(network, probe)]
    for lead, touched in zip(LEADS, (probe.first, probe.second), strict=True):
        links += [(lead, node, 0.0) for node in touched]
    root = merged((start, end) for start, end, r_ohm in links if r_ohm == 0)
    source, ground = root(LEADS[0]), root(LEADS[1])
    if source == ground:
        return Fraction(0)
    siemens = {}
    for start, end, r_ohm in links:
        a, b = root(start), root(end)
        if r_ohm == 0 or math.isinf(r_ohm) or a == b:
            continue
        for one, other in ((a, b), (b, a)):
            row = siemens.setdefault(one, {})
            row[other] = row.get(other, Fraction(0)) + 1 / Fraction(r_ohm)
    part = reached(siemens, source)
    if ground not in part:
        return math.inf
    unknown = sorted(part - {ground}, key=lambda node: (node == source, str(node)))
    return _last_potential(
        [
            [
                sum(siemens[p].values()) if p == q else -siemens[p].get(q, Fraction(0))
                for q in unknown
            ]
            for p in unknown
        ]
    )


def made_by_name(network, operated):
    """Return the branches that conduct by their names, gates operated as a probe operates them."""
    return {
        name: branch
        for name, branch in network.items()
        if not math.isinf(branch.r_ohm)
        and (not branch.gate or branch.normally_made != (branch.gate in operated))
    }


def determined(network, names, operated=frozenset()):
    """Return those of the named branches whose current the network determines.

    What has a path of bolted joints beside it can have any share of their current.
    """
    made = made_by_name(network, operated)
    bolted = {name: b for name, b in made.items() if b.r_ohm == b.x_ohm == 0}
    found = []
    for name in names:
        own = made.get(name)
        root = merged((b.start, b.end) for other, b in bolted.items() if other != name)
        if own is None or root(own.start) != root(own.end):
            found.append(name)
    return found


def merged(joints):
    """Return a function from a node to the one that stands for all it is bolted to."""
    parent = {}

    def root(node):
        while parent.setdefault(node, node) != node:
            node = parent[node]
        return node

    for start, end in joints:
        parent[root(start)] = root(end)
    return root


def reached(neighbours, start):
    """Return the nodes that have a path to one, itself with them."""
    found, todo = {start}, [start]
    while todo:
        fresh = set(neighbours.get(todo.pop(), {})) - found
        found |= fresh
        todo += fresh
    return found


def _last_potential(matrix):
    """Return the last unknown of ``matrix @ x = (0, ..., 0, 1)``.

    Only the last equation has a right side, so after elimination x is one over the last pivot;
    a connected part grounded at one node has no zero pivot.
    """
    size = len(matrix)
    for k in range(size - 1):
        for i in range(k + 1, size):
            factor = matrix[i][k] / matrix[k][k]
            if factor:
                for j in range(k, size):
                    matrix[i][j] -= factor * matrix[k][j]
    return 1 / matrix[-1][-1]
