"""From a circuit as drawn to a network of branches, and the places faults can be put.

Every run has one branch a conductor, named ``("run", run, conductor)``. Every outlet has one branch
a conductor from where the cables meet to the contact, named ``("tail", point, conductor)``: tail,
terminal and switch in one, bolted (0 ohm) as drawn; a light's active contact hangs on its switched
active. A wall switch has one such branch for the conductor it switches, and one for each that it
switches on to. At a joint box and
at the board a probe touches the place where the cables meet.
"""

from dataclasses import replace

from faultfinder.network.branch import Branch, BranchName, Network, Node
from faultfinder.wiring.circuit import Circuit, Load, Point, pairs_of


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
    if point is not None and point.has_contacts:
        return Node(place, conductor, "contact")
    return _joint(circuit, place, conductor)


def _joint(circuit: Circuit, place: str, conductor: str) -> Node:
    """Return the node where cables meet: at a point, or the circuit's own end at the board."""
    if place in {circuit.board, circuit.far_end}:
        return circuit_end(place, circuit.name, conductor)
    return Node(place, conductor)


def circuit_end(board: str, circuit: str, conductor: str) -> Node:
    """Return the node of a circuit's own end of a conductor at its board; it may have no name."""
    return Node(board, conductor, f"end of {circuit}" if circuit else "through")


def network_of(circuit: Circuit, leakage_ohm_m: float | None = None) -> Network:
    """Return the sound network of a circuit, taken off everything at the board.

    What is wired in stays connected; appliances that can be unplugged are.

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
        carried = circuit.carried(run)
        for conductor in carried:
            start = _joint(circuit, run.upstream, conductor)
            end = _joint(circuit, run.downstream, conductor)
            r_ohm = circuit.conductor_ohm(run, conductor)
            network[run_branch(run.name, conductor)] = Branch(start, end, r_ohm)
        if leakage_ohm_m is not None:
            for a, b in pairs_of(carried):
                ends = _joint(circuit, run.downstream, a), _joint(circuit, run.downstream, b)
                network["leak", run.name, a, b] = Branch(*ends, leakage_ohm_m / run.length_m)
    for point in circuit.points:
        if point.is_wall_switch:
            network |= _wall_switch(circuit, point)
        for conductor in circuit.contacts(point):
            gate = switch_gate(point.name) if conductor in point.switched else ""
            fed_by = "S" if point.kind == "light" and conductor == "A" else conductor
            ends = Node(point.name, fed_by), Node(point.name, conductor, "contact")
            network[tail_branch(point.name, conductor)] = Branch(*ends, 0.0, gate)
    for load in circuit.loads:
        if load.is_fixed:
            network[load_branch(load)] = load_across(load)
    return network


def parted(network: Network, circuit: Circuit, run: str) -> Network:
    """Return a network with all conductors of a run taken off at its end nearer the board.

    They hang free there; what is at the run's far end stays joined to it.
    """
    drawn = circuit.run(run)
    if drawn is None:
        raise ValueError(f"no run {run}")
    names = (run_branch(drawn.name, conductor) for conductor in circuit.carried(drawn))
    free = {
        name: replace(network[name], start=network[name].start._replace(part="parted"))
        for name in names
    }
    return {**network, **free}


def load_branch(load: Load) -> BranchName:
    """Return the name of a load's branch."""
    return ("load", load.at, *load.between, load.what)


def load_across(load: Load) -> Branch:
    """Return the branch of a load, between the contacts of its point."""
    first, second = (Node(load.at, conductor, "contact") for conductor in load.between)
    return Branch(first, second, load.r_ohm, x_ohm=load.x_ohm)


def _wall_switch(circuit: Circuit, point: Point) -> Network:
    """Return the contacts of a wall switch, made as in its first position."""
    common = circuit.common_of(point)
    gate = switch_gate(point.name)
    blade = Node(point.name, common, "contact")
    return {tail_branch(point.name, common): Branch(Node(point.name, common), blade, 0.0)} | {
        tail_branch(point.name, conductor): Branch(
            blade,
            Node(point.name, conductor),
            0.0,
            gate,
            normally_made=conductor != "T2",
        )
        for conductor in point.switched
    }
