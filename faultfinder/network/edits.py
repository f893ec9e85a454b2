"""Fault modes as steps that edit a network.

A step says what happens to branches at a place, in the few words that rule files use. At a run it
acts on the run's conductors, at an outlet on the branches from the cables to the contacts.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import inf
from typing import Literal

from faultfinder.network.branch import Branch, BranchName, Edit, Network, Node
from faultfinder.network.wiring import (
    bar,
    circuit_end,
    in_use_gate,
    run_branch,
    switch_gate,
    tail_branch,
)
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault

Action = Literal[
    "break",
    "add-ohms",
    "scale",
    "exchange",
    "bridge",
    "join",
    "unswitch",
    "switch",
    "link",
    "unlink",
    "earth-path",
    "cut-off",
]
Side = Literal["supply", "load", "load-in-use"]


@dataclass(frozen=True, slots=True)
class Step:
    """One action of a fault mode.

    Attributes
    ----------
    action : Action
        ``break`` makes a conductor's branch open; ``add-ohms`` puts ohms in series with it;
        ``scale`` multiplies its resistance and reactance;
        ``exchange`` lands each conductor where the next one belongs, the last where the first does;
        ``bridge`` joins the two conductors through the ohms; ``join`` joins a conductor through the
        ohms to the same one of the other circuit that the fault names; ``unswitch`` takes a
        conductor past the switch, ``switch`` puts it through the switch; ``link`` joins neutral
        and earth, at a board its bars, ``unlink`` takes a board's link out; ``earth-path`` joins
        the earth to the board's by another way, through the ohms; ``cut-off`` opens the circuit's
        device.
    on : tuple of str
        Conductors acted on; ``given`` stands for the fault's own, ``switched`` for those that the
        outlet's switch breaks as drawn, ``all`` for all there are.
    side : Side
        For a bridge at an outlet: where the cables meet; behind the switch; behind a switch that
        rests off while other outlets are read.
    along : float
        For a bridge in a run: how far along it, 0 at the board's end and 1 at the far end.
    by : float
        For ``scale``: how many times as much.
    """

    action: Action
    on: tuple[str, ...] = ("given",)
    side: Side = "supply"
    along: float = 0.5
    by: float = 1.0


def fault_edit(
    network: Network,
    circuit: Circuit,
    steps: Sequence[Step],
    fault: Fault,
    r_ohm: float = 0.0,
) -> Edit:
    """Return the edit that puts one fault into a network.

    Parameters
    ----------
    network : Network
        The network to edit, sound or with another fault in it already.
    circuit : Circuit
        The circuit as drawn.
    steps : sequence of Step
        What the mode does, in order.
    fault : Fault
        Where, of which conductors, and to which other circuit; its own ohms are not looked at.
    r_ohm : float
        Ohms of the joint or bridge, for modes that have them. [ohm]
    """
    edit: dict[BranchName, Branch | None] = {}
    run = circuit.run(fault.at)
    in_run = run is not None
    at_switch = (point := circuit.point(fault.at)) is not None and point.is_wall_switch
    at = run.name if run else fault.at
    branch = run_branch if in_run else tail_branch
    for step in steps:
        on = _conductors(step.on, circuit, at, fault.conductors)
        now = {**network, **edit} if edit else network
        names = [_far_piece(now, branch(at, conductor)) for conductor in on]
        match step.action:
            case "break":
                # Kept at infinite ohms: another fault may still need to know where it ended.
                edit |= _changed(now, names, lambda b: b.of(inf))
            case "add-ohms":
                edit |= _changed(now, names, lambda b: b.of(b.r_ohm + r_ohm))
            case "scale":
                edit |= _changed(now, names, partial(_scaled, by=step.by))
            case "unswitch":
                edit |= _changed(now, names, lambda b: replace(b, gate=""))
            case "switch":
                edit |= _changed(now, names, lambda b: replace(b, gate=switch_gate(at)))
            case "exchange" if in_run:
                edit |= _exchange_in_run(now, names)
            case "exchange" if at_switch:
                edit |= _exchange_at_switch(now, at, names)
            case "exchange":
                edit |= _exchange_at_outlet(now, names)
            case "link" if at == circuit.board:
                edit["link", at] = Branch(bar(at, "N"), bar(at, "E"), 0.0)
            case "link":
                edit["bridge", at, "link"] = Branch(Node(at, "N"), Node(at, "E"), 0.0)
            case "unlink":
                edit |= _changed(now, [("link", at)], lambda b: b.of(inf))
            case "cut-off":
                poles = [("pole", circuit.name, c) for c in circuit.conductors]
                edit |= _changed(now, poles, lambda b: b.of(inf))
            case "earth-path":
                edit["earth path", "metal", at, circuit.board] = Branch(
                    Node(at, "E"), _board_earth(circuit), r_ohm
                )
            case "join":
                edit |= _join(circuit, at, on, fault.to, r_ohm)
            case "bridge" if in_run:
                edit |= _bridge_in_run(now, at, on, r_ohm, step.along)
            case "bridge":
                edit |= _bridge_at_outlet(at, on, r_ohm, step.side)
    return edit


def _conductors(
    on: tuple[str, ...], circuit: Circuit, at: str, given: tuple[str, ...]
) -> tuple[str, ...]:
    if on == ("given",):
        return given
    if on == ("switched",):
        point = circuit.point(at)
        return point.switched if point else ()
    if on == ("all",):
        return circuit.conductors_at(at)
    return on


def _far_piece(network: Edit, name: BranchName) -> BranchName:
    """Return the piece of a branch that a bridge has cut in two where its terminations are."""
    far = (*name, "far")
    return far if network.get(far) else name


def _changed(
    network: Edit, names: Iterable[BranchName], change: Callable[[Branch], Branch]
) -> Edit:
    present = ((name, network.get(name)) for name in names)
    return {name: change(branch) for name, branch in present if branch is not None}


def _exchange_in_run(network: Edit, names: Sequence[BranchName]) -> Edit:
    """Land each conductor at the far end on the terminal of the next one."""
    edit: dict[BranchName, Branch | None] = {}
    for name, target in zip(names, (*names[1:], names[0]), strict=True):
        own, other = network.get(name), network.get(target)
        edit[name] = replace(own, end=other.end) if own and other else None
    return edit


def _exchange_at_outlet(network: Edit, names: Sequence[BranchName]) -> Edit:
    """Feed each contact from the conductor before it; a switch stays with the contact it serves."""
    edit: dict[BranchName, Branch | None] = {}
    for name, target in zip(names, (*names[1:], names[0]), strict=True):
        own, other = network.get(name), network.get(target)
        edit[target] = replace(other, start=own.start) if own and other else None
    return edit


def _exchange_at_switch(network: Edit, at: str, names: Sequence[BranchName]) -> Edit:
    """Land each cable's conductor of a wall switch on the terminal that is meant for the next."""
    edit: dict[BranchName, Branch | None] = {}
    for name, target in zip(names, (*names[1:], names[0]), strict=True):
        own, other = network.get(name), network.get(target)
        edit[target] = None
        if own and other:
            arrives = own.start if own.start == Node(at, name[-1]) else own.end
            if other.start == Node(at, target[-1]):
                edit[target] = replace(other, start=arrives)
            else:
                edit[target] = replace(other, end=arrives)
    return edit


