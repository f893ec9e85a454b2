"""A network with its probes, ready to read batches of edits on it (``lowrank.py``)."""

from collections.abc import Sequence

from faultfinder.network.branch import Branch, BranchName, Edit, Network, Probe
from faultfinder.network.constraints import of_edit, of_leads
from faultfinder.network.ports import Directory, Ports, ports


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
        """The probes that are on anything, by what they have fitted."""
        for index, probe in enumerate(probes):
            list(of_leads(directory, probe))
            if probe.first and probe.second:
                self.by_fitted.setdefault(probe.fitted, []).append(index)
        self._gated: dict[str, list[BranchName]] = {}
        for name, branch in network.items():
            if branch.gate:
                self._gated.setdefault(branch.gate, []).append(name)
        self._ports: dict[tuple[Branch, ...], Ports] = {}

    def behind(self, gates: frozenset[str]) -> list[BranchName]:
        """Return the branches that any of these gates breaks or makes."""
        return [name for gate in sorted(gates) for name in self._gated.get(gate, ())]

    def ports(self, fitted: tuple[Branch, ...]) -> Ports:
        """Return what ports see of one another with these things fitted, all nodes so far."""
        known = self._ports.get(fitted)
        if known is None or known.nodes != self.directory.nodes.stop:
            known = self._ports[fitted] = ports(self.network, self.directory, fitted)
        return known


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
