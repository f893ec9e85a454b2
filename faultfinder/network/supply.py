"""The supply as a network: what its source holds, and the way to the main board's bars.

The star point is the zero of all potentials. The general mass of earth is a node, which the
source's electrode and the installation's meet.
"""

from collections.abc import Iterator, Mapping
from math import isfinite, sqrt

from faultfinder.network.branch import Branch, BranchName, Node
from faultfinder.network.wiring import bar
from faultfinder.wiring.installation import Board, Impedance, Supply

STAR = Node("source", "N", "source")
GROUND = Node("ground", "E", "mass of earth")

_THIRD = complex(-0.5, sqrt(0.75))  # a third of a turn ahead
_TURNS: Mapping[int, tuple[complex, ...]] = {
    1: (1,),
    2: (1, -1),
    3: (1, _THIRD.conjugate(), _THIRD),
}


def source(active: str) -> Node:
    """Return the source's terminal of an active."""
    return Node("source", active, "source")


def held_by(supply: Supply) -> dict[Node, complex]:
    """Return what the source holds its terminals at, rms. [V]

    Two actives are half a turn apart; of three each lags a third of a turn behind the one before.
    Raises `ValueError` for another number of them.
    """
    turns = _TURNS.get(len(supply.actives))
    if turns is None:
        raise ValueError(f"a supply of {len(supply.actives)} actives")
    held = {
        source(active): supply.voltage_v * complex(turn)
        for active, turn in zip(supply.actives, turns, strict=True)
    }
    return {**held, STAR: 0j}


def supply_branches(supply: Supply, board: Board) -> Iterator[tuple[BranchName, Branch]]:
    """Yield the branches from the source to the main board, by name."""
    for active in supply.actives:
        yield ("supply", active), _between(source(active), bar(board.name, active), supply.line)
    yield ("supply", "N"), _between(STAR, bar(board.name, "N"), supply.neutral)
    earth = bar(board.name, "E")
    if supply.system == "TN-S":
        yield ("supply", "E"), _between(STAR, earth, supply.earth)
    # In TN the ohms of the installation's electrode are those of the whole path to the source.
    electrode = supply.earth if supply.system == "TT" else Impedance(0.0)
    yield ("electrode", "source"), _between(STAR, GROUND, electrode)
    if isfinite(supply.electrode_ohm):
        yield ("electrode", board.name), Branch(earth, GROUND, supply.electrode_ohm)


def _between(start: Node, end: Node, z: Impedance) -> Branch:
    return Branch(start, end, z.r_ohm, x_ohm=z.x_ohm)
