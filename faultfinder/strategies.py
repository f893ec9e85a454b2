"""Hypothesis strategies: circuits, installations, faults, instruments, readings, and whole cases.

For property tests, of the program's and of your own rules. What is drawn is invented; sizes are
those of the region's conductor table. A failing example shrinks to few points, short names and
round numbers, and ``readings.writing.dump`` writes any case down as a file. Needs the extra
``faultfinder[strategies]``.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any, TypeAlias, TypeVar

from faultfinder.diagnosis.foretell import foretell
from faultfinder.readings.case import Case, Found
from faultfinder.readings.reading import Accuracy, Instrument, Reading, Terminators
from faultfinder.rulebook.rulebook import Rulebook, shipped_rulebook
from faultfinder.source.quantity import Amount
from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import CONDUCTORS, Cable, Circuit, Device, Load, Point, Run, far_end
from faultfinder.wiring.fault import Fault
from faultfinder.wiring.installation import (
    Board,
    EarthPath,
    Feeder,
    Impedance,
    Installation,
    Supply,
)

try:
    from hypothesis import strategies as st
except ImportError as error:
    why = "strategies need the extra: pip install 'faultfinder[strategies]'"
    raise ImportError(why) from error

T = TypeVar("T")
Draw: TypeAlias = Callable[[st.SearchStrategy[T]], T]
Strategy: TypeAlias = st.SearchStrategy[Any]

AU_NZ = region("au-nz")
COPPER = AU_NZ.conductor_table()
SIZES_MM2 = (1.0, 1.5, 2.5, 4.0, 6.0)
POLES: tuple[tuple[str, ...], ...] = ((), ("A",), ("A", "N"))
"""What the switch of an outlet may break: nothing, one pole, both."""
ACTIVES = (("A",), ("L1", "L2"), ("L1", "L2", "L3"))
SYSTEMS = ("TN-C-S", "TN-S", "TT")
FREQUENCIES_HZ = (50, 60)

_IMPEDANCE_OHM, _REACTANCE_OHM = (0.01, 1.0), (0.001, 0.1)
_RESIDUAL_MA = (None, 30.0)
_LOAD_OHM = (10.0, 3000.0)


def log_uniform(low: float, high: float) -> "st.SearchStrategy[float]":
    """Draw a number with every decade as likely as any other."""
    exponents = st.floats(math.log10(low), math.log10(high))
    return exponents.map(lambda exponent: min(high, max(low, 10.0**exponent)))


# -- circuits ------------------------------------------------------------------------------------


@st.composite
def cables(draw: Draw[Any]) -> Cable:
    """Draw a cable, its three conductors of any size."""
    active, neutral, earth = (draw(st.sampled_from(SIZES_MM2)) for _ in CONDUCTORS)
    return Cable(active, neutral, earth, COPPER)


@st.composite
def points(draw: Draw[Any], name: str) -> Point:
    """Draw a point of that name: an outlet, switched or not, once in a while a joint box."""
    kind = draw(st.sampled_from(("outlet", "outlet", "outlet", "joint-box")))
    switched = draw(st.sampled_from(POLES)) if kind == "outlet" else ()
    return Point(name, kind, switched)


@st.composite
def circuits(draw: Draw[Any], max_points: int = 6) -> Circuit:
    """Draw a radial circuit: each point fed from the board or a point before it, one an outlet.

    Points are drawn in any order; runs lead away from the board, as the file reader turns them.
    """
    names = [f"S{number}" for number in range(1, draw(st.integers(1, max_points)) + 1)]
    drawn = [draw(points(name)) for name in names]
    if not any(point.kind == "outlet" for point in drawn):
        drawn[0] = Point(names[0], "outlet", draw(st.sampled_from(POLES)))
    runs = tuple(
        Run(
            draw(st.sampled_from(("DB", *names[:index]))),
            name,
            draw(st.floats(0.3, 60.0)),
            draw(cables()),
        )
        for index, name in enumerate(names)
    )
    temperature_c = draw(st.floats(0.0, 45.0))
    order = tuple(draw(st.permutations(drawn)))
    return Circuit("DB", Device("C", 20.0), order, runs, AU_NZ, temperature_c)


@st.composite
def rings(draw: Draw[Any], max_points: int = 6) -> Circuit:
    """Draw a ring with spurs: some points round it, the others on spurs from points before them."""
    circuit: Circuit = draw(circuits(max_points))
    names = sorted(point.name for point in circuit.points)
    on_ring = draw(st.integers(1, len(names)))
    places = ["DB", *names[:on_ring], far_end("DB")]
    ends = [
        *pairwise(places),
        *((draw(st.sampled_from(names[:i])), names[i]) for i in range(on_ring, len(names))),
    ]
    runs = tuple(Run(*pair, draw(st.floats(0.3, 60.0)), draw(cables())) for pair in ends)
    return replace(circuit, runs=runs)


@st.composite
def faults(draw: Draw[Any], circuit: Circuit, rulebook: Rulebook | None = None) -> Fault:
    """Draw a fault that a mode of the rules can have in a circuit, with ohms where it has any."""
    modes = (rulebook or shipped_rulebook()).modes
    mode = draw(st.sampled_from([mode for mode in modes.values() if mode.faults(circuit)]))
    fault: Fault = draw(st.sampled_from(mode.faults(circuit)))
    if mode.ohms is None:
        return fault
    return replace(fault, r_ohm=draw(log_uniform(mode.ohms.from_ohm, mode.ohms.to_ohm)))


# -- installations -------------------------------------------------------------------------------


def on_board(circuit: Circuit, name: str, board: str, **changes: Any) -> Circuit:
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


def _impedances() -> "st.SearchStrategy[Impedance]":
    return st.builds(Impedance, log_uniform(*_IMPEDANCE_OHM), log_uniform(*_REACTANCE_OHM))


@st.composite
def supplies(draw: Draw[Any]) -> Supply:
    """Draw a supply of any earthing system and any number of phases."""
    system = draw(st.sampled_from(SYSTEMS))
    actives = draw(st.sampled_from(ACTIVES))
    volts = 120.0 if len(actives) == len(("L1", "L2")) else 230.0
    electrode_ohm = draw(log_uniform(2.0, 500.0))
    return Supply(
        system,
        volts,
        actives,
        draw(st.sampled_from(FREQUENCIES_HZ)),
        line=draw(_impedances()),
        neutral=draw(_impedances()),
        earth=Impedance(0.0) if system == "TN-C-S" else draw(_impedances()),
        electrode_ohm=electrode_ohm,
    )


@st.composite
def loads(draw: Draw[Any], circuit: Circuit) -> tuple[Load, ...]:
    """Draw up to two loads on different points: appliances, and what leaks to earth."""
    chosen = draw(st.lists(st.sampled_from(circuit.points), max_size=2, unique=True))
    return tuple(
        Load(
            point.name,
            draw(st.sampled_from((("A", "N"), ("A", "N"), ("A", "E"), ("N", "E")))),
            draw(log_uniform(*_LOAD_OHM)),
            draw(st.just(0.0) | log_uniform(0.1, 100.0)),
            "load",
            draw(st.booleans()),
        )
        for point in chosen
    )


@st.composite
def installations(draw: Draw[Any], max_circuits: int = 3, max_points: int = 2) -> Installation:
    """Draw an installation: a main board, sometimes a sub-board, circuits on either."""
    supply = draw(supplies())
    residual = st.sampled_from(_RESIDUAL_MA)
    main = Board("DB", supply.system == "TN-C-S", residual_ma=draw(residual))
    boards = [main]
    actives = {"DB": supply.actives}
    if draw(st.booleans()):
        taken = draw(st.sampled_from((supply.actives, supply.actives[-1:])))
        cable = draw(st.sampled_from((Cable(10, 10, 6, COPPER), Cable(16, 16, 16, COPPER))))
        device = Device("C", 40.0, draw(residual))
        feeder = Feeder("DB", draw(st.floats(2.0, 60.0)), cable, taken, device)
        boards.append(Board("SDB", link=False, feeder=feeder, residual_ma=draw(residual)))
        actives["SDB"] = taken
    found: list[Circuit] = []
    for number in range(1, draw(st.integers(1, max_circuits)) + 1):
        drawn = draw(circuits(max_points) | rings(max_points))
        board = draw(st.sampled_from(sorted(actives)))
        phase = draw(st.sampled_from(actives[board]))
        device = Device("C", 20.0, draw(residual))
        circuit = on_board(drawn, f"K{number}", board, phase=phase, device=device)
        found.append(replace(circuit, loads=draw(loads(circuit))))
    places = [*actives, *(point.name for circuit in found for point in circuit.points)]
    pairs = st.lists(st.sampled_from(places), min_size=2, max_size=2, unique=True)
    paths = tuple(
        EarthPath(
            draw(st.sampled_from(("conduit", "water pipe"))),
            start,
            end,
            draw(log_uniform(0.01, 50)),
        )
        for start, end in draw(st.lists(pairs, max_size=2))
    )
    return Installation("invented", supply, tuple(boards), tuple(found), paths)


# -- what is read, and with what -----------------------------------------------------------------


def fitted() -> "st.SearchStrategy[Terminators]":
    """Draw the resistors at the board, of values that are sold."""
    pairs = ((10.0, 5.0), (8.2, 3.3), (15.0, 6.8), (22.0, 10.0))
    return st.sampled_from([Terminators(*pair) for pair in pairs])


@st.composite
def instruments(draw: Draw[Any]) -> Instrument:
    """Draw an instrument: one whose leaflet is lost, or one of a stated accuracy and range."""
    if draw(st.booleans()):
        return Instrument()
    share = draw(st.sampled_from((0.01, 0.005, 0.02, 0.05)))
    fixed = draw(st.sampled_from((0.01, 0.02, 0.05)))
    top = draw(st.sampled_from((None, 2000.0, 20_000.0)))
    return Instrument(resistance=Accuracy(share, fixed, top, stated=True))


@st.composite
def readings(
    draw: Draw[Any],
    circuit: Circuit,
    made: Sequence[Fault] = (),
    tests: Sequence[str] = ("terminated",),
    terminators: Terminators | None = None,
    instrument: Instrument | None = None,
    rulebook: Rulebook | None = None,
    *,
    exact: bool = False,
) -> tuple[Reading, ...]:
    """Draw readings of dead tests as a person writes them: rounded, off, some rows left out.

    Each is within the instrument's accuracy of what the model says with these faults made, written
    to one, two or three decimals, and ``open`` where the model or the instrument's range says so.
    ``exact`` ones are right to the last digit, and all there.
    """
    meter = instrument or Instrument()
    rules = rulebook or shipped_rulebook()
    foretold = foretell(
        circuit, rules, tests, terminators or Terminators(10.0, 5.0), meter, tuple(made)
    )
    decimals = 3 if exact else draw(st.sampled_from((2, 1, 3)))
    kept = {(e.spot.test, e.spot.at, e.spot.switch): True for e in foretold.readings}
    if not exact:
        kept = {row: draw(st.integers(0, 9)) > 0 for row in kept}
        kept[next(iter(kept))] = True  # one row at least
    found = []
    for expected in foretold.readings:
        if not kept[expected.spot.test, expected.spot.at, expected.spot.switch]:
            continue
        if expected.is_open:
            found.append(Reading(expected.spot, Amount(math.inf, "open"), 0.0))
            continue
        accuracy = meter.accuracy(rules.procedures[expected.spot.test].quantity)
        off = 0.0 if exact else draw(st.floats(-1.0, 1.0))
        value = expected.value + off * (accuracy.share * expected.value + accuracy.fixed)
        shown = float(f"{max(0.0, value):.{decimals}f}")
        found.append(Reading(expected.spot, Amount(shown, "="), float(f"1e-{decimals}")))
    return tuple(found)


@st.composite
def cases(
    draw: Draw[Any],
    max_points: int = 4,
    tests: Sequence[str] = ("terminated",),
    rulebook: Rulebook | None = None,
    *,
    exact: bool = False,
) -> Case:
    """Draw a case: a circuit, sound or with one fault in it, and readings; the truth is in it."""
    circuit = draw(circuits(max_points))
    made = (draw(faults(circuit, rulebook)),) if draw(st.booleans()) else ()
    terminators, instrument = draw(fitted()), draw(instruments())
    taken = draw(readings(circuit, made, tests, terminators, instrument, rulebook, exact=exact))
    return Case("drawn", "", circuit, terminators, instrument, taken, Found(made))
