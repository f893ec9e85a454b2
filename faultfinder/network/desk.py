"""A network with its probes, ready to read batches of edits on it (``lowrank.py``)."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import inf, isfinite

import numpy as np

from faultfinder.network.branch import Branch, BranchName, Edit, Network, Probe
from faultfinder.network.constraints import Constraint, of_edit, of_gates, of_leads
from faultfinder.network.inverses import Flags
from faultfinder.network.ports import Directory, Indices, Ports, ports


@dataclass(frozen=True, slots=True, eq=False)
class Rig:
    """What is operated and joined for some of the probes.

    Attributes
    ----------
    operated : frozenset of str
        Gates.
    joined : tuple of Constraint
        What joins the nodes under one lead.
    columns : ndarray of int, shape (p,)
        The probes.
    at : ndarray of int, shape (p,)
        Their leads, by place among those of all probes with the same fitted.
    names : list
        The branches that the gates break or make.
    extra : tuple of Constraint
        What gates and joints ask of the network as drawn.
    is_cut : bool
        Whether that only takes away branches in no loop.
    sees : ndarray of bool, shape (n,)
        Which rows see anything of what is broken.
    through : ndarray of bool, shape (p,)
        Whether such a cut lies between the leads.
    """

    operated: frozenset[str]
    joined: tuple[Constraint, ...]
    columns: Indices
    at: Indices
    names: list[BranchName]
    extra: tuple[Constraint, ...]
    is_cut: bool
    sees: Flags
    through: Flags


@dataclass(frozen=True, slots=True, eq=False)
class Arranged:
    """A desk with one set of things fitted: its ports, all pairs of leads (n, 2), its rigs.

    Of all rigs together, in their order: the probes, their leads, and whether a cut lies between.
    """

    ports: Ports
    leads: Indices
    rigs: list[Rig]
    columns: Indices
    at: Indices
    through: Flags


class Desk:
    """A network and the probes on it, with all that holds whatever the edits are.

    Attributes
    ----------
    network, probes
        As given.
    directory : Directory
        Where everything has its row; edits may add nodes.
    leads : list of (int, int)
        Rows of the nodes under each probe's leads.
    by_fitted : dict of tuple of Branch to list of int
        The probes that are on anything, by what they have fitted.
    """

    def __init__(self, network: Network, probes: Sequence[Probe]) -> None:
        self.network, self.probes = network, probes
        self.directory = directory = Directory(network, (b for p in probes for b in p.fitted))
        self.leads = [
            (directory.node(probe.first[0]), directory.node(probe.second[0]))
            if probe.first and probe.second
            else (0, 0)
            for probe in probes
        ]
        self.by_fitted: dict[tuple[Branch, ...], list[int]] = {}
        for index, probe in enumerate(probes):
            list(of_leads(directory, probe))
            if probe.first and probe.second:
                self.by_fitted.setdefault(probe.fitted, []).append(index)
        self._gated: dict[str, list[BranchName]] = {}
        for name, branch in network.items():
            if branch.gate:
                self._gated.setdefault(branch.gate, []).append(name)
        self._arranged: dict[tuple[Branch, ...], Arranged] = {}

    def _behind(self, gates: frozenset[str]) -> list[BranchName]:
        """Return the branches that any of these gates breaks or makes."""
        return [name for gate in sorted(gates) for name in self._gated.get(gate, ())]

    def arranged(self, fitted: tuple[Branch, ...]) -> Arranged:
        """Return the desk with these things fitted, and with all nodes so far."""
        known = self._arranged.get(fitted)
        if known is None or known.ports.nodes != self.directory.nodes.stop:
            known = self._arranged[fitted] = self._with(fitted)
        return known

    def _with(self, fitted: tuple[Branch, ...]) -> Arranged:
        those = self.by_fitted[fitted]
        seen = ports(self.network, self.directory, fitted)
        leads = sorted({self.leads[index] for index in those})
        place = {pair: number for number, pair in enumerate(leads)}
        alike: dict[tuple[frozenset[str], tuple[Constraint, ...]], list[int]] = {}
        for index in those:
            joined = tuple(of_leads(self.directory, self.probes[index]))
            alike.setdefault((self.probes[index].operated, joined), []).append(index)
        rigs = []
        for (operated, joined), columns in alike.items():
            names = self._behind(operated)
            gates = tuple(of_gates(self.network, self.directory, names, {}))
            rows = [constraint.rows[0] for constraint in gates]
            ends = np.array([self.leads[index] for index in columns], dtype=np.intp)
            first, second = ends.T
            sees = seen.matrix[rows]
            in_loops = sees[:, rows].any()
            is_branch = max(rows, default=0) < self.directory.first_node
            is_cut = bool(gates) and not joined and is_branch and not in_loops
            rigs.append(
                Rig(
                    operated,
                    joined,
                    np.array(columns, dtype=np.intp),
                    np.array([place[self.leads[index]] for index in columns], dtype=np.intp),
                    names,
                    (*gates, *joined),
                    is_cut,
                    (sees != 0).any(axis=0),
                    is_cut & (sees[:, first] != sees[:, second]).any(axis=0),
                )
            )
        of_all = (
            np.concatenate([getattr(rig, name) for rig in rigs])
            for name in ("columns", "at", "through")
        )
        return Arranged(seen, np.array(leads, dtype=np.intp), rigs, *of_all)


class Batch:
    """Edits to be read on a desk.

    Attributes
    ----------
    desk : Desk
        Where.
    edits : sequence of Edit
        As given.
    at_rest : list of tuple of Constraint
        What each asks of the network with nothing operated.
    gates_of : dict of str to list of int
        The edits that gates make a difference to, by gate.
    """

    def __init__(self, desk: Desk, edits: Sequence[Edit]) -> None:
        self.desk, self.edits = desk, edits
        self.at_rest = [of_edit(desk.network, desk.directory, edit) for edit in edits]
        self.gates_of: dict[str, list[int]] = {}
        for index, edit in enumerate(edits):
            found = {b.gate for b in edit.values() if b}
            found |= {desk.network[name].gate for name in edit if name in desk.network}
            for gate in found - {""}:
                self.gates_of.setdefault(gate, []).append(index)

    @cached_property
    def range_ohm(self) -> tuple[float, float]:
        """The least and the most ohms that any edit puts in, bolted joints and opens aside."""
        put = {b.r_ohm for edit in self.edits for b in edit.values() if b}
        ohms = [r_ohm for r_ohm in put if r_ohm and isfinite(r_ohm)]
        return min(ohms, default=inf), max(ohms, default=0.0)

    def while_rigged(self, rig: Rig, edit: Edit) -> tuple[Constraint, ...]:
        """Return what an edit asks while a rig stands, what its gates ask included."""
        network, directory = self.desk.network, self.desk.directory
        return (
            *of_edit(network, directory, edit, rig.operated),
            *of_gates(network, directory, rig.names, edit),
            *rig.joined,
        )
