"""From a test procedure to probes: what the leads touch, what is fitted, what is switched."""

from faultfinder.network.branch import Branch, Node, Probe
from faultfinder.network.wiring import in_use_gate, switch_gate, terminal
from faultfinder.readings.reading import Spot, Switch, Terminators
from faultfinder.rulebook.procedures import Procedure, leads
from faultfinder.wiring.circuit import CONDUCTORS, Circuit


def probe_for(
    procedure: Procedure, circuit: Circuit, terminators: Terminators | None, spot: Spot
) -> Probe:
    """Return the probe that reads one spot of a circuit.

    Raises
    ------
    ValueError
        If the procedure fits terminators and none are given.
    """
    first, second = leads(spot.between)
    here = [terminal(circuit, spot.at, conductor) for conductor in first]
    if second:
        there = [terminal(circuit, spot.at, conductor) for conductor in second]
    else:  # a trailing lead from the board's end of the conductor
        there, here = here, [terminal(circuit, circuit.board, conductor) for conductor in first]
    stand_for = {"first": first[0], "second": second[0] if second else first[0]}
    fitted = []
    for fit in procedure.fit:
        ends = [_at_board(circuit, stand_for.get(name, name)) for name in (fit.start, fit.end)]
        fitted.append(Branch(ends[0], ends[1], _fitted_ohm(fit.ohms, terminators)))
    operated = {in_use_gate(spot.at)}
    if spot.switch == "off":
        operated.add(switch_gate(spot.at))
    return Probe(tuple(here), tuple(there), tuple(fitted), frozenset(operated))


def _at_board(circuit: Circuit, name: str) -> Node:
    if name in CONDUCTORS:
        return terminal(circuit, circuit.board, name)
    return Node(circuit.board, name, "bar")


def _fitted_ohm(ohms: str | None, terminators: Terminators | None) -> float:
    if ohms is None:
        return 0.0
    if terminators is None:
        raise ValueError("this test needs the terminators' ohms")
    return terminators.ohms(ohms)


def spots_of(procedure: Procedure, circuit: Circuit) -> tuple[Spot, ...]:
    """Return everything a procedure reads on a circuit, in drawing order."""
    spots = []
    if "board" in procedure.at:
        spots += [Spot(procedure.id, circuit.board, "", pair) for pair in procedure.pairs]
    for point in circuit.points:
        if point.kind in procedure.at:
            switches: tuple[Switch, ...] = ("",)
            if point.switched:
                switches = ("on", "off") if procedure.switch == "both" else ("on",)
            for switch in switches:
                spots += [Spot(procedure.id, point.name, switch, pair) for pair in procedure.pairs]
    return tuple(spots)
