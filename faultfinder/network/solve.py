"""What readings a network gives: resistance, impedance, and voltage from its sources.

All are read in batches, every probe under every edit; see ``mesh.py`` for the method. Resistance is
at d.c., where a reactance counts as a joint and a capacitance as an open. Impedance and voltage are
phasors of one frequency in the steady state, rms.
"""

from collections.abc import Mapping, Sequence
from functools import partial
from math import inf

import numpy as np
import numpy.typing as npt

from faultfinder.network.branch import Branch, Edit, Network, Node, Probe
from faultfinder.network.mesh import BOLTED_S, Mesh, Task, Values, eliminate, join, run

Floats = npt.NDArray[np.float64]
Phasors = npt.NDArray[np.complex128]

_BOLTED_OHM = 1e-15  # anything this small is a path of bolted joints only
_LEADS = (Node("lead", "first", ""), Node("lead", "second", ""))


def resistances(
    network: Network,
    probes: Sequence[Probe],
    edits: Sequence[Edit] = ({},),
    fitted_ohm: Mapping[Branch, Floats] | None = None,
) -> Floats:
    """Return what each probe reads at d.c. under each edit of the network.

    Parameters
    ----------
    network : Network
        The network as drawn.
    probes : sequence of Probe, length r
        The readings.
    edits : sequence of Edit, length h
        One edit a hypothesis; an empty edit is the network as drawn.
    fitted_ohm : mapping, optional
        Ohms under each edit, shape (h,) and over zero, of branches that probes fit, where edits
        differ in them. [ohm]

    Returns
    -------
    ndarray, shape (h, r)
        Resistance between the two leads; infinity where no path joins them. [ohm]
    """
    out = np.full((len(edits), len(probes)), np.inf)
    fitted = {branch: 1.0 / r_ohm for branch, r_ohm in (fitted_ohm or {}).items()}
    run(Task(_at_dc, frozenset(), _between_leads, fitted), network, probes, edits, out)
    return out


def resistance(network: Network, probe: Probe) -> float:
    """Return what one probe reads on one network at d.c. [ohm]"""
    return float(resistances(network, [probe])[0, 0])


def impedances(network: Network, probes: Sequence[Probe], edits: Sequence[Edit] = ({},)) -> Phasors:
    """Return the impedance between each probe's leads under each edit; shapes as ``resistances``.

    Sources are not there: an ideal source's nodes are to be joined. Infinity for no path. [ohm]
    """
    out = np.full((len(edits), len(probes)), inf, dtype=complex)
    run(Task(at_ac, frozenset(), _between_leads), network, probes, edits, out)
    return out


def voltages(
    network: Network,
    probes: Sequence[Probe],
    potentials: Mapping[Node, complex],
    edits: Sequence[Edit] = ({},),
) -> Phasors:
    """Return the voltage from each probe's second lead to its first under each edit.

    Parameters
    ----------
    network : Network
        The network; a source's own impedance is a branch of it.
    probes : sequence of Probe, length r
        The readings; what the voltmeter draws is a branch the probe fits.
    potentials : mapping
        Potentials that sources hold, of their nodes, the reference included; no two of them bolted
        together. [V]
    edits : sequence of Edit, length h
        One edit a hypothesis.

    Returns
    -------
    ndarray of complex, shape (h, r)
        Voltage; nan where a lead has no path to any source, however slight. [V]

    Notes
    -----
    With all but a lead and the held nodes taken away, the lead's potential is the mean of the held
    potentials weighted by the admittances to them: nothing is subtracted until the two leads are.
    """
    out = np.full((len(edits), len(probes)), np.nan, dtype=complex)
    held = frozenset(potentials)
    run(Task(at_ac, held, partial(_voltage, potentials)), network, probes, edits, out)
    return out


def _at_dc(branch: Branch) -> float:
    if branch.x_ohm < 0:  # a capacitance
        return 0.0
    return BOLTED_S if branch.r_ohm * BOLTED_S <= 1 else 1.0 / branch.r_ohm


def at_ac(branch: Branch) -> complex:
    """Return the admittance of a branch at the network's frequency, 0 for an open. [S]"""
    z_ohm = complex(branch.r_ohm, branch.x_ohm)
    if branch.r_ohm == inf:
        return 0j
    return complex(BOLTED_S) if abs(z_ohm) * BOLTED_S <= 1 else 1 / z_ohm


def _between_leads(mesh: Mesh, probe: Probe) -> Values:
    """Return the resistance or impedance between the leads, all else in place."""
    first, second = _ends(mesh, probe)
    eliminate(mesh, {first, second})
    y = np.asarray(mesh.get(first, {}).get(second, 0.0))
    none = y == 0
    z = np.where(none, inf, 1.0 / np.where(none, 1.0, y))
    return np.where(np.abs(z) < _BOLTED_OHM, 0.0, z)


def _voltage(potentials: Mapping[Node, complex], mesh: Mesh, probe: Probe) -> Values:
    first, second = (_potential(potentials, mesh, lead) for lead in _put(mesh, probe))
    return first - second


def _ends(mesh: Mesh, probe: Probe) -> tuple[Node, Node]:
    """Return the two nodes to read between: what the leads touch, or the leads where they join."""
    if len(probe.first) == len(probe.second) == 1 and probe.first != probe.second:
        return probe.first[0], probe.second[0]
    return _put(mesh, probe)


def _put(mesh: Mesh, probe: Probe) -> tuple[Node, Node]:
    """Put the leads where they touch and return them."""
    for lead, touched in zip(_LEADS, (probe.first, probe.second), strict=True):
        for node in touched:
            join(mesh, lead, node, BOLTED_S)
    return _LEADS


def _potential(potentials: Mapping[Node, complex], mesh: Mesh, lead: Node) -> Values:
    mesh = {node: dict(row) for node, row in mesh.items()}
    eliminate(mesh, {lead, *potentials})
    row = mesh.get(lead, {})
    total = np.asarray(sum(row.values(), start=0j))
    drawn = np.asarray(sum((y * potentials[node] for node, y in row.items()), start=0j))
    floating = total == 0
    return np.where(floating, np.nan, drawn / np.where(floating, 1.0, total))
