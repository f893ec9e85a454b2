"""Branches, networks and edits: what is joined to what, and through how many ohms.

A node is a terminal that a probe could touch. A branch joins two nodes: zero ohms is a bolted
joint, infinity an open. A branch may pass through a *gate*, the contact of a switch: a gate is
made or broken until a reading operates it. A fault is an edit: some branches replaced, added or
taken away.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import NamedTuple


class Node(NamedTuple):
    """A terminal: the place it is at, the conductor it is meant for, and which part of the place.

    ``part`` is ``through`` (where cables meet), ``contact`` (what a plug or probe touches) or
    ``along`` (a spot in the length of a run).
    """

    place: str
    conductor: str
    part: str = "through"


BranchName = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Branch:
    """One current path between two nodes.

    Attributes
    ----------
    start, end : Node
        The two nodes; direction has no meaning.
    r_ohm : float
        Resistance, 0 (bolted) to infinity (open). [ohm]
    gate : str
        Name of the switch contact the path goes through; empty for none.
    normally_made : bool
        Whether the gate is made while no reading operates it.
    x_ohm : float
        Reactance in series with it at the network's frequency; negative for a capacitance. [ohm]
    """

    start: Node
    end: Node
    r_ohm: float
    gate: str = ""
    normally_made: bool = True
    x_ohm: float = 0.0

    def __post_init__(self) -> None:
        if not self.r_ohm >= 0 or not isfinite(self.x_ohm):  # also refuses NaN
            raise ValueError(f"a branch cannot have {self.r_ohm} ohm and j{self.x_ohm} ohm")

    def of(self, r_ohm: float) -> "Branch":
        """Return the same branch of other ohms. [ohm]"""
        return Branch(self.start, self.end, r_ohm, self.gate, self.normally_made, self.x_ohm)


Edit = Mapping[BranchName, Branch | None]
"""Branches to replace or add, by name; None takes the branch away."""

Network = Mapping[BranchName, Branch]
"""A network is its branches, by name."""

MakeEdit = Callable[[Network], Edit]
"""A fault as a function: given a network, sound or with lengths changed, the edit it makes."""


def edited(network: Network, edit: Edit) -> Network:
    """Return the network with an edit made."""
    merged = {**network, **edit}
    return {name: branch for name, branch in merged.items() if branch is not None}


def in_turn(edits: Sequence[MakeEdit]) -> MakeEdit:
    """Return the edit that makes all edits, each on the network the earlier ones left."""

    def make(network: Network) -> Edit:
        whole: dict[BranchName, Branch | None] = {}
        for edit in edits:
            whole |= edit(edited(network, whole))
        return whole

    return make


@dataclass(frozen=True, slots=True)
class Probe:
    """One reading: the nodes each lead touches, and what is fitted or operated meanwhile.

    Attributes
    ----------
    first, second : tuple of Node
        Nodes under the two leads; several under one lead are joined together.
    fitted : tuple of Branch
        Resistors and links fitted for this reading.
    operated : frozenset of str
        Gates this reading operates: what is normally made is broken, and the reverse.
    """

    first: tuple[Node, ...]
    second: tuple[Node, ...]
    fitted: tuple[Branch, ...] = ()
    operated: frozenset[str] = frozenset()
