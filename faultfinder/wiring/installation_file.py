"""Installation files: from what people write to a checked ``Installation``."""

from collections.abc import Iterator
from dataclasses import replace
from math import inf

from faultfinder.source.decode import decode
from faultfinder.source.document import Document, load_yaml
from faultfinder.source.problem import BadInput, Problem, listed, shown
from faultfinder.source.reference import named_in
from faultfinder.source.shelf import Shelf
from faultfinder.source.spelling import nearest
from faultfinder.standards.regions import Region, region
from faultfinder.standards.unknown import UnknownStandard
from faultfinder.wiring.cables import cable_of, check_sizes, table_of
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.file import circuit_from
from faultfinder.wiring.fittings import check_selective, device_of
from faultfinder.wiring.installation import (
    GROUND_PLACE,
    Board,
    EarthPath,
    Feeder,
    Impedance,
    Installation,
    Supply,
)
from faultfinder.wiring.installation_schema import (
    BoardFile,
    ElsewhereFile,
    ImpedanceFile,
    InstallationFile,
    SupplyFile,
)
from faultfinder.wiring.report import Report, not_meant

_ACTIVES = {"one": ("A",), "split": ("L1", "L2"), "three": ("L1", "L2", "L3")}

# External loop impedance where a file gives none. TN: typical maxima, an electricians' forum on
# on-site figures and a tutorial on earthing systems. TT: that of the metal loop, as TN-C-S; common
# practice, no source.
_USUAL_LOOP_OHM = {"TN-C-S": 0.35, "TN-S": 0.8, "TT": 0.35}


def installation_from(document: Document, shelf: Shelf | None = None) -> Installation:
    """Return the installation a document describes, the circuits it names in files included.

    ``shelf`` has the rules it is read by, the program's own unless given.

    Raises
    ------
    BadInput
        With every problem of its own; or else with every problem of its circuits.
    """
    tree = document.tree
    if isinstance(tree, dict) and "installation" not in tree and {"board", "circuit"} & set(tree):
        found = "this is a circuit or a case, and no installation"
        expected = "an installation: its name, supply, boards and circuits"
        raise not_meant(document, "not-an-installation", found, expected)
    file = decode(document, InstallationFile)
    reader = _Reader(document, shelf=shelf)
    whole = reader.installation(file)
    if whole is None or reader.problems:
        raise reader.bad_input()
    return whole


def is_installation(document: Document) -> bool:
    """Tell whether a document is meant to be an installation."""
    tree = document.tree
    return isinstance(tree, dict) and (
        {"installation", "supply"} <= set(tree)
        or ("installation" in tree and not {"circuit", "readings"} & set(tree))
    )


