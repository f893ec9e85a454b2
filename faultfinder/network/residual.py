"""What a residual current device sees, and by which ways the current it misses leaves.

A device adds up the currents of its poles. What does not add up to nothing has left the live
conductors behind it, or come into them, by some other branch: to earth through a fault, a load's
filter or the cores' capacitance; to another neutral through a joint. Kirchhoff's current law over
all of those conductors makes the two sums the same.

The law needs nothing but where the conductors are, so that *ways* are found by drawing, not by
search: the branches with one end on a live conductor behind the device, and one end elsewhere.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import Literal

import numpy as np

from faultfinder.network.branch import Branch, BranchName, Edit, Network, Node, edited
from faultfinder.network.currents import currents
from faultfinder.network.installation import (
    actives,
    circuits_bar,
    feeder_device,
    feeder_run,
    pole,
    residual_device,
)
from faultfinder.network.solve import Floats
from faultfinder.network.wiring import bar, terminal
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.installation import Board, Installation

Trip = Literal["no", "may", "must"]


@dataclass(frozen=True, slots=True)
class Protected:
    """A device's poles, and where the live conductors behind them are.

    Attributes
    ----------
    device : str
        Its name: that of its circuit, or as ``residual_device`` or ``feeder_device`` make it.
    residual_ma : float or None
        Rated residual current; None if it is no residual current device. [mA]
    poles : tuple of names
        Branches from the supply's side to the protected one.
    nodes : frozenset of Node
        Protected nodes at boards.
    places : frozenset of str
        Points and runs; all of their nodes but those of the earth are protected.
    """

    device: str
    residual_ma: float | None
    poles: tuple[BranchName, ...]
    nodes: frozenset[Node]
    places: frozenset[str]

    def holds(self, node: Node) -> bool:
        """Tell whether a node is on a live conductor behind the poles."""
        return node in self.nodes or (node.place in self.places and node.conductor != "E")


@dataclass(frozen=True, slots=True)
class Way:
    """A branch by which current leaves the protected conductors other than by the poles.

    Attributes
    ----------
    name : BranchName
        The branch.
    inside, outside : Node
        Its end behind the device, and its other one.
    current_a : complex
        From inside to outside, rms. [A]
    """

    name: BranchName
    inside: Node
    outside: Node
    current_a: complex


def protected(installation: Installation) -> Iterator[Protected]:
    """Yield every protective device of an installation, boards' own before their circuits'."""
    for board in installation.boards:
        circuits = [c for c in installation.circuits if c.board == board.name]
        if board.feeder is not None:
            device = board.feeder.device
            yield Protected(
                feeder_device(board.name),
                device.residual_ma if device else None,
                tuple(pole(feeder_device(board.name), c) for c in (*board.feeder.actives, "N")),
                *_beyond(installation, board),
            )
        if board.residual_ma is not None:
            live = (*actives(installation, board), "N")
            behind = {circuits_bar(board, c) for c in live}
            yield Protected(
                residual_device(board.name),
                board.residual_ma,
                tuple(pole(residual_device(board.name), c) for c in live),
                frozenset(behind.union(*map(_ends, circuits))),
                frozenset[str]().union(*map(_places, circuits)),
            )
        for circuit in circuits:
            poles = tuple(pole(circuit.name, c) for c in _live(circuit))
            residual_ma = circuit.device.residual_ma
            yield Protected(circuit.name, residual_ma, poles, _ends(circuit), _places(circuit))


def _live(circuit: Circuit) -> tuple[str, ...]:
    return tuple(c for c in circuit.conductors if c != "E")


def _ends(circuit: Circuit) -> frozenset[Node]:
    at_board = (circuit.board, circuit.far_end)
    return frozenset(terminal(circuit, place, c) for place in at_board for c in _live(circuit))


def _places(circuit: Circuit) -> frozenset[str]:
    return frozenset({p.name for p in circuit.points} | {r.name for r in circuit.runs})


def _beyond(installation: Installation, board: Board) -> tuple[frozenset[Node], frozenset[str]]:
    """Return the live nodes and places that a sub-board's feeder feeds, sub-boards' with them."""
    nodes, places = set[Node](), set[str]()
    if board.feeder is not None:
        places.add(feeder_run(board.name, board.feeder))
    for c in (*actives(installation, board), "N"):
        nodes |= {bar(board.name, c), circuits_bar(board, c)}
    for circuit in installation.circuits:
        if circuit.board == board.name:
            nodes |= _ends(circuit)
            places |= _places(circuit)
    for other in installation.boards:
        if other.feeder is not None and other.feeder.board == board.name:
            more_nodes, more_places = _beyond(installation, other)
            nodes |= more_nodes
            places |= more_places
    return frozenset(nodes), frozenset(places)


def residuals_a(
    network: Network,
    device: Protected,
    potentials: Mapping[Node, complex],
    edits: Sequence[Edit] = ({},),
    *,
    fitted: tuple[Branch, ...] = (),
    operated: frozenset[str] = frozenset(),
) -> Floats:
    """Return the residual current that a device sees under each edit, rms. [A]

    The size of the sum of its poles' currents. Poles that carry amperes leave a sum that is right
    to some 1e-14 of them; ``ways_out`` has the small currents by themselves.
    """
    through = currents(network, device.poles, potentials, edits, fitted=fitted, operated=operated)
    sizes: Floats = np.abs(through.sum(axis=1))
    return sizes


def ways_out(
    network: Network,
    device: Protected,
    potentials: Mapping[Node, complex],
    edit: Edit,
    *,
    fitted: tuple[Branch, ...] = (),
    operated: frozenset[str] = frozenset(),
) -> tuple[Way, ...]:
    """Return by which branches current leaves or enters other than by the poles, largest first.

    Their sum is the residual current. A current that enters, such as another circuit's coming back
    by this neutral, is one that leaves turned round. Branches without current are left out.
    """
    faulty = edited(network, edit)
    crossing = [
        name
        for name, branch in faulty.items()
        if name not in device.poles
        and branch.r_ohm < inf
        and device.holds(branch.start) != device.holds(branch.end)
    ]
    (found,) = currents(faulty, crossing, potentials, fitted=fitted, operated=operated)
    ways = []
    for name, current_a in zip(crossing, found.tolist(), strict=True):
        branch = faulty[name]
        if device.holds(branch.start):
            ways.append(Way(name, branch.start, branch.end, current_a))
        else:
            ways.append(Way(name, branch.end, branch.start, -current_a))
    return tuple(sorted((w for w in ways if w.current_a), key=lambda w: -abs(w.current_a)))


def trips(residual_ma: float, rated_ma: float) -> Trip:
    """Return whether a device trips on a residual current: it must, it may, or no.

    It must at its rated residual current and over, and must not at half of it and under (IEC
    61008-1, from memory; the half also in the New Zealand Electricity (Safety) Regulations 2010,
    regulation 24(3), as quoted by an equipment distributor). Both currents in mA.
    """
    if residual_ma >= rated_ma:
        return "must"
    return "may" if residual_ma > rated_ma / 2 else "no"
