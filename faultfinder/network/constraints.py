"""Edits, gates and leads as constraints on ports of the network as drawn.

With current ``j`` driven in at a shunt port and voltage ``e`` put in at a series port, an edit says
of each port it touches that

    voltage seen + ohms × j = 0                   for a branch added between two nodes,
    current seen = 0                              for a branch taken away or open,
    current seen - e / (ohms added) = 0           for ohms added to a branch.

All are ``seen + t × driven = 0``: a constraint is a port and its ``t``. Bolted joints and opens are
both ``t = 0``, and nothing is infinite.

A tap, the spot along a branch where an edit cuts it in two, needs no node of its own: what is led
in there is as if led in at both ends, by how near they are, behind ``r s (1 - s)`` ohm.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from faultfinder.network.branch import Branch, BranchName, Edit, Network, Node, Probe
from faultfinder.network.ports import Directory, Floats, Indices, conducts

WIDTH = 4  # rows that a port may be a combination of
_SAME_OHM = 1e-9  # relative


class Constraint(NamedTuple):
    """A port, as rows of the directory and their shares, and its ``t``."""

    rows: tuple[int, int, int, int]
    shares: tuple[float, float, float, float]
    t: float


_FULL = (1.0, -1.0, 0.0, 0.0)


def series(row: int, t: float = 0.0) -> Constraint:
    """Return the constraint of a branch or tie: its current nil, or ``t`` for ohms added."""
    return Constraint((row, 0, 0, 0), _FULL, t)


def shunt(first: int, second: int, t: float = 0.0) -> Constraint:
    """Return the constraint of a branch between two nodes."""
    return Constraint((first, second, 0, 0), _FULL, t)


def of_edit(
    network: Network, directory: Directory, edit: Edit, operated: frozenset[str] = frozenset()
) -> tuple[Constraint, ...]:
    """Return what an edit asks of a network at rest, while gates are operated."""
    taps = _taps(network, directory, edit)
    found = []
    pieces = {name for tap in taps.values() for name in tap.pieces}
    for name, new in edit.items():
        if name in pieces:
            continue
        old = network.get(name)
        is_made = new is not None and conducts(new, operated) and new.start != new.end
        was_made = old is not None and conducts(old)
        if new and not is_made:  # it may conduct later: its nodes get their rows now
            _shunt(directory, taps, new)
        if old and new and was_made and is_made and {old.start, old.end} == {new.start, new.end}:
            more_ohm = new.r_ohm - old.r_ohm
            if more_ohm:
                found.append(series(directory.branch[name], -1 / more_ohm))
            continue
        if was_made:
            found.append(series(directory.branch[name]))
        if new and is_made:
            found.append(_shunt(directory, taps, new))
    return tuple(found)


def of_gates(
    network: Network, directory: Directory, names: Iterable[BranchName], edit: Edit
) -> Iterator[Constraint]:
    """Yield what operating the gates of branches asks of those that an edit leaves as drawn."""
    for name in names:
        branch = network[name]
        if name in edit:
            continue
        if conducts(branch):
            yield series(directory.branch[name])
        elif conducts(branch, frozenset([branch.gate])):
            yield shunt(directory.node(branch.start), directory.node(branch.end), branch.r_ohm)


def of_leads(directory: Directory, probe: Probe) -> Iterator[Constraint]:
    """Yield what joins the nodes under one lead."""
    for touched in (probe.first, probe.second):
        for node in touched[1:]:
            if node != touched[0]:
                yield shunt(directory.node(touched[0]), directory.node(node))


class _Tap(NamedTuple):
    start: Node
    end: Node
    share: float
    r_ohm: float
    pieces: tuple[BranchName, BranchName, BranchName]


def _taps(network: Network, directory: Directory, edit: Edit) -> dict[Node, _Tap]:
    """Return the spots where an edit cuts a branch in two and joins one branch to the cut."""
    taps: dict[Node, _Tap] = {}
    if None not in edit.values():
        return taps
    for name, new in edit.items():
        if new is not None:
            continue
        near, far = edit.get((*name, "near")), edit.get((*name, "far"))
        whole = network.get(name)
        if not (near and far and whole) or not conducts(whole):
            continue
        spot = near.end
        others = [key for key, b in edit.items() if b and spot in {b.start, b.end}]
        if (
            (near.start, far.start, far.end) == (whole.start, spot, whole.end)
            and abs(near.r_ohm + far.r_ohm - whole.r_ohm) <= _SAME_OHM * whole.r_ohm
            and not (whole.gate or near.gate or far.gate)
            and min(whole.x_ohm, near.x_ohm, far.x_ohm) >= 0
            and whole.r_ohm > 0
            and spot not in directory.drawn
            and len(others) == len(("near", "far", "joined"))
        ):
            pieces = (name, (*name, "near"), (*name, "far"))
            taps[spot] = _Tap(whole.start, whole.end, near.r_ohm / whole.r_ohm, whole.r_ohm, pieces)
    return taps


def _shunt(directory: Directory, taps: dict[Node, _Tap], branch: Branch) -> Constraint:
    if not taps:
        return shunt(directory.node(branch.start), directory.node(branch.end), branch.r_ohm)
    rows, shares, t = [], [], branch.r_ohm
    for node, sign in ((branch.start, 1.0), (branch.end, -1.0)):
        tap = taps.get(node)
        if tap:
            rows += [directory.node(tap.start), directory.node(tap.end)]
            shares += [sign * (1 - tap.share), sign * tap.share]
            t += tap.r_ohm * tap.share * (1 - tap.share)
        else:
            rows += [directory.node(node), 0]
            shares += [sign, 0.0]
    return Constraint((*rows,), (*shares,), t)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Constraints of several edits or set-ups, k each: rows and shares (n, k, 4), t (n, k)."""

    rows: Indices
    shares: Floats
    t: Floats

    @classmethod
    def of(cls, several: Sequence[Sequence[Constraint]]) -> "Stack":
        """Stack lists of one length."""
        shape = len(several), len(several[0])
        flat = [constraint for each in several for constraint in each]
        return cls(
            np.array([c.rows for c in flat], dtype=np.intp).reshape(*shape, WIDTH),
            np.array([c.shares for c in flat], dtype=float).reshape(*shape, WIDTH),
            np.array([c.t for c in flat], dtype=float).reshape(shape),
        )

    def __getitem__(self, which: "slice | Indices | int") -> "Stack":
        """Return some of them, or one without its first axis."""
        return Stack(self.rows[which], self.shares[which], self.t[which])
