"""A final subcircuit as drawn: a board, points, and the runs of cable between them.

Conductors are ``A`` active, ``N`` neutral and ``E`` protective earth, whatever a region calls them.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

import networkx as nx

from faultfinder.standards.conductors import ConductorTable
from faultfinder.standards.regions import Region

CONDUCTORS = ("A", "N", "E")
PAIRS = (("A", "N"), ("A", "E"), ("N", "E"))

_FAR = " far end"


def far_end(board: str) -> str:
    """Return the name of a board's other end of a ring."""
    return board + _FAR


PointKind = Literal["outlet", "joint-box"]


@dataclass(frozen=True, slots=True)
class Cable:
    """Sizes and make of a cable's conductors. [mm²]"""

    active_mm2: float
    neutral_mm2: float
    earth_mm2: float
    table: ConductorTable

    def area_mm2(self, conductor: str) -> float:
        """Return the size of one conductor. [mm²]"""
        return {"A": self.active_mm2, "N": self.neutral_mm2, "E": self.earth_mm2}[conductor]


@dataclass(frozen=True, slots=True)
class Device:
    """The protective device of the circuit: tripping curve, rated current, residual current."""

    curve: str
    rating_a: float
    residual_ma: float | None = None


@dataclass(frozen=True, slots=True)
class Point:
    """Something on a circuit; ``switched`` holds the conductors its own switch breaks."""

    name: str
    kind: PointKind = "outlet"
    switched: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Load:
    """An appliance between two conductors at a point, behind the point's own switch if it has one.

    Attributes
    ----------
    at : str
        The point.
    between : (str, str)
        The two conductors.
    r_ohm, x_ohm : float
        Its impedance in service. [ohm]
    what : str
        What it is.
    is_fixed : bool
        Whether it is wired in, and so stays when appliances are unplugged for a test.
    """

    at: str
    between: tuple[str, str]
    r_ohm: float
    x_ohm: float = 0.0
    what: str = ""
    is_fixed: bool = False


@dataclass(frozen=True, slots=True)
class Run:
    """The cable between two points, the end nearer the board first."""

    upstream: str
    downstream: str
    length_m: float
    cable: Cable

    @property
    def name(self) -> str:
        """The run as people write it, such as ``S3..S4``; a ring's last one ends at the board."""
        return f"{self.upstream}..{self.downstream.removesuffix(_FAR)}"


@dataclass(frozen=True)
class Circuit:
    """A circuit as drawn: radial with branches, or a ring with spurs.

    A ring leaves the board and comes back to it. Its last run ends at ``far_end``, a place of its
    own at the board, so that the runs are a tree either way; in service the two ends are joined.

    Attributes
    ----------
    board : str
        Name of the board that feeds it.
    device : Device
        Its protective device.
    points : tuple of Point
        In the order drawn, which is taken for the order they are walked in.
    runs : tuple of Run
        A tree that reaches every point from the board; of a ring, the far end too.
    region : Region
        Whose rules and words apply.
    temperature_c : float
        Conductor temperature while the readings were taken. [°C]
    phase : str
        Which active of its board feeds a circuit of one active: ``A``, or ``L1`` to ``L3``.
    loads : tuple of Load
        What is wired in or plugged in.
    """

    board: str
    device: Device
    points: tuple[Point, ...]
    runs: tuple[Run, ...]
    region: Region
    temperature_c: float = 20.0
    name: str = ""
    phase: str = "A"
    loads: tuple[Load, ...] = ()

    @cached_property
    def graph(self) -> "nx.DiGraph[str]":
        """The runs as edges that lead away from the board; ``run`` on each edge."""
        graph: nx.DiGraph[str] = nx.DiGraph()
        graph.add_node(self.board)
        graph.add_nodes_from(point.name for point in self.points)
        for run in self.runs:
            graph.add_edge(run.upstream, run.downstream, run=run)
        return graph

    @property
    def far_end(self) -> str:
        """The board's other end of a ring, a place of its own among the runs' ends."""
        return far_end(self.board)

    @cached_property
    def is_ring(self) -> bool:
        """Whether the circuit comes back to the board."""
        return self.far_end in self.graph

    @cached_property
    def ring(self) -> tuple[Run, ...]:
        """The runs of the ring, from the board round to its far end; none of a radial circuit."""
        return self.path(self.far_end) if self.is_ring else ()

    @cached_property
    def _points(self) -> dict[str, Point]:
        return {point.name: point for point in self.points}

    @cached_property
    def _runs(self) -> dict[str, Run]:
        return {run.name: run for run in self.runs}

    def point(self, name: str) -> Point | None:
        """Return the point of that name, or None (the board is not a point)."""
        return self._points.get(name)

    def run(self, name: str) -> Run | None:
        """Return the run of that name, written from either end, or None."""
        upstream, _, downstream = name.partition("..")
        return self._runs.get(name) or self._runs.get(f"{downstream}..{upstream}")

    def outlets(self) -> tuple[Point, ...]:
        """Return the outlets, in drawing order."""
        return tuple(point for point in self.points if point.kind == "outlet")

    def feeding_run(self, point: str) -> Run:
        """Return the run that feeds a point."""
        return self.path(point)[-1]

    def path(self, place: str) -> tuple[Run, ...]:
        """Return the runs from the board to a place, the board's first."""
        nodes = nx.shortest_path(self.graph, self.board, place)
        return tuple(self.graph.edges[edge]["run"] for edge in pairwise(nodes))

    def beyond(self, place: str) -> frozenset[str]:
        """Return the points fed through a place, not the place itself."""
        return frozenset(nx.descendants(self.graph, place))

    def is_on_ring(self, point: str) -> bool:
        """Return whether a point is fed from both sides."""
        return any(run.downstream == point for run in self.ring)

    def ends_to_open(self, run: Run) -> tuple[str, str]:
        """Return the two places a run's terminations are seen at, a point before the board."""
        if run.downstream == self.far_end:
            return run.upstream, self.board
        return run.downstream, run.upstream

    def conductor_ohm(self, run: Run, conductor: str) -> float:
        """Return the resistance of one conductor of a run at the circuit's temperature. [ohm]"""
        per_m = run.cable.table.ohm_per_m(run.cable.area_mm2(conductor), self.temperature_c)
        return per_m * run.length_m