def _board_earth(circuit: Circuit) -> Node:
    """Return where metal meets the earth at the board: the bar, or the circuit's own end.

    Of a circuit drawn alone nothing else is on the bar; its earth stays there in every test but
    those that take a ring's ends apart.
    """
    if circuit.linked is None and not circuit.is_ring:
        return circuit_end(circuit.board, circuit.name, "E")
    return bar(circuit.board, "E")


def _scaled(branch: Branch, by: float) -> Branch:
    return replace(branch, r_ohm=branch.r_ohm * by, x_ohm=branch.x_ohm * by)


def _join(circuit: Circuit, at: str, on: tuple[str, ...], to: str, r_ohm: float) -> Edit:
    """Join conductors to another circuit's, whose way to its board is among the ohms."""
    return {
        ("joint", at, c, to): Branch(Node(at, c), circuit_end(circuit.board, to, c), r_ohm)
        for c in on
    }


def _bridge_at_outlet(at: str, on: tuple[str, ...], r_ohm: float, side: str) -> Edit:
    part = "through" if side == "supply" else "contact"
    gate = in_use_gate(at) if side == "load-in-use" else ""
    first, second = (Node(at, conductor, part) for conductor in on)
    return {("bridge", at, *on): Branch(first, second, r_ohm, gate, normally_made=not gate)}


def _bridge_in_run(network: Edit, at: str, on: tuple[str, ...], r_ohm: float, along: float) -> Edit:
    first, second = (Node(at, conductor, "along") for conductor in on)
    edit: dict[BranchName, Branch | None] = {("bridge", at, *on): Branch(first, second, r_ohm)}
    for conductor, spot in zip(on, (first, second), strict=True):
        name = run_branch(at, conductor)
        whole = network.get(name)
        if whole is not None:
            edit[name] = None
            edit[*name, "near"] = _piece(whole, whole.start, spot, along)
            edit[*name, "far"] = _piece(whole, spot, whole.end, 1 - along)
    return edit


def _piece(whole: Branch, start: Node, end: Node, share: float) -> Branch:
    r_ohm, x_ohm = whole.r_ohm * share, whole.x_ohm * share
    return Branch(start, end, r_ohm, whole.gate, whole.normally_made, x_ohm)
