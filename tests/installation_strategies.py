"""Hypothesis strategies of installations: supplies, boards, circuits on them, loads, and faults.

Sizes are those of low-voltage wiring, see ``live_strategies.py``; the installations are invented.
"""

from dataclasses import dataclass, replace

from hypothesis import strategies as st
from live_strategies import FREQUENCIES_HZ, edits_of, voltmeters
from strategies import COPPER, circuits, faults, log_uniform, rings

from faultfinder.network.branch import Branch, Edit
from faultfinder.network.installation import CableConstants, Live, live_network
from faultfinder.network.wiring import bar, terminal
from faultfinder.wiring.circuit import CONDUCTORS, Cable, Circuit, Device, Load, far_end
from faultfinder.wiring.installation import (
    Board,
    EarthPath,
    Feeder,
    Impedance,
    Installation,
    Supply,
)

ACTIVES = (("A",), ("L1", "L2"), ("L1", "L2", "L3"))
SYSTEMS = ("TN-C-S", "TN-S", "TT")

_IMPEDANCES = st.builds(Impedance, log_uniform(0.01, 1.0), log_uniform(0.001, 0.1))
_RESIDUAL_MA = st.sampled_from((None, 30.0))
_FEEDER_CABLES = st.sampled_from((Cable(10, 10, 6, COPPER), Cable(16, 16, 16, COPPER)))


def on_board(circuit: Circuit, name: str, board: str, **changes: object) -> Circuit:
    """Return a circuit moved to a board, with a name that also begins those of its points."""
    places = {circuit.board: board, circuit.far_end: far_end(board)}
    places |= {point.name: f"{name}.{point.name}" for point in circuit.points}
    return replace(
        circuit,
        board=board,
        name=name,
        points=tuple(replace(point, name=places[point.name]) for point in circuit.points),
        runs=tuple(
            replace(run, upstream=places[run.upstream], downstream=places[run.downstream])
            for run in circuit.runs
        ),
        **changes,
    )


@st.composite
def supplies(draw):
    system = draw(st.sampled_from(SYSTEMS))
    actives = draw(st.sampled_from(ACTIVES))
    volts = 120.0 if len(actives) == 2 else 230.0
    electrode_ohm = draw(log_uniform(2.0, 500.0))
    return Supply(
        system,
        volts,
        actives,
        draw(st.sampled_from(FREQUENCIES_HZ)),
        line=draw(_IMPEDANCES),
        neutral=draw(_IMPEDANCES),
        earth=Impedance(0.0) if system == "TN-C-S" else draw(_IMPEDANCES),
        electrode_ohm=electrode_ohm,
    )


@st.composite
def loads(draw, circuit, actives):
    """Draw up to two loads on different points: appliances, and what leaks to earth."""
    points = draw(st.lists(st.sampled_from(circuit.points), max_size=2, unique=True))
    return tuple(
        Load(
            point.name,
            draw(st.sampled_from((("A", "N"), ("A", "N"), ("A", "E"), ("N", "E")))),
            draw(log_uniform(10.0, 3000.0)),
            draw(st.just(0.0) | log_uniform(0.1, 100.0)),
            "load",
            draw(st.booleans()),
        )
        for point in points
    )


@st.composite
def installations(draw, max_circuits=3, max_points=2):
    """Draw an installation: a main board, sometimes a sub-board, circuits on either."""
    supply = draw(supplies())
    main = Board("DB", supply.system == "TN-C-S", residual_ma=draw(_RESIDUAL_MA))
    boards = [main]
    actives = {"DB": supply.actives}
    if draw(st.booleans()):
        taken = draw(st.sampled_from((supply.actives, supply.actives[-1:])))
        device = Device("C", 40.0, draw(_RESIDUAL_MA))
        feeder = Feeder("DB", draw(st.floats(2.0, 60.0)), draw(_FEEDER_CABLES), taken, device)
        boards.append(Board("SDB", link=False, feeder=feeder, residual_ma=draw(_RESIDUAL_MA)))
        actives["SDB"] = taken
    found = []
    for number in range(1, draw(st.integers(1, max_circuits)) + 1):
        drawn = draw(circuits(max_points) | rings(max_points))
        board = draw(st.sampled_from(sorted(actives)))
        circuit = on_board(
            drawn,
            f"K{number}",
            board,
            phase=draw(st.sampled_from(actives[board])),
            device=Device("C", 20.0, draw(_RESIDUAL_MA)),
        )
        found.append(replace(circuit, loads=draw(loads(circuit, actives[board]))))
    places = [*actives, *(point.name for circuit in found for point in circuit.points)]
    pairs = st.lists(st.sampled_from(places), min_size=2, max_size=2, unique=True)
    paths = tuple(
        EarthPath(
            draw(st.sampled_from(("conduit", "water pipe"))), *pair, draw(log_uniform(0.01, 50))
        )
        for pair in draw(st.lists(pairs, max_size=2))
    )
    return Installation("invented", supply, tuple(boards), tuple(found), paths)


@st.composite
def edits_on(draw, installation: Installation, live: Live) -> Edit:
    """Draw one fault: of the rule files, a joint between any two terminals, or of a link."""
    circuit = draw(st.sampled_from(installation.circuits))
    kind = draw(st.sampled_from(("mode", "mode", "joint", "link extra", "link missing")))
    if kind == "mode":
        return draw(edits_of(circuit, live.network, draw(faults(circuit))))
    if kind == "joint":
        other = draw(st.sampled_from(installation.circuits))
        ends = [
            terminal(c, draw(st.sampled_from(c.points)).name, draw(st.sampled_from(CONDUCTORS)))
            for c in (circuit, other)
        ]
        return {("joined",): Branch(*ends, draw(st.just(0.0) | log_uniform(1e-3, 1e5)))}
    board = draw(st.sampled_from(installation.boards)).name
    if kind == "link extra":
        return {("link", board): Branch(bar(board, "N"), bar(board, "E"), 0.0)}
    return {("link", board): None}


@dataclass(frozen=True)
class Drawn:
    """An installation with its network, faults as edits, and voltmeters on one of its circuits."""

    installation: Installation
    live: Live
    edits: list[Edit]
    probes: list


@st.composite
def live_installations(draw, leakage_ohm_m=(None, 1e12), max_circuits=3, max_points=2):
    installation = draw(installations(max_circuits, max_points))
    constants = CableConstants(leakage_ohm_m=draw(st.sampled_from(leakage_ohm_m)))
    live = live_network(installation, constants)
    edits = [{}, *draw(st.lists(edits_on(installation, live), min_size=1, max_size=2))]
    circuit = draw(st.sampled_from(installation.circuits))
    probes = draw(st.lists(voltmeters(circuit), min_size=1, max_size=2))
    return Drawn(installation, live, edits, probes)
