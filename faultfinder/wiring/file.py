"""Circuit files: from what people write to a checked ``Circuit``."""

from collections.abc import Iterator
from dataclasses import replace

import networkx as nx

from faultfinder.source.decode import decode
from faultfinder.source.document import Document, KeyPath
from faultfinder.source.problem import listed, shown
from faultfinder.source.shelf import Shelf
from faultfinder.source.spelling import nearest
from faultfinder.standards.regions import region
from faultfinder.standards.unknown import UnknownStandard
from faultfinder.wiring.cables import cable_of, check_sizes, table_of
from faultfinder.wiring.circuit import Circuit, Point, Run, far_end
from faultfinder.wiring.fittings import check_supplied, device_of, fitted, loads
from faultfinder.wiring.report import Report
from faultfinder.wiring.schema import POLES, CircuitFile


def circuit_from(document: Document, at: KeyPath = (), shelf: Shelf | None = None) -> Circuit:
    """Return the circuit written at a key path of a document, by the rules on a shelf.

    Raises
    ------
    BadInput
        With every problem found: of spelling, of sizes no table has, of runs that do not make a
        tree from the board.
    """
    file = decode(document, CircuitFile, at=at)
    reader = _Reader(document, at, shelf)
    circuit = reader.circuit(file)
    if circuit is None or reader.problems:
        raise reader.bad_input()
    return circuit


class _Reader(Report):
    """Turns a decoded file into a circuit and gathers what does not fit on the way."""

    def circuit(self, file: CircuitFile) -> Circuit | None:
        points = tuple(self.points(file))
        order = self.order(file)
        try:
            rules = region(file.region, self.shelf)
        except UnknownStandard as error:
            self.unknown(("region",), error)
            return None
        device = device_of(self, file.device, rules, ("device",))
        common = table_of(self, file.cable, rules, ("cable",))
        if common is None:
            return None
        check_sizes(self, file.cable, common, ("cable",))
        cables = [
            cable_of(self, run.cable, file.cable, rules, common, ("runs", index, "cable"))
            for index, run in enumerate(file.runs)
        ]
        runs = tuple(
            Run(near, far, file.runs[index].length, cable, file.runs[index].carries or ())
            for index, near, far in order
            if (cable := cables[index]) is not None
        )
        temperature = rules.test_temperature_c if file.temperature is None else file.temperature
        circuit = Circuit(
            board=file.board,
            device=device,
            points=points,
            runs=runs,
            region=rules,
            temperature_c=temperature,
            name=file.name,
            phase=file.phase or "A",
            actives=tuple(sorted(set(file.actives))) if file.actives else ("A",),
        )
        if self.problems:
            return None
        whole = replace(circuit, points=tuple(fitted(circuit, point) for point in points))
        check_supplied(self, file, whole)
        return replace(whole, loads=tuple(loads(self, file, whole)))

    def points(self, file: CircuitFile) -> Iterator[Point]:
        if not file.points:
            self.say(("points",), "missing-point", "no point is drawn", "at least one point")
        for name, point in file.points.items():
            if name == file.board:
                self.say(
                    ("points", name),
                    "duplicate-name",
                    f'point "{name}" has the board\'s name',
                    "another name",
                )
            if point.kind not in {"outlet", "appliance"} and point.switched != "none":
                self.say(
                    ("points", name, "switched"),
                    "impossible-value",
                    f'{point.kind.replace("-", " ")} "{name}" has a switch',
                    "a switch of its own only at an outlet or appliance; a light's is a point of "
                    "kind: switch",
                )
            takes = (point.phase,) if point.phase else ()
            where = point.floor, point.room, point.distance
            yield Point(name, point.kind, POLES[point.switched], takes, *where)

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
                self.say(
                    ("runs", index),
                    "duplicate-run",
                    f"the run {run.start}..{run.end} is drawn on line {first.line} already",
                    "one run between two points",
                )
            elif {start, end} <= set(graph) and nx.has_path(graph, start, end):
                around = [*nx.shortest_path(graph, end, start), end]
                self.say(
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
            self.say(
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
            self.say(
                ("runs", index, key),
                "missing-point",
                f"no point {shown(end)}" if end else "nothing is written here",
                f"the board {file.board} or a point: {listed(file.points)}",
                nearest(end, known),
            )
        if not missing and run.start == run.end:
            self.say(
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
                self.say(
                    ("points", cut_off[0]),
                    "not-fed",
                    f"no run leads from the board {file.board} to {what} {listed(cut_off, 'and')}",
                    "runs that reach every point",
                )
