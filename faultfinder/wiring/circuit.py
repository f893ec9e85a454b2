"""A final subcircuit as drawn: a board, points, and the runs of cable between them.

Conductors are ``A`` active, ``N`` neutral and ``E`` protective earth, whatever a region calls them;
``L1`` to ``L3`` where a circuit has several actives. Lighting adds ``S``, the active after its
switch, and ``T1`` and ``T2``, the two conductors between a pair of two-way switches.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise, product
from typing import Literal

import networkx as nx

from faultfinder.standards.conductors import ConductorTable
from faultfinder.standards.regions import Region

CONDUCTORS = ("A", "N", "E")
PAIRS = (("A", "N"), ("A", "E"), ("N", "E"))
"""Conductors of a circuit of one active, and every two of them."""

ACTIVES = ("A", "L1", "L2", "L3")
TRAVELLERS = ("T1", "T2")
IN_ORDER = (*ACTIVES, "S", *TRAVELLERS, "N", "E")
"""Every conductor there is, in the order they are named in."""

_FAR = " far end"


def pairs_of(conductors: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Return every two of some conductors."""
    return tuple(combinations(conductors, 2))


def far_end(board: str) -> str:
    """Return the name of a board's other end of a ring."""
    return board + _FAR


PointKind = Literal["outlet", "light", "appliance", "joint-box", "switch", "two-way"]


@dataclass(frozen=True, slots=True)
class Cable:
    """Sizes and make of a cable's conductors. [mm²]"""

    active_mm2: float
    neutral_mm2: float
    earth_mm2: float
    table: ConductorTable

    def area_mm2(self, conductor: str) -> float:
        """Return the size of one conductor; all but neutral and earth are as the active. [mm²]"""
        return {"N": self.neutral_mm2, "E": self.earth_mm2}.get(conductor, self.active_mm2)


@dataclass(frozen=True, slots=True)
class Device:
    """The protective device of the circuit: tripping curve, rated current, residual current.

    Where regions know no curves it is ''. A ``selective`` one (type S) lets others trip first.
    """

    curve: str
    rating_a: float
    residual_ma: float | None = None
    selective: bool = False

    def __str__(self) -> str:
        """Return it as people write it, such as ``C20``."""
        return f"{self.curve}{self.rating_a:g}" if self.curve else f"{self.rating_a:g} A"


