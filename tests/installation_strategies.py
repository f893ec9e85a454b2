"""Hypothesis strategies of faults in installations that are alive, and of what is read there."""

from dataclasses import dataclass

from hypothesis import strategies as st
from live_strategies import edits_of, voltmeters
from strategies import faults, log_uniform

from faultfinder.network.branch import Branch, Edit
from faultfinder.network.installation import CableConstants, Live, live_network
from faultfinder.network.wiring import bar, terminal
from faultfinder.strategies import installations, on_board
from faultfinder.wiring.circuit import CONDUCTORS
from faultfinder.wiring.installation import Installation

__all__ = ["live_installations", "on_board"]


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
