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
class Run:
    """The cable between two points, the end nearer the board first."""

    upstream: str
    downstream: str
    length_m: float
    cable: Cable

    @property
    def name(self) -> str:
        """The run as people write it, such as ``S3..S4``."""
        return f"{self.upstream}..{self.downstream}"


@dataclass(frozen=True)
class Circuit:
    """A radial circuit with branches, as drawn.

    Attributes
    ----------
    board : str
        Name of the board that feeds it.
    device : Device
        Its protective device.
    points : tuple of Point
        In the order drawn, which is taken for the order they are walked in.
    runs : tuple of Run
        A tree that reaches every point from the board.
    region : Region
        Whose rules and words apply.
    temperature_c : float
        Conductor temperature while the readings were taken. [°C]
    """

    board: str
    device: Device
    points: tuple[Point, ...]
    runs: tuple[Run, ...]
    region: Region
    temperature_c: float = 20.0
    name: str = ""

    @cached_property
    def graph(self) -> "nx.DiGraph[str]":
        """The runs as edges that lead away from the board; ``run`` on each edge."""
        graph: nx.DiGraph[str] = nx.DiGraph()
        graph.add_node(self.board)
        graph.add_nodes_from(point.name for point in self.points)
        for run in self.runs:
            graph.add_edge(run.upstream, run.downstream, run=run)
        return graph

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

    def is_last(self, point: str) -> bool:
        """Return whether nothing is fed through a point."""
        return self.graph.out_degree(point) == 0

    def conductor_ohm(self, run: Run, conductor: str) -> float:
        """Return the resistance of one conductor of a run at the circuit's temperature. [ohm]"""
        per_m = run.cable.table.ohm_per_m(run.cable.area_mm2(conductor), self.temperature_c)
        return per_m * run.length_m