@dataclass(frozen=True, slots=True)
class Point:
    """Something on a circuit.

    Outlets, lights and fixed appliances have contacts or terminals, which readings are taken at. A
    ``switch`` joins ``A`` to ``S``; a ``two-way`` switch joins ``T1`` in its first position, ``T2``
    in its second, to ``S`` if it has one and else to ``A``.

    Attributes
    ----------
    name : str
        As drawn.
    kind : PointKind
        What it is.
    switched : tuple of str
        The conductors its own switch breaks; of a wall switch those it switches on to.
    takes : tuple of str
        The actives it takes of a circuit that has several; none for all of them.
    floor : int
        Which floor it is on, the board's being 0.
    room : str
        Which room it is in, where that is said.
    distance_m : float or None
        How far it is from the board on foot, where that is said. [m]
    """

    name: str
    kind: PointKind = "outlet"
    switched: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()
    floor: int = 0
    room: str = ""
    distance_m: float | None = None

    @property
    def has_contacts(self) -> bool:
        """Whether something is connected here and can be read at."""
        return self.kind in {"outlet", "light", "appliance"}

    @property
    def is_wall_switch(self) -> bool:
        """Whether it switches another point."""
        return self.kind in {"switch", "two-way"}


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
    """The cable between two points, the end nearer the board first.

    ``carries`` names its conductors where they are not those of the circuit.
    """

    upstream: str
    downstream: str
    length_m: float
    cable: Cable
    carries: tuple[str, ...] = ()

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
    actives : tuple of str
        Its actives: ``A`` alone, or several of ``L1`` to ``L3``.
    loads : tuple of Load
        What is wired in or plugged in.
    neighbours : tuple of str
        Names of the other circuits on its board, where they are known.
    linked : bool or None
        Whether neutral and earth are joined at its board, where that is known.
    """

    board: str
    device: Device
    points: tuple[Point, ...]
    runs: tuple[Run, ...]
    region: Region
    temperature_c: float = 20.0
    name: str = ""
    phase: str = "A"
    actives: tuple[str, ...] = ("A",)
    loads: tuple[Load, ...] = ()
    neighbours: tuple[str, ...] = ()
    linked: bool | None = None

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
    def conductors(self) -> tuple[str, ...]:
        """The conductors that start at the board."""
        return (*self.actives, "N", "E")

    @cached_property
    def all_conductors(self) -> tuple[str, ...]:
        """Every conductor anywhere in the circuit."""
        carried = {*self.conductors}.union(*(run.carries for run in self.runs))
        return tuple(conductor for conductor in IN_ORDER if conductor in carried)

    def carried(self, run: Run) -> tuple[str, ...]:
        """Return the conductors of a run."""
        return run.carries or self.conductors

    def contacts(self, point: Point) -> tuple[str, ...]:
        """Return the conductors that can be read at a point that has contacts.

        What a light calls active is its switched active.
        """
        return (*(point.takes or self.actives), "N", "E") if point.has_contacts else ()

    def conductors_at(self, place: str) -> tuple[str, ...]:
        """Return the conductors a fault can be of at a run or point; none where it has none."""
        run, point = self.run(place), self.point(place)
        if run is not None:
            return self.carried(run)
        if point is None:
            return ()
        if point.is_wall_switch:
            return (self.common_of(point), *point.switched)
        return self.contacts(point)

    def actives_at(self, place: str) -> tuple[str, ...]:
        """Return the actives there are at a point or at the board."""
        point = self.point(place)
        return (point.takes if point else ()) or self.actives

    def common_of(self, point: Point) -> str:
        """Return the conductor that a wall switch switches: active, or S at a two-way's far one."""
        return "S" if point.kind == "two-way" and "S" in self.brought_to(point) else "A"

    def brought_to(self, point: Point) -> frozenset[str]:
        """Return the conductors of all runs that end at a point."""
        return frozenset(
            conductor
            for run in self.runs
            if point.name in {run.upstream, run.downstream}
            for conductor in self.carried(run)
        )

    def switches_of(self, point: Point) -> tuple[Point, ...]:
        """Return the wall switches of a light, in drawing order."""
        if point.kind != "light":
            return ()
        graph: nx.Graph[str] = nx.Graph()
        graph.add_node(point.name)
        switched = {"S", *TRAVELLERS}
        graph.add_edges_from(
            (run.upstream, run.downstream) for run in self.runs if switched & {*run.carries}
        )
        reached = nx.node_connected_component(graph, point.name)
        return tuple(p for p in self.points if p.is_wall_switch and p.name in reached)

    def switch_words(self, point: Point) -> tuple[str, ...]:
        """Return the words for the positions of what switches a point; none where nothing does.

        ``on`` and ``off``, or where several switches work together the position of each, the one
        drawn first first: ``1-1``, ``1-2`` and so on.
        """
        switches = self.switches_of(point)
        if len(switches) > 1:
            return tuple("-".join(ways) for ways in product("12", repeat=len(switches)))
        return ("on", "off") if switches or (point.switched and point.has_contacts) else ()

    def operated(self, place: str, word: str) -> tuple[str, ...]:
        """Return the points whose switches are out of their first position for a switch word."""
        point = self.point(place)
        if point is None:
            return ()
        switches = self.switches_of(point)
        if len(switches) > 1:
            ways = zip(switches, word.split("-"), strict=False)
            return tuple(switch.name for switch, way in ways if way == "2")
        own = switches[0].name if switches else place
        return (own,) if word == "off" else ()

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
        """The runs by name, written from either end."""
        named = {run.name: run for run in self.runs}
        turned = {"..".join(reversed(name.split(".."))): run for name, run in named.items()}
        return turned | named

    def point(self, name: str) -> Point | None:
        """Return the point of that name, or None (the board is not a point)."""
        return self._points.get(name)

    def run(self, name: str) -> Run | None:
        """Return the run of that name, written from either end, or None."""
        return self._runs.get(name)

    def outlets(self) -> tuple[Point, ...]:
        """Return the points that readings are taken at as at an outlet, in drawing order."""
        return tuple(point for point in self.points if point.has_contacts)

    def feeding_run(self, point: str) -> Run:
        """Return the run that feeds a point."""
        return self.path(point)[-1]

    def path(self, place: str) -> tuple[Run, ...]:
        """Return the runs from the board to a place, the board's first."""
        return self._paths[place]

    @cached_property
    def _paths(self) -> dict[str, tuple[Run, ...]]:
        ways = nx.single_source_shortest_path(self.graph, self.board)
        edges = self.graph.edges
        return {at: tuple(edges[e]["run"] for e in pairwise(way)) for at, way in ways.items()}

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

    def is_at_board(self, at: str) -> bool:
        """Return whether a board is opened to get at a place: it is one, or a run that ends there.

        This circuit's board, or another of the installation.
        """
        run = self.run(at)
        ends = (at,) if run is None else self.ends_to_open(run)
        return any(self.point(end) is None for end in ends)

    def conductor_ohm(self, run: Run, conductor: str) -> float:
        """Return the resistance of one conductor of a run at the circuit's temperature. [ohm]"""
        per_m = run.cable.table.ohm_per_m(run.cable.area_mm2(conductor), self.temperature_c)
        return per_m * run.length_m
