"""Circuit files: from what people write to a checked ``Circuit``."""

from collections.abc import Iterator

import networkx as nx

from faultfinder.source.decode import decode
from faultfinder.source.document import Document, KeyPath
from faultfinder.source.problem import BadInput, Problem, listed, shown
from faultfinder.source.spelling import nearest
from faultfinder.standards.conductors import ConductorTable, conductor_table
from faultfinder.standards.limits import tripping_current_a
from faultfinder.standards.regions import Region, region
from faultfinder.standards.unknown import UnknownStandard
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run, far_end
from faultfinder.wiring.schema import POLES, CableFile, CircuitFile, OwnCableFile


def circuit_from(document: Document, at: KeyPath = ()) -> Circuit:
    """Return the circuit written at a key path of a document.

    Raises
    ------
    BadInput
        With every problem found: of spelling, of sizes no table has, of runs that do not make a
        tree from the board.
    """
    file = decode(document, CircuitFile, at=at)
    reader = _Reader(document, at)
    circuit = reader.circuit(file)
    if circuit is None or reader.problems:
        raise BadInput(reader.problems, {document.path: document.text})
    return circuit


class _Reader:
    """Turns a decoded file into a circuit and gathers what does not fit on the way."""

    def __init__(self, document: Document, at: KeyPath) -> None:
        self.document, self.at = document, at
        self.problems: list[Problem] = []

    def report(
        self, path: KeyPath, id_: str, found: str, expected: str = "", near: str = ""
    ) -> None:
        where = self.document.position((*self.at, *path))
        problem = Problem(where, id_, found, expected, near)
        if problem not in self.problems:  # two conductors of one size, written in one place
            self.problems.append(problem)

    def unknown(self, path: KeyPath, error: UnknownStandard) -> None:
        self.report(path, "unknown-value", f"unknown {error.found}", error.expected, error.nearest)

    def circuit(self, file: CircuitFile) -> Circuit | None:
        points = tuple(self.points(file))
        order = self.order(file)
        try:
            rules = region(file.region)
        except UnknownStandard as error:
            self.unknown(("region",), error)
            return None
        try:
            tripping_current_a(rules, file.device.curve, file.device.rating)
        except UnknownStandard as error:
            self.unknown(("device", "curve"), error)
        common = self.table(file.cable, rules, ("cable",))
        if common is None:
            return None
        self.sizes(file.cable, common, ("cable",))
        cables = [self.cable_of(file, index, rules, common) for index in range(len(file.runs))]
        runs = tuple(
            Run(near, far, file.runs[index].length, cable)
            for index, near, far in order
            if (cable := cables[index]) is not None
        )
        temperature = rules.test_temperature_c if file.temperature is None else file.temperature
        device = Device(file.device.curve, file.device.rating, file.device.rcd)
        return Circuit(file.board, device, points, runs, rules, temperature, file.name)

    def points(self, file: CircuitFile) -> Iterator[Point]:
        if not file.points:
            self.report(("points",), "missing-point", "no point is drawn", "at least one point")
        for name, point in file.points.items():
            if name == file.board:
                self.report(
                    ("points", name),
                    "duplicate-name",
                    f'point "{name}" has the board\'s name',
                    "another name",
                )
            if point.kind == "joint-box" and point.switched != "none":
                self.report(
                    ("points", name, "switched"),
                    "impossible-value",
                    f'joint box "{name}" has a switch',
                    "a switch only at an outlet",
                )
            yield Point(name, point.kind, POLES[point.switched])

    def order(self, file: CircuitFile) -> list[tuple[int, str, str]]:
        """Return index, near end and far end of the runs from the board on, if they are a tree.

        The run that closes a ring ends at the board's far end, a place of its own.
        """
        graph: nx.Graph[str] = nx.Graph()
        graph.add_nodes_from((file.board, *file.points))
        before = len(self.problems)
        closing = self.closing_run(file)
        for index, run in enumerate(file.runs):
            if not self.has_ends(file, index):
                continue
            start, end = (
                far_end(file.board) if index == closing and place == file.board else place
                for place in (run.start, run.end)
            )
            if graph.has_edge(start, end):
                first = self.document.position((*self.at, "runs", graph[start][end]["run"]))
                self.report(
                    ("runs", index),
                    "duplicate-run",
                    f"the run {run.start}..{run.end} is drawn on line {first.line} already",
                    "one run between two points",
                )
            elif {start, end} <= set(graph) and nx.has_path(graph, start, end):
                around = [*nx.shortest_path(graph, end, start), end]
                self.report(
                    ("runs", index),
                    "loop",
                    f"this run closes a loop: {' - '.join(around)}",
                    "a radial circuit, each point fed by one run; or kind: ring"
                    if file.kind == "radial"
                    else "one ring, from the board and back to it, and spurs",
                )
            else:
                graph.add_edge(start, end, run=index)
        if len(self.problems) > before:  # what is not fed may hang on a run that is wrong
            return []
        self.all_fed(file, graph)
        if file.kind == "ring" and closing is None:
            self.report(
                ("kind",),
                "not-a-ring",
                f"the runs do not come back to the board {file.board}",
                "a run that leaves the board, and one that returns to it; or kind: radial",
            )
        return [
            (graph[near][far]["run"], near, far) for near, far in nx.bfs_edges(graph, file.board)
        ]

    def closing_run(self, file: CircuitFile) -> int | None:
        """Return which run brings a ring back to the board: the last that could; None if none."""
        ends = [(run.start, run.end) for run in file.runs]
        for index, (start, end) in reversed(list(enumerate(ends))):
            if file.kind == "ring" and file.board in {start, end} and start != end:
                others = nx.Graph([*ends[:index], *ends[index + 1 :]])
                if {start, end} <= set(others) and nx.has_path(others, start, end):
                    return index
        return None

    def has_ends(self, file: CircuitFile, index: int) -> bool:
        """Return whether a run leads from a place that is drawn to another one."""
        run = file.runs[index]
        known = (file.board, *file.points)
        missing = [
            (key, end) for key, end in (("from", run.start), ("to", run.end)) if end not in known
        ]
        for key, end in missing:
            self.report(
                ("runs", index, key),
                "missing-point",
                f"no point {shown(end)}" if end else "nothing is written here",
                f"the board {file.board} or a point: {listed(file.points)}",
                nearest(end, known),
            )
        if not missing and run.start == run.end:
            self.report(
                ("runs", index),
                "loop",
                f'a run from "{run.start}" to itself',
                "a run between two places",
            )
        return not missing and run.start != run.end

    def all_fed(self, file: CircuitFile, graph: "nx.Graph[str]") -> None:
        for part in nx.connected_components(graph):
            if file.board not in part:
                cut_off = [name for name in file.points if name in part]
                what = "point" if len(cut_off) == 1 else "points"
                self.report(
                    ("points", cut_off[0]),
                    "not-fed",
                    f"no run leads from the board {file.board} to {what} {listed(cut_off, 'and')}",
                    "runs that reach every point",
                )

    def cable_of(
        self, file: CircuitFile, index: int, rules: Region, common: ConductorTable
    ) -> Cable | None:
        """Return the cable of a run: the circuit's, with what the run says instead."""
        own, cable, table = file.runs[index].cable, file.cable, common
        if own is not None:
            path = ("runs", index, "cable")
            cable = cable.with_own(own)
            named = self.table(cable, rules, path)
            if named is None:
                return None
            table = named
            # What it has from the circuit's cable was looked up there, in the same table.
            self.sizes(own if table is common else cable, table, path)
        neutral = cable.active if cable.neutral is None else cable.neutral
        earth = cable.active if cable.earth is None else cable.earth
        return Cable(cable.active, neutral, earth, table)

    def table(self, cable: CableFile, rules: Region, path: KeyPath) -> ConductorTable | None:
        """Return the conductor table of a cable."""
        try:
            if cable.conductors is None:
                return rules.conductor_table(cable.material or "copper")
            table = conductor_table(cable.conductors)
        except UnknownStandard as error:
            self.unknown((*path, "conductors" if cable.conductors else "material"), error)
            return None
        if cable.material not in {None, table.material}:
            self.report(
                (*path, "conductors"),
                "impossible-value",
                f"{table.id} is a table of {table.material}, not of {cable.material}",
                f"material: {table.material}, or another table",
            )
        return table

    def sizes(self, cable: OwnCableFile, table: ConductorTable, path: KeyPath) -> None:
        """Report the sizes of a cable that its table does not have."""
        for conductor in ("active", "neutral", "earth"):
            area_mm2 = getattr(cable, conductor)
            try:
                if area_mm2 is not None:
                    table.row(area_mm2)
            except UnknownStandard as error:
                self.unknown((*path, conductor), error)
