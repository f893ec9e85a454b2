"""How long it takes to walk from one place of a circuit to another."""

import numpy as np

from faultfinder.planning.problem import Floats
from faultfinder.rulebook.inspection import Walking
from faultfinder.wiring.circuit import Circuit


def places(circuit: Circuit) -> tuple[str, ...]:
    """Return the places of a circuit in walking order, the board first."""
    return (circuit.board, *(point.name for point in circuit.points))


def walking_minutes(circuit: Circuit, walking: Walking) -> Floats:
    """Return the minutes between any two places, shape (places, places).

    Along the cable, but by the difference of the distances on foot where both have theirs; within
    a room what the rule says; stairs besides.
    """
    names = places(circuit)
    on_the_way = np.zeros((len(names), len(circuit.runs)))
    column = {run.name: index for index, run in enumerate(circuit.runs)}
    for row, name in enumerate(names[1:], start=1):
        on_the_way[row, [column[run.name] for run in circuit.path(name)]] = 1.0
    length_m = np.array([run.length_m for run in circuit.runs])
    from_board = on_the_way @ length_m
    shared = (on_the_way * length_m) @ on_the_way.T
    metres = from_board[:, None] + from_board[None] - 2 * shared
    on_foot = np.array([0.0, *(_or_nan(point.distance_m) for point in circuit.points)])
    said = np.abs(on_foot[:, None] - on_foot[None])
    metres = np.where(np.isnan(said), metres, said)
    floor = np.array([0, *(point.floor for point in circuit.points)])
    minutes = metres / walking.metres_per_minute
    minutes += walking.floor * np.abs(floor[:, None] - floor[None])
    room = np.array(["", *(point.room for point in circuit.points)])
    same = (room[:, None] == room[None]) & (room != "")[:, None]
    minutes = np.where(same, walking.room, minutes)
    np.fill_diagonal(minutes, 0.0)
    return np.asarray(minutes)


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value
