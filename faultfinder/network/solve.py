"""Resistance between two terminals, for many edits of one network at once.

Method
------
Star-mesh elimination: a node with branch conductances g_1 … g_d is taken away and every pair of
its neighbours gains g_i g_j / (g_1 + … + g_d). It is Gaussian elimination of the nodal matrix,
but only adds, multiplies and divides positive numbers, so that every digit survives even where
milliohms and gigohms meet in one network; no diagonal is stored, so nothing is ever subtracted
(state reduction in the manner of Grassmann, Taksar and Heyman, 1985; cited from memory).

An open is an absent branch, conductance exactly zero. A bolted joint is given ``BOLTED_S``: its
1e-18 ohm lies below the rounding of any resistance over 1e-2 ohm and changes one of 1e-4 ohm by
one part in 1e14, which subtraction-free elimination leaves as harmless as it sounds.

All edits are solved together: a conductance that differs between edits is a numpy vector with one
entry an edit, one that does not is a plain number. Readings share work by halving: nodes that no
reading of a half needs are taken away before that half is halved again, so that r readings on n
nodes cost about n log r eliminations, not n r.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from faultfinder.network.branch import Branch, Edit, Network, Node, Probe

Floats = npt.NDArray[np.float64]
Conductance = Floats | float

BOLTED_S = 1e18
_BOLTED_OHM = 1e-15  # anything this small is a path of bolted joints only

_Mesh = dict[Node, dict[Node, Conductance]]
_LEADS = (Node("lead", "first", ""), Node("lead", "second", ""))


@dataclass(frozen=True, slots=True)
class _Gated:
    start: Node
    end: Node
    conductance: Conductance
    normally_made: bool


_Gates = Mapping[str, tuple[_Gated, ...]]


def resistances(network: Network, probes: Sequence[Probe], edits: Sequence[Edit] = ({},)) -> Floats:
    """Return what each probe reads under each edit of the network.

    Parameters
    ----------
    network : Network
        The network as drawn.
    probes : sequence of Probe, length r
        The readings.
    edits : sequence of Edit, length h
        One edit a hypothesis; an empty edit is the network as drawn.

    Returns
    -------
    ndarray, shape (h, r)
        Resistance between the two leads; infinity where no path joins them. [ohm]
    """
    mesh, gates = _batch(network, edits)
    out = np.full((len(edits), len(probes)), np.inf)
    if probes:
        _halve(mesh, gates, list(enumerate(probes)), out)
    return out


def resistance(network: Network, probe: Probe) -> float:
    """Return what one probe reads on one network. [ohm]"""
    return float(resistances(network, [probe])[0, 0])


def conductance_s(r_ohm: float) -> float:
    """Return the conductance of a branch; a bolted joint has ``BOLTED_S``. [S]"""
    return BOLTED_S if r_ohm * BOLTED_S <= 1 else 1.0 / r_ohm


def _batch(network: Network, edits: Sequence[Edit]) -> tuple[_Mesh, _Gates]:
    """Lay all edits over one another: one set of nodes, a vector where edits differ."""
    count = len(edits)
    touched: dict[tuple[str, ...], dict[int, Branch | None]] = {}
    for index, edit in enumerate(edits):
        for name, branch in edit.items():
            touched.setdefault(name, {})[index] = branch
    laid: dict[tuple[Node, Node, str, bool], Conductance] = {}

    def lay(branch: Branch, g: Conductance) -> None:
        ends = (min(branch.start, branch.end), max(branch.start, branch.end))
        key = (*ends, branch.gate, branch.normally_made)
        laid[key] = laid[key] + g if key in laid else g

    for name, branch in network.items():
        if name in touched:
            kept = np.full(count, conductance_s(branch.r_ohm))
            kept[list(touched[name])] = 0.0
            lay(branch, kept)
        else:
            lay(branch, conductance_s(branch.r_ohm))
    added: dict[tuple[Node, Node, str, bool], tuple[Branch, Floats]] = {}
    for replaced in touched.values():
        for index, new in replaced.items():
            if new is None:
                continue
            key = (new.start, new.end, new.gate, new.normally_made)
            if key not in added:
                added[key] = (new, np.zeros(count))
            added[key][1][index] += conductance_s(new.r_ohm)
    for new, sums in added.values():
        lay(new, sums)

    mesh: _Mesh = {}
    gates: dict[str, tuple[_Gated, ...]] = {}
    for (start, end, gate, normally_made), g in laid.items():
        if gate:
            gates[gate] = (*gates.get(gate, ()), _Gated(start, end, g, normally_made))
        else:
            _join(mesh, start, end, g)
    return mesh, gates


def _join(mesh: _Mesh, a: Node, b: Node, g: Conductance) -> None:
    """Put a conductance between two nodes, beside any that is there."""
    if a == b:
        return
    row = mesh.setdefault(a, {})
    row[b] = mesh.setdefault(b, {})[a] = row[b] + g if b in row else g


def _eliminate(mesh: _Mesh, keep: set[Node]) -> None:
    """Take away all nodes but ``keep``, fewest neighbours first (least fill-in)."""
    rest = {node for node in mesh if node not in keep}
    while rest:
        node = min(rest, key=lambda n: (len(mesh[n]), n))
        rest.remove(node)
        star = list(mesh.pop(node).items())
        for neighbour, _ in star:
            del mesh[neighbour][node]
        if len(star) < 2:
            continue
        total: Conductance = sum((g for _, g in star[1:]), start=star[0][1])
        # A node that some edits leave with no branch at all has a total of zero and nothing to
        # pass on: dividing by one instead leaves the zeros as they are.
        share = 1.0 / np.where(total > 0, total, 1.0)
        scaled = [g * share for _, g in star]
        for i, (a, g) in enumerate(star):
            for j in range(i):
                _join(mesh, a, star[j][0], g * scaled[j])


def _settle(mesh: _Mesh, gated: Iterable[_Gated], *, operated: bool) -> None:
    for contact in gated:
        if contact.normally_made != operated:
            _join(mesh, contact.start, contact.end, contact.conductance)


def _needed(probe: Probe, gates: _Gates) -> set[Node]:
    nodes = {*probe.first, *probe.second}
    for branch in probe.fitted:
        nodes |= {branch.start, branch.end}
    for gate in probe.operated:
        for contact in gates.get(gate, ()):
            nodes |= {contact.start, contact.end}
    return nodes


def _halve(mesh: _Mesh, gates: _Gates, probes: list[tuple[int, Probe]], out: Floats) -> None:
    """Read a set of probes: drop what none of them needs, then do each half alone."""
    mesh = {node: dict(row) for node, row in mesh.items()}
    operated = frozenset[str]().union(*(probe.operated for _, probe in probes))
    for gate, contacts in gates.items():
        if gate not in operated:
            _settle(mesh, contacts, operated=False)
    gates = {gate: contacts for gate, contacts in gates.items() if gate in operated}
    needs = [_needed(probe, gates) for _, probe in probes]
    keep = set[Node]().union(*needs)
    _eliminate(mesh, keep)
    if all(need == keep for need in needs):
        _read_here(mesh, gates, probes, out)
        return
    # Readings at one place stay together, so that a half is a stretch of the circuit.
    order = sorted(range(len(probes)), key=lambda i: sorted(needs[i]))
    middle = len(order) // 2
    while middle < len(order) and needs[order[middle]] == needs[order[middle - 1]]:
        middle += 1
    if middle == len(order):
        middle = next(i for i in range(1, len(order)) if needs[order[i]] != needs[order[i - 1]])
    for half in (order[:middle], order[middle:]):
        _halve(mesh, gates, [probes[i] for i in half], out)


def _read_here(mesh: _Mesh, gates: _Gates, probes: list[tuple[int, Probe]], out: Floats) -> None:
    """Read probes that need the same nodes: those set up alike share the fitting."""
    alike: dict[object, list[tuple[int, Probe]]] = {}
    for index, probe in probes:
        alike.setdefault((probe.fitted, probe.operated), []).append((index, probe))
    for same in alike.values():
        set_up = same[0][1]
        fitted = {node: dict(row) for node, row in mesh.items()}
        for gate, contacts in gates.items():
            _settle(fitted, contacts, operated=gate in set_up.operated)
        for branch in set_up.fitted:
            _join(fitted, branch.start, branch.end, conductance_s(branch.r_ohm))
        _eliminate(fitted, {node for _, probe in same for node in (*probe.first, *probe.second)})
        for index, probe in same:
            out[:, index] = _between_leads(fitted, probe)


def _between_leads(mesh: _Mesh, probe: Probe) -> Floats:
    """Return the resistance between the leads of a probe, all else in place."""
    mesh = {node: dict(row) for node, row in mesh.items()}
    for lead, touched in zip(_LEADS, (probe.first, probe.second), strict=True):
        for node in touched:
            _join(mesh, lead, node, BOLTED_S)
    _eliminate(mesh, set(_LEADS))
    first, second = _LEADS
    g = np.asarray(mesh.get(first, {}).get(second, 0.0), dtype=np.float64)
    with np.errstate(divide="ignore"):
        r = 1.0 / g
    return np.where(r < _BOLTED_OHM, 0.0, r)
