"""From a test procedure to probes: what the leads touch, what is fitted, what is switched."""

from collections.abc import Iterable, Mapping

from faultfinder.network.branch import Branch, Node, Probe
from faultfinder.network.wiring import in_use_gate, switch_gate, terminal
from faultfinder.readings.reading import Spot, Switch, Terminators
from faultfinder.rulebook.procedures import FAR, Procedure, leads
from faultfinder.wiring.circuit import Circuit


def probe_for(
    procedure: Procedure, circuit: Circuit, terminators: Terminators | None, spot: Spot
) -> Probe:
    """Return the probe that reads one spot of a circuit, dead or live.

    A voltmeter's own ohms are fitted across its leads; a live test's load is not.

    Raises
    ------
    ValueError
        If the procedure fits terminators and none are given.
    """
    return probes_for({procedure.id: procedure}, circuit, terminators, [spot])[0]


def probes_for(
    procedures: Mapping[str, Procedure],
    circuit: Circuit,
    terminators: Terminators | None,
    spots: Iterable[Spot],
) -> list[Probe]:
    """Return the probes that read several spots; errors as ``probe_for``."""
    fitted: dict[tuple[str, str], tuple[Branch, ...]] = {}
    found = []
    for spot in spots:
        key = spot.test, spot.between
        if key not in fitted:
            fitted[key] = _fitted(procedures[spot.test], circuit, terminators, spot.between)
        here, there = _touched(circuit, spot)
        switches = map(switch_gate, circuit.operated(spot.at, spot.switch))
        operated = frozenset((in_use_gate(spot.at), *switches))
        meter_ohm = procedures[spot.test].meter
        meter = () if meter_ohm is None else (Branch(here[0], there[0], meter_ohm),)
        found.append(Probe(here, there, (*fitted[key], *meter), operated))
    return found


def _touched(circuit: Circuit, spot: Spot) -> tuple[tuple[Node, ...], tuple[Node, ...]]:
    """Return what either lead touches."""
    board = circuit.board
    first, second = leads(spot.between)
    here = tuple(terminal(circuit, spot.at, conductor) for conductor in first)
    if second:
        return here, tuple(terminal(circuit, spot.at, conductor) for conductor in second)
    if spot.at == board:  # the two ends of a ring's conductor
        return here, tuple(terminal(circuit, circuit.far_end, conductor) for conductor in first)
    # A trailing lead from the board's end of the conductor.
    return tuple(terminal(circuit, board, conductor) for conductor in first), here


def _fitted(
    procedure: Procedure, circuit: Circuit, terminators: Terminators | None, between: str
) -> tuple[Branch, ...]:
    """Return what a procedure fits at the board while it reads these conductors."""
    board = circuit.board
    first, second = leads(between)
    read = [c for c in (*first, *second) if c in circuit.actives] or [circuit.actives[0]]
    stand_for = {"first": first[0], "second": second[0] if second else first[0], "A": read[0]}
    fitted = []
    for fit in procedure.fit:
        start, end = (_at_board(circuit, name, stand_for) for name in (fit.start, fit.end))
        fitted.append(Branch(start, end, _fitted_ohm(fit.ohms, terminators)))
    if circuit.is_ring and procedure.ring == "joined" and not procedure.is_live:
        fitted += [
            Branch(terminal(circuit, board, c), terminal(circuit, circuit.far_end, c), 0.0)
            for c in circuit.conductors
        ]
    return tuple(fitted)


def _at_board(circuit: Circuit, name: str, stand_for: Mapping[str, str]) -> Node:
    """Return the node that a name means at the board: a conductor's end, or a bar."""
    word = name.removesuffix(FAR)
    conductor = stand_for.get(word, word)
    if conductor in circuit.conductors:
        return terminal(circuit, circuit.board if word == name else circuit.far_end, conductor)
    return Node(circuit.board, name, "bar")


def _fitted_ohm(ohms: str | None, terminators: Terminators | None) -> float:
    if ohms is None:
        return 0.0
    if terminators is None:
        raise ValueError("this test needs the terminators' ohms")
    return terminators.ohms(ohms)


def spots_of(procedure: Procedure, circuit: Circuit) -> tuple[Spot, ...]:
    """Return everything a procedure reads on a circuit, in drawing order."""
    spots: list[Spot] = []
    if procedure.for_rings_only and not circuit.is_ring:
        return ()
    places: list[tuple[str, tuple[Switch, ...]]] = (
        [(circuit.board, ("",))] if procedure.is_read_at(None) else []
    )
    for point in circuit.points:
        if procedure.is_read_at(point):
            words = circuit.switch_words(point) or ("",)
            places.append((point.name, words if procedure.switch == "both" else words[:1]))
    for at, switches in places:
        pairs = procedure.pairs_of(circuit.actives_at(at))
        spots += [Spot(procedure.id, at, switch, pair) for switch in switches for pair in pairs]
    return tuple(spots)