class _Reader(Report):
    """Turns a decoded file into an installation and gathers what does not fit on the way."""

    def installation(self, file: InstallationFile) -> Installation | None:
        try:
            rules = region(file.region, self.shelf)
        except UnknownStandard as error:
            self.unknown(("region",), error)
            return None
        supply = supply_of(file.supply, rules.nominal_voltage_v)
        if GROUND_PLACE in file.boards:
            found = f'a board named "{GROUND_PLACE}"'
            self.say(("boards", GROUND_PLACE), "duplicate-name", found, "another name")
        if not (abs(supply.line) and abs(supply.neutral)):
            self.say(
                ("supply",),
                "impossible-value",
                "a supply without impedance",
                "line and neutral above 0 ohm",
            )
        boards = tuple(self.boards(file, rules, supply))
        circuits = tuple(self.circuits(file, supply))
        paths = tuple(self.earth_paths(file, circuits))
        links = {board.name: board.link for board in boards}
        known = tuple(
            replace(c, neighbours=_neighbours(c, circuits), linked=links.get(c.board))
            for c in circuits
        )
        return Installation(file.installation, supply, boards, known, paths)

    def boards(self, file: InstallationFile, rules: Region, supply: Supply) -> Iterator[Board]:
        """Yield the boards, the main one first, each after the one that feeds it."""
        mains = [name for name, board in file.boards.items() if board.feeder is None]
        if len(mains) != 1:
            found = f"{len(mains)} boards without a feeder: {listed(mains, 'and')}"
            found = found if mains else "every board has a feeder"
            self.say(("boards",), "not-fed", found, "one main board, which the supply feeds")
            return
        known = dict.fromkeys(mains)
        waiting = {name: board for name, board in file.boards.items() if board.feeder}
        yield self.board(mains[0], file.boards[mains[0]], rules, supply)
        while ready := [n for n, b in waiting.items() if b.feeder and b.feeder.start in known]:
            for name in ready:
                yield self.board(name, waiting.pop(name), rules, supply)
                known[name] = None
        for name, board in waiting.items():
            start = board.feeder.start if board.feeder else ""
            self.say(
                ("boards", name, "feeder", "from"),
                "not-fed",
                f"no board {shown(start)}"
                if start not in file.boards
                else f"boards feed each other in a round: {listed(waiting, 'and')}",
                listed(file.boards),
                nearest(start, file.boards),
            )

    def board(self, name: str, file: BoardFile, rules: Region, supply: Supply) -> Board:
        link = file.link
        if link is None:
            link = file.feeder is None and supply.system == "TN-C-S"
        feeder = None
        if file.feeder is not None:
            at = ("boards", name, "feeder")
            device = file.feeder.device
            table = table_of(self, file.feeder.cable, rules, (*at, "cable"))
            if table is not None:
                check_sizes(self, file.feeder.cable, table, (*at, "cable"))
                cable = cable_of(self, None, file.feeder.cable, rules, table, (*at, "cable"))
                if cable is not None:
                    feeder = Feeder(
                        file.feeder.start,
                        file.feeder.length,
                        cable,
                        supply.actives,
                        device_of(self, device, rules, (*at, "device")) if device else None,
                        rules.test_temperature_c,
                    )
        check_selective(self, file, ("boards", name))
        return Board(name, link, feeder, file.rcd, file.selective)

    def circuits(self, file: InstallationFile, supply: Supply) -> Iterator[Circuit]:
        """Yield the circuits; gather the problems of all of them."""
        taken: dict[str, str] = dict.fromkeys(file.boards, "a board")
        taken[GROUND_PLACE] = "the mass of earth"
        found: list[Problem] = []
        sources = {self.document.path: self.document.text}
        for name, written in file.circuits.items():
            at = ("circuits", name)
            try:
                if isinstance(written, str) or "file" in written:
                    circuit = self.elsewhere(name, written)
                else:
                    circuit = circuit_from(self.document, at, self.shelf)
            except BadInput as bad:
                found += bad.problems
                sources |= bad.sources
                continue
            circuit = replace(circuit, name=name)
            self.placed(circuit, file, supply)
            for point in circuit.points:
                if point.name in taken:
                    self.say(
                        at,
                        "duplicate-name",
                        f"{point.name} of circuit {name} is {taken[point.name]} already",
                        "names of points that differ all over the installation",
                    )
                taken[point.name] = f"a point of circuit {name}"
            yield circuit
        if found:
            raise BadInput([*self.problems, *found], sources)

    def elsewhere(self, name: str, written: str | dict[str, object]) -> Circuit:
        """Return a circuit that is in a file of its own."""
        at: tuple[str, ...] = ("circuits", name)
        file, phase = written, None
        if not isinstance(file, str):
            said = decode(self.document, ElsewhereFile, at=at)
            at, file, phase = (*at, "file"), said.file, said.phase
        with named_in(self.document, at, file) as other:
            circuit = circuit_from(load_yaml(other), shelf=self.shelf)
        return replace(circuit, phase=phase or circuit.phase)

    def placed(self, circuit: Circuit, file: InstallationFile, supply: Supply) -> None:
        """Report a circuit on no board, or on an active the supply does not have."""
        at = ("circuits", circuit.name)
        if circuit.board not in file.boards:
            self.say(
                at,
                "missing-board",
                f"no board {shown(circuit.board)}, which circuit {circuit.name} is on",
                listed(file.boards),
                nearest(circuit.board, file.boards),
            )
        wanted = circuit.actives if circuit.actives != ("A",) else (circuit.phase,)
        if not {*wanted} <= {*supply.actives}:
            one = supply.actives == ("A",)
            self.say(
                at,
                "impossible-value",
                f"circuit {circuit.name} is on {listed(wanted, 'and')}"
                if wanted != ("A",)
                else f"circuit {circuit.name} does not say which active feeds it",
                "no phase: the supply has one active"
                if one
                else f"phase: one of {listed(supply.actives)}, or actives: [L1, L2, L3]",
            )

    def earth_paths(
        self, file: InstallationFile, circuits: tuple[Circuit, ...]
    ) -> Iterator[EarthPath]:
        places = [*file.boards, GROUND_PLACE, *(p.name for c in circuits for p in c.points)]
        seen = set[tuple[str, str, str]]()
        for index, path in enumerate(file.earth_paths):
            for key, place in (("from", path.start), ("to", path.end)):
                if place not in places:
                    self.say(
                        ("earth-paths", index, key),
                        "missing-point",
                        f"no point or board {shown(place)}",
                        "a point, a board, or ground",
                        nearest(place, places),
                    )
            if path.start == path.end:
                self.say(
                    ("earth-paths", index),
                    "loop",
                    f"a path from {path.start} to itself",
                    "a path between two places",
                )
            if (path.what, path.start, path.end) in seen:
                self.say(
                    ("earth-paths", index),
                    "duplicate-name",
                    f"a second {path.what} from {path.start} to {path.end}",
                    "another word for it in what",
                )
            seen.add((path.what, path.start, path.end))
            yield EarthPath(path.what, path.start, path.end, path.ohms)


def _neighbours(circuit: Circuit, circuits: tuple[Circuit, ...]) -> tuple[str, ...]:
    return tuple(c.name for c in circuits if c.board == circuit.board and c.name != circuit.name)


def supply_of(file: SupplyFile, nominal_v: float) -> Supply:
    """Return the supply that a file describes; ``nominal_v`` is the region's own voltage. [V]"""
    voltage_v = file.voltage or nominal_v
    loop_ohm = file.loop or _USUAL_LOOP_OHM[file.system]
    if file.fault_current is not None:
        loop_ohm = voltage_v / file.fault_current
    half = Impedance(loop_ohm / 2)
    line = _impedance(file.line) or half
    return Supply(
        system=file.system,
        voltage_v=voltage_v,
        actives=_ACTIVES[file.phases],
        frequency_hz=float(file.frequency.removesuffix(" Hz")),
        line=line,
        neutral=_impedance(file.neutral) or line,
        earth=_impedance(file.earth) or (line if file.system == "TN-S" else Impedance(0.0)),
        electrode_ohm=inf if file.electrode is None else file.electrode,
    )


def _impedance(file: ImpedanceFile | None) -> Impedance | None:
    return None if file is None else Impedance(file.r, file.x)
