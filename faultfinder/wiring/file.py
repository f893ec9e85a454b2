"""Circuit files: from what people write to a checked ``Circuit``."""

import re
from collections.abc import Iterator
from typing import Annotated, Literal

import networkx as nx
from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from faultfinder.source.decode import Schema, decode
from faultfinder.source.document import Document, KeyPath
from faultfinder.source.problem import BadInput, Problem
from faultfinder.source.quantity import (
    Ampere,
    DegC,
    Metre,
    QuantityError,
    SquareMillimetre,
    parse_amount,
)
from faultfinder.source.spelling import nearest
from faultfinder.standards.conductors import conductor_table
from faultfinder.standards.limits import tripping_current_a
from faultfinder.standards.regions import DEFAULT_REGION, Region, region
from faultfinder.standards.unknown import UnknownStandard
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run

_MOST_POINTS = 500  # a final subcircuit has tens; a file with more is another file


def _milliamps(value: object) -> object:
    """Read a residual current: a bare number is in mA, as breakers are marked."""
    if not isinstance(value, str):
        return value
    text = f"{value} mA" if re.fullmatch(r"\s*[\d.]+\s*", value) else value
    try:
        return parse_amount(text, "A").value * 1000
    except QuantityError as error:
        parts = {"found": error.found, "expected": error.expected, "nearest": error.nearest}
        raise PydanticCustomError(error.id, "{found}", parts) from error


def _switched(value: object) -> object:
    """Read which conductors an outlet's switch breaks."""
    if isinstance(value, str):
        word = value.strip().lower()
        return {"yes": "active", "true": "active", "no": "none", "false": "none"}.get(word, word)
    return value


Name = Annotated[
    str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_'/-]*(\.[A-Za-z0-9_'/-]+)*$", max_length=40)
]


class DeviceFile(Schema):
    """``device: {curve: C, rating: 20, rcd: 30 mA}``."""

    curve: str
    rating: Ampere
    rcd: Annotated[float, BeforeValidator(_milliamps), Field(gt=0)] | None = None


class CableFile(Schema):
    """``cable: {active: 2.5, earth: 2.5, material: copper}``; neutral and earth as active."""

    active: SquareMillimetre
    neutral: SquareMillimetre | None = None
    earth: SquareMillimetre | None = None
    material: str = "copper"
    conductors: str | None = None


class PointFile(Schema):
    """``S1: {kind: outlet, switched: true}``; ``switched`` may be true, false, active or both."""

    kind: Literal["outlet", "joint-box"] = "outlet"
    switched: Annotated[Literal["active", "both", "none"], BeforeValidator(_switched)] = "none"


class RunFile(Schema):
    """``{from: DB, to: S1, length: 14}``, with a cable of its own if it differs."""

    start: Annotated[str, Field(alias="from")]
    end: Annotated[str, Field(alias="to")]
    length: Metre
    cable: CableFile | None = None


class CircuitFile(Schema):
    """A circuit as ``circuit:`` in a case, or as a file of its own."""

    format: Literal["1"] = "1"
    name: str = ""
    region: str = DEFAULT_REGION
    board: Name
    device: DeviceFile
    cable: CableFile
    temperature: DegC | None = None
    points: Annotated[dict[Name, PointFile], Field(min_length=1, max_length=_MOST_POINTS)]
    runs: Annotated[tuple[RunFile, ...], Field(min_length=1)]


_POLES = {"none": (), "active": ("A",), "both": ("A", "N")}


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
        self.problems.append(Problem(where, id_, found, expected, near))

    def unknown(self, path: KeyPath, error: UnknownStandard) -> None:
        self.report(path, "unknown-value", f"unknown {error.found}", error.expected, error.nearest)

    def circuit(self, file: CircuitFile) -> Circuit | None:
        try:
            rules = region(file.region)
        except UnknownStandard as error:
            self.unknown(("region",), error)
            return None
        try:
            tripping_current_a(rules, file.device.curve, file.device.rating)
        except UnknownStandard as error:
            self.unknown(("device", "curve"), error)
        common = self.cable(file.cable, rules, ("cable",))
        points = tuple(self.points(file))
        runs = tuple(self.runs(file, rules, common)) if common else ()
        if self.problems:
            return None
        temperature = rules.test_temperature_c if file.temperature is None else file.temperature
        device = Device(file.device.curve, file.device.rating, file.device.rcd)
        return Circuit(file.board, device, points, runs, rules, temperature, file.name)

    def cable(self, file: CableFile, rules: Region, path: KeyPath) -> Cable | None:
        try:
            if file.conductors is None:
                table = rules.conductor_table(file.material)
            else:
                table = conductor_table(file.conductors)
        except UnknownStandard as error:
            self.unknown((*path, "conductors" if file.conductors else "material"), error)
            return None
        sizes = {
            "active": file.active,
            "neutral": file.active if file.neutral is None else file.neutral,
            "earth": file.active if file.earth is None else file.earth,
        }
        for conductor, area_mm2 in sizes.items():
            try:
                table.row(area_mm2)
            except UnknownStandard as error:
                if getattr(file, conductor) is not None:
                    self.unknown((*path, conductor), error)
        return Cable(sizes["active"], sizes["neutral"], sizes["earth"], table)

    def points(self, file: CircuitFile) -> Iterator[Point]:
        for name, point in file.points.items():
            if name == file.board:
                self.report(
                    ("points", name), "duplicate-name", f'point "{name}" has the board\'s name'
                )
            if point.kind == "joint-box" and point.switched != "none":
                self.report(
                    ("points", name, "switched"),
                    "impossible-value",
                    f'joint box "{name}" has a switch',
                    "a switch only at an outlet",
                )
            yield Point(name, point.kind, _POLES[point.switched])

    def runs(self, file: CircuitFile, rules: Region, common: Cable) -> Iterator[Run]:
        """Yield the runs turned away from the board, after checking that they make a tree."""
        graph: nx.Graph[str] = nx.Graph()
        graph.add_node(file.board)
        known = [file.board, *file.points]
        written: dict[frozenset[str], tuple[int, RunFile]] = {}
        for index, run in enumerate(file.runs):
            before = len(self.problems)
            for key, name in (("from", run.start), ("to", run.end)):
                if name not in known:
                    self.report(
                        ("runs", index, key),
                        "missing-point",
                        f'no point "{name}"',
                        f"the board {file.board} or one of {', '.join(file.points)}",
                        nearest(name, known),
                    )
            if len(self.problems) > before:
                continue
            if run.start == run.end:
                self.report(("runs", index), "loop", f'a run from "{run.start}" to itself')
            elif {run.start, run.end} <= set(graph) and nx.has_path(graph, run.start, run.end):
                around = nx.shortest_path(graph, run.end, run.start)
                self.report(
                    ("runs", index),
                    "loop",
                    f"this run closes a loop: {' - '.join([*around, run.end])}",
                    "a radial circuit, where each point is fed by one run",
                )
            else:
                graph.add_edge(run.start, run.end)
                written[frozenset((run.start, run.end))] = (index, run)
        reached = nx.node_connected_component(graph, file.board)
        for name in file.points:
            if name not in reached and not self.problems:
                self.report(
                    ("points", name),
                    "not-fed",
                    f'point "{name}" is not reached from the board {file.board}',
                    "a run to every point",
                )
        for upstream, downstream in nx.bfs_edges(graph, file.board):
            index, run = written[frozenset((upstream, downstream))]
            cable = common
            if run.cable is not None:
                own = self.cable(run.cable, rules, ("runs", index, "cable"))
                cable = own or common
            yield Run(upstream, downstream, run.length, cable)
