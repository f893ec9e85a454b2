"""Currents through named branches, from their start to their end, without a subtraction.

The difference of two potentials over a milliohm would lose the digits that the potentials share. So
each branch is taken away, and all else eliminated to its two ends and the held nodes. Let the first
end then have admittances w1k to held nodes at Vk, summing to Y1, the second w2l, summing to Y2, and
let y12 join the ends beside the branch, which has z ohm. Kirchhoff's law at either end gives

    E = sum over k, l of w1k w2l (Vk - Vl) / (Y1 Y2)
    I = E / ((1/Y1 + 1/Y2)(1 + y12 z) + z)

in which terms of one held node with itself are nought, and z may be as small as a bolted joint's.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import inf

import numpy as np

from faultfinder.network.branch import Branch, BranchName, Edit, Network, Node, Probe
from faultfinder.network.mesh import Mesh, Task, Values, eliminate, run
from faultfinder.network.solve import Phasors, at_ac


def currents(
    network: Network,
    branches: Sequence[BranchName],
    potentials: Mapping[Node, complex],
    edits: Sequence[Edit] = ({},),
    *,
    fitted: tuple[Branch, ...] = (),
    operated: frozenset[str] = frozenset(),
) -> Phasors:
    """Return the current through each named branch, start to end, under each edit.

    Parameters
    ----------
    network : Network
        The network; a source's own impedance is a branch of it.
    branches : sequence of names, length b
        Branches of the network or of any of the edits.
    potentials : mapping
        Potentials that sources hold, of their nodes, the reference included. [V]
    edits : sequence of Edit, length h
        One edit a hypothesis.
    fitted : tuple of Branch
        What is fitted meanwhile, as a probe fits it.
    operated : frozenset of str
        Gates operated meanwhile, as a probe operates them.

    Returns
    -------
    ndarray of complex, shape (h, b)
        Current, rms; 0 where the branch is open or taken away, and where an end has no path to a
        source. Bolted joints side by side share a current by equal ohms. [A]

    Raises
    ------
    KeyError
        For a name that neither the network nor any edit has.
    """
    for name in branches:
        if name not in network and not any(name in edit for edit in edits):
            raise KeyError(f"no branch is named {' '.join(name)}")
    edits = [_gated(edit, branches, operated) for edit in edits]
    drawn = {name: b for name, b in _gated(network, branches, operated).items() if b}
    # An edit may land a branch on other nodes: each pair of ends is a reading of its own.
    landed = [[edit.get(name, drawn.get(name)) for name in branches] for edit in edits]
    readings: dict[tuple[str, Node, Node], int] = {}
    for branch in (b for row in landed for b in row if b and b.r_ohm < inf):
        readings.setdefault((branch.gate, branch.start, branch.end), len(readings))
    probes = [Probe((a,), (b,), fitted, operated | {gate}) for gate, a, b in readings]
    seen = np.zeros((len(edits), len(probes), 3), dtype=complex)
    task = Task(at_ac, frozenset(potentials), partial(_seen_from_ends, potentials))
    run(task, drawn, probes, edits, seen)

    out = np.zeros((len(edits), len(branches)), dtype=complex)
    for h, row in enumerate(landed):
        for b, found in enumerate(row):
            if found and found.r_ohm < inf and found.start != found.end:
                reading = readings[found.gate, found.start, found.end]
                driving_v, behind_ohm, beside_s = seen[h, reading]
                z_ohm = 1 / at_ac(found)
                out[h, b] = driving_v / (behind_ohm * (1 + beside_s * z_ohm) + z_ohm)
    return out


def _gated(part: Edit, branches: Sequence[BranchName], operated: frozenset[str]) -> Edit:
    """Put each of the branches behind a gate of its own, for its own reading to take it away."""
    gated = dict(part)
    for name in branches:
        branch = part.get(name)
        if branch is not None:
            made = not branch.gate or branch.normally_made != (branch.gate in operated)
            r_ohm, gate = branch.r_ohm if made else inf, "current through " + " ".join(name)
            gated[name] = replace(branch, r_ohm=r_ohm, gate=gate, normally_made=True)
    return gated


def _seen_from_ends(potentials: Mapping[Node, complex], mesh: Mesh, probe: Probe) -> Values:
    """Return E, 1/Y1 + 1/Y2 and y12 of the module's formula, on the last axis.

    Where an end has no path to a source E is 0, and the ohms stand for nothing.
    """
    (first,), (second,) = probe.first, probe.second
    eliminate(mesh, {first, second, *potentials})
    beside = np.asarray(0j)
    if first not in potentials and second not in potentials:
        beside = np.asarray(mesh.get(first, {}).pop(second, 0j))
        mesh.get(second, {}).pop(first, None)
    one, other = (_shares(potentials, mesh, end) for end in (first, second))
    driving = sum(
        (
            a * b * (potentials[k] - potentials[n])
            for k, a in one.shares.items()
            for n, b in other.shares.items()
            if k != n
        ),
        start=np.asarray(0j),
    )
    floats = one.floats | other.floats
    parts = (np.where(floats, 0, driving), one.behind_ohm + other.behind_ohm, beside)
    return np.stack(np.broadcast_arrays(*parts), axis=-1)


@dataclass(frozen=True, slots=True)
class _End:
    """How an end hangs on the held nodes: its share of each, w/Y, and 1/Y."""

    shares: Mapping[Node, Values]
    behind_ohm: Values
    floats: Values


def _shares(potentials: Mapping[Node, complex], mesh: Mesh, end: Node) -> _End:
    if end in potentials:
        return _End({end: np.asarray(1 + 0j)}, np.asarray(0j), np.zeros((), dtype=bool))
    weights = mesh.get(end, {})
    total = np.asarray(sum(weights.values(), start=0j))
    floats = np.asarray(total == 0)
    behind_ohm = 1 / np.where(floats, 1.0, total)
    return _End({node: w * behind_ohm for node, w in weights.items()}, behind_ohm, floats)
