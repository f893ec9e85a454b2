"""From an installation as drawn to a live network and the potentials that its sources hold.

The supply's terminals are held: each active at its phasor, the star point at 0 V. Everything from
there on is branches, by name:

===================================  ==============================================================
``("supply", conductor)``            from the source to the main board's bar
``("electrode", "source")``          from the star point to the general mass of earth
``("electrode", board)``             from the main board's earth bar to the mass of earth
``("link", board)``                  from the neutral bar to the earth bar
``("pole", device, conductor)``      through a protective device, away from the supply
``("landing", circuit, "E")``        from the earth bar to a circuit's own end
``("joined ends", circuit, c)``      from a ring's one end to its other, in service
``("run", run, conductor)``          as in ``network_of``; a feeder's cable too
``("cores", run, c, d)``             capacitance between two conductors of a run, at its far end
``("leak", run, c, d)``              leakage between them
``("load", point, c, d, what)``      a load between two conductors
``("earth path", what, from, to)``   metal that joins earths
===================================  ==============================================================

A device is named as its circuit is, or ``residual_device(board)`` or ``feeder_device(board)``. The
neutral's way into a circuit is called a pole whether or not the device opens it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations
from math import pi

from faultfinder.network.branch import Branch, BranchName, Network, Node
from faultfinder.network.supply import GROUND, STAR, held_by, supply_branches
from faultfinder.network.wiring import (
    bar,
    load_across,
    load_branch,
    network_of,
    run_branch,
    terminal,
)
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.installation import GROUND_PLACE, Board, Feeder, Installation

_PLUG = "plug at "


@dataclass(frozen=True, slots=True)
class CableConstants:
    """What a metre of cable has besides the resistance of its conductors.

    Attributes
    ----------
    reactance_ohm_m : float
        Of each conductor. 0.08 mohm/m where nothing else is known: NF C 15-100 clause 525, the same
        as IEC 60364-5-52. [ohm/m]
    capacitance_f_m : float
        Between any two conductors. 69 pF/m was measured on building cable of three cores ("The
        Capacitance Connection", an electronics magazine). [F/m]
    leakage_ohm_m : float or None
        Insulation resistance between any two conductors, times length; None is perfect. [ohm m]
    """

    reactance_ohm_m: float = 0.08e-3
    capacitance_f_m: float = 69e-12
    leakage_ohm_m: float | None = None


@dataclass(frozen=True, slots=True)
class Live:
    """A network with its sources.

    Attributes
    ----------
    network : Network
        Everything from the source's terminals on.
    potentials : mapping
        What the sources hold their terminals at, rms; the star point is at 0. [V]
    """

    network: Network
    potentials: Mapping[Node, complex]

    def joined(self) -> tuple[Branch, ...]:
        """Return joints from every source terminal to the star point.

        Fitted to a probe, they are the sources at no voltage, as an impedance wants them.
        """
        return tuple(Branch(node, STAR, 0.0) for node in self.potentials if node != STAR)


def residual_device(board: str) -> str:
    """Return the name of the residual current device of a board's circuits."""
    return f"residual current device of {board}"


def feeder_device(board: str) -> str:
    """Return the name of the device that the feeder of a sub-board begins at."""
    return f"feeder of {board}"


def plug_gate(point: str) -> str:
    """Return the gate that is made while what is not wired in is plugged in at a point."""
    return f"{_PLUG}{point}"


def pole(device: str, conductor: str) -> BranchName:
    """Return the name of a protective device's pole."""
    return ("pole", device, conductor)


def actives(installation: Installation, board: Board) -> tuple[str, ...]:
    """Return the actives that a board has bars of."""
    return board.feeder.actives if board.feeder else installation.supply.actives


def circuits_bar(board: Board, conductor: str) -> Node:
    """Return the bar that a board's circuits leave from, behind its residual current device.

    Without one it is the bar itself; so it is for earth. Link and feeders leave from the bar.
    """
    own = bar(board.name, conductor)
    behind = board.residual_ma is not None and conductor != "E"
    return own._replace(part="bar behind its device") if behind else own


def live_network(installation: Installation, constants: CableConstants) -> Live:
    """Return the sound network of an installation in service, all loads on.

    A load that is not wired in passes the gate ``plug_gate(point)``: a reading that operates it
    takes the appliance out.

    Raises
    ------
    ValueError
        For a supply of other than one to three actives, and for a circuit or a sub-board that takes
        an active its board has no bar of.
    """
    network: dict[BranchName, Branch] = {}
    hz = installation.supply.frequency_hz
    for board in installation.boards:
        if board.feeder is None:
            network.update(supply_branches(installation.supply, board))
        else:
            network.update(_feeder(installation, board, board.feeder, constants))
        if board.link:
            link = Branch(bar(board.name, "N"), bar(board.name, "E"), 0.0)
            network["link", board.name] = link
        if board.residual_ma is not None:
            for c in (*actives(installation, board), "N"):
                ends = bar(board.name, c), circuits_bar(board, c)
                network[pole(residual_device(board.name), c)] = Branch(*ends, 0.0)
    for circuit in installation.circuits:
        network.update(_circuit(installation, circuit, constants, hz))
    for path in installation.earth_paths:
        name = ("earth path", path.what, path.start, path.end)
        ends = _metal(installation, path.start), _metal(installation, path.end)
        network[name] = Branch(*ends, path.r_ohm)
    return Live(network, held_by(installation.supply))


def dead_network(
    installation: Installation,
    circuit: Circuit,
    leakage_ohm_m: float | None = None,
    *,
    earth_landed: bool = True,
) -> Network:
    """Return the network of a circuit that is taken off its device and bar, for a dead test.

    What can still be reached from it stays as in service, so that a joint to another circuit shows:
    the other circuits' neutrals and earths on their bars, links, feeders' neutrals and earths, and
    metal between earths. Every device is off, and so is the supply.

    Parameters
    ----------
    installation : Installation
        As drawn.
    circuit : Circuit
        The one under test.
    leakage_ohm_m : float, optional
        As for ``network_of``. [ohm m]
    earth_landed : bool
        Whether the circuit's own earth is on the earth bar.
    """
    live = live_network(installation, CableConstants(0.0, 0.0, leakage_ohm_m)).network
    own: set[BranchName] = set() if earth_landed else {("landing", circuit.name, "E")}
    own |= {pole(circuit.name, c) for c in circuit.conductors}
    own |= {("joined ends", circuit.name, c) for c in circuit.conductors}
    return {
        name: branch
        for name, branch in live.items()
        if name not in own
        and name[0] != "supply"
        and (name[0] != "pole" or name[-1] == "N")
        and not branch.gate.startswith(_PLUG)
    }


def _feeder(
    installation: Installation, board: Board, feeder: Feeder, constants: CableConstants
) -> Iterator[tuple[BranchName, Branch]]:
    above = installation.board(feeder.board)
    if above is None:
        raise ValueError(f"{board.name} is fed from {feeder.board}, which is no board")
    run = feeder_run(board.name, feeder)
    starts = {c: Node(run, c, "start") for c in (*feeder.actives, "N", "E")}
    for c, start in starts.items():
        if c == "E":
            yield ("landing", feeder_device(board.name), c), Branch(bar(above.name, c), start, 0.0)
            continue
        _check_has(installation, above, c, board.name)
        yield pole(feeder_device(board.name), c), Branch(bar(above.name, c), start, 0.0)
    for c, start in starts.items():
        area_mm2 = feeder.cable.area_mm2(c if c in {"N", "E"} else "A")
        ohm_m = feeder.cable.table.ohm_per_m(area_mm2, feeder.temperature_c)
        r_ohm, x_ohm = (each * feeder.length_m for each in (ohm_m, constants.reactance_ohm_m))
        yield run_branch(run, c), Branch(start, bar(board.name, c), r_ohm, x_ohm=x_ohm)
    ends = {c: bar(board.name, c) for c in starts}
    yield from _cores(run, ends, feeder.length_m, constants, installation.supply.frequency_hz)
    if constants.leakage_ohm_m is not None:
        for a, b in combinations(starts, 2):
            r_ohm = constants.leakage_ohm_m / feeder.length_m
            yield ("leak", run, a, b), Branch(ends[a], ends[b], r_ohm)


def feeder_run(board: str, feeder: Feeder) -> str:
    """Return the name of the run from one board to another."""
    return f"{feeder.board}..{board}"


def _circuit(
    installation: Installation, circuit: Circuit, constants: CableConstants, hz: float
) -> Iterator[tuple[BranchName, Branch]]:
    board = installation.board(circuit.board)
    if board is None:
        raise ValueError(f"{circuit.name} is on {circuit.board}, which is no board")
    for c in circuit.conductors:
        on_board = circuit.phase if c == "A" else c
        end = terminal(circuit, circuit.board, c)
        if c == "E":
            yield ("landing", circuit.name, c), Branch(bar(board.name, c), end, 0.0)
        else:
            _check_has(installation, board, on_board, circuit.name)
            yield pole(circuit.name, c), Branch(circuits_bar(board, on_board), end, 0.0)
        if circuit.is_ring:
            other = terminal(circuit, circuit.far_end, c)
            yield ("joined ends", circuit.name, c), Branch(end, other, 0.0)
    network = network_of(circuit, constants.leakage_ohm_m)
    yield from network.items()
    for run in circuit.runs:
        cable = {name[-1]: b for name, b in network.items() if name[:2] == ("run", run.name)}
        x_ohm = constants.reactance_ohm_m * run.length_m
        for c, branch in cable.items():
            yield run_branch(run.name, c), replace(branch, x_ohm=x_ohm)
        ends = {c: branch.end for c, branch in cable.items()}
        yield from _cores(run.name, ends, run.length_m, constants, hz)
    for load in circuit.loads:
        gate = "" if load.is_fixed else plug_gate(load.at)
        yield load_branch(load), replace(load_across(load), gate=gate)


def _cores(
    run: str, ends: Mapping[str, Node], length_m: float, constants: CableConstants, hz: float
) -> Iterator[tuple[BranchName, Branch]]:
    farad = constants.capacitance_f_m * length_m
    if farad > 0:
        for a, b in combinations(ends, 2):
            x_ohm = -1 / (2 * pi * hz * farad)
            yield ("cores", run, a, b), Branch(ends[a], ends[b], 0.0, x_ohm=x_ohm)


def _check_has(installation: Installation, board: Board, conductor: str, what: str) -> None:
    bars = (*actives(installation, board), "N")
    if conductor not in bars:
        found = f"{what} takes {conductor} of {board.name}, which has {', '.join(bars)}"
        raise ValueError(found)


def _metal(installation: Installation, place: str) -> Node:
    """Return what metal meets: a point's earth terminal, a board's earth bar, or the ground."""
    if place == GROUND_PLACE:
        return GROUND
    circuit = installation.circuit_of(place)
    return terminal(circuit, place, "E") if circuit else bar(place, "E")
