"""From a circuit as drawn to a network of branches, and the places faults can be put.

Every run has one branch a conductor, named ``("run", run, conductor)``. Every outlet has one branch
a conductor from where the cables meet to the contact, named ``("tail", point, conductor)``: tail,
terminal and switch in one, bolted (0 ohm) as drawn. At a joint box and at the board a probe touches
the place where the cables meet.
"""

from faultfinder.network.branch import Branch, BranchName, Network, Node
from faultfinder.wiring.circuit import CONDUCTORS, PAIRS, Circuit


def switch_gate(point: str) -> str:
    """Return the gate of an outlet's own switch."""
    return f"switch of {point}"


def in_use_gate(point: str) -> str:
    """Return the gate that is made only while a reading is taken at an outlet.

    Nobody notes how the switches of the *other* outlets stand. What sits behind a switch that
    rests off is seen only from its own outlet, and passes through this gate.
    """
    return f"in use at {point}"


def run_branch(run: str, conductor: str) -> BranchName:
    """Return the name of a run's branch."""
    return ("run", run, conductor)


def tail_branch(point: str, conductor: str) -> BranchName:
    """Return the name of an outlet's branch from its cables to its contact."""
    return ("tail", point, conductor)


def bar(board: str, conductor: str) -> Node:
    """Return the node of a board's bar: of neutral, of earth, or of an active."""
    word = {"N": "neutral", "E": "earth", "A": "active"}.get(conductor, conductor)
    return Node(board, f"{word} bar", "bar")


def terminal(circuit: Circuit, place: str, conductor: str) -> Node:
    """Return the node a probe touches for one conductor at a point or at the board.

    At the board this is the circuit's own end, which is apart from the bars and from the ends of
    the board's other circuits.
    """
    point = circuit.point(place)
    if point is not None and point.kind == "outlet":
        return Node(place, conductor, "contact")
    return _joint(circuit, place, conductor)


def _joint(circuit: Circuit, place: str, conductor: str) -> Node:
    """Return the node where cables meet: at a point, or the circuit's own end at the board."""
    at_board = place in {circuit.board, circuit.far_end} and circuit.name
    return Node(place, conductor, f"end of {circuit.name}" if at_board else "through")


def network_of(circuit: Circuit, leakage_ohm_m: float | None = None) -> Network:
    """Return the sound network of a circuit, taken off everything at the board.

    Parameters
    ----------
    circuit : Circuit
        The circuit as drawn.
    leakage_ohm_m : float, optional
        Insulation resistance between any two conductors of one metre of cable; a run of l metres
        has this over l. Left out, insulation is perfect. [ohm m]
    """
    network: dict[BranchName, Branch] = {}
    for run in circuit.runs:
        for conductor in CONDUCTORS:
            start = _joint(circuit, run.upstream, conductor)
            end = _joint(circuit, run.downstream, conductor)
            r_ohm = circuit.conductor_ohm(run, conductor)
            network[run_branch(run.name, conductor)] = Branch(start, end, r_ohm)
        if leakage_ohm_m is not None:
            for a, b in PAIRS:
                ends = _joint(circuit, run.downstream, a), _joint(circuit, run.downstream, b)
                network["leak", run.name, a, b] = Branch(*ends, leakage_ohm_m / run.length_m)
    for point in circuit.outlets():
        for conductor in CONDUCTORS:
            gate = switch_gate(point.name) if conductor in point.switched else ""
            ends = Node(point.name, conductor), Node(point.name, conductor, "contact")
            network[tail_branch(point.name, conductor)] = Branch(*ends, 0.0, gate)
    return network
