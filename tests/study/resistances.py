"""What an ohmmeter reads at each outlet of a dead circuit under the terminated test.

Conductors become resistors between terminals, joints of no resistance are merged by union-find,
and the grounded Laplacian of each connected part is inverted: with K that inverse,
R(p, q) = K[p, p] + K[q, q] - 2 K[p, q]; no path reads open. One resistor's conductance changed by
dg alters a reading by -dg k^2 / (1 + dg R(u, v)), where k = K[p, u] - K[p, v] - K[q, u] + K[q, v]
(Sherman-Morrison), so one inverse serves every value of a joint or a bridge. The smallest
resistor here is 10 mohm and the largest 30 ohm, where both are good to better than 1e-9.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from drawing import AS_IT_SHOULD, CONDUCTORS, Arrangement, Circuit, Fault, Key
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Node = tuple[str, ...]
Link = tuple[Node, Node, float]

OVER_RANGE_OHM = 2000.0


@dataclass(frozen=True, slots=True)
class Sweep:
    """Readings as a function of the ohms of one joint or bridge; ``base`` holds at ``at_ohm``."""

    fault: Fault | None
    base: Floats
    k2: Floats
    r_uv: Floats
    at_ohm: float

    @property
    def is_constant(self) -> bool:
        """Whether the fault has no ohms that any of the readings feels."""
        return not np.any(self.k2 > 0)

    def at(self, r_ohm: float | Floats) -> Floats:
        """Return the readings for one value of ohms, or a row for each of several. [ohm]"""
        change = 1 / np.asarray(r_ohm, dtype=float)[..., None] - 1 / self.at_ohm
        values = self.base - change * self.k2 / (1 + change * self.r_uv)
        return np.where(values > OVER_RANGE_OHM, np.inf, values)


def readings(
    circuit: Circuit,
    fault: Fault | None,
    keys: Sequence[Key],
    arrangement: Arrangement = AS_IT_SHOULD,
    second: Fault | None = None,
) -> Floats:
    """Return the noise-free readings, infinity for open; perhaps of two faults. [ohm]"""
    base = sweep(circuit, fault, keys, arrangement, second).base
    return np.where(base > OVER_RANGE_OHM, np.inf, base)


def sweep(
    circuit: Circuit,
    fault: Fault | None,
    keys: Sequence[Key],
    arrangement: Arrangement = AS_IT_SHOULD,
    second: Fault | None = None,
) -> Sweep:
    """Return the readings with a fault, and how they depend on its ohms.

    Parameters
    ----------
    circuit : Circuit
        The circuit as it is.
    fault : Fault or None
        What is wrong; its ``r_ohm`` is where ``base`` is computed, 1 ohm if it names none.
    keys : sequence of Key
        What is read.
    arrangement : Arrangement
        What is really connected meanwhile.
    second : Fault or None
        What else is wrong, with its ohms: at another place, and not behind a switch.
    """
    at_ohm = 1.0 if fault is None or fault.r_ohm is None else fault.r_ohm
    base, k2, r_uv = np.full(len(keys), np.inf), np.zeros(len(keys)), np.zeros(len(keys))
    apart = arrangement.load[0] if arrangement.load else ""
    if fault is not None and fault.behind:
        apart = fault.at
    for closed, wanted in _switchings(circuit, apart, keys, plugged_in=bool(arrangement.load)):
        links, element = network(circuit, fault, closed, at_ohm, arrangement, second)
        k, node_of, part_of = _grounded_inverse(links)
        u, v = (node_of[end] for end in element) if element else (0, 0)
        for i in wanted:
            outlet, _, pair = keys[i]
            p, q = (node_of[outlet, conductor, "contact"] for conductor in pair)
            if part_of[p] == part_of[q]:
                base[i] = k[p, p] + k[q, q] - 2 * k[p, q]
                k2[i] = (k[p, u] - k[p, v] - k[q, u] + k[q, v]) ** 2
                r_uv[i] = k[u, u] + k[v, v] - 2 * k[u, v]
    return Sweep(fault, base, np.where(k2 > 1e-18, k2, 0.0), r_uv, at_ohm)


def _switchings(
    circuit: Circuit, apart: str, keys: Sequence[Key], *, plugged_in: bool
) -> Iterator[tuple[frozenset[str], list[int]]]:
    """Yield which switches are closed, and the readings that may be taken so.

    An outlet is read with every other switch off. Nothing is plugged in, so a closed switch
    elsewhere is a dead end and all may be closed at once, unless a bridge lies behind one, the one
    of ``apart``. What is plugged in there has its switch on but for its own outlet's readings.
    """
    rest = frozenset({apart}) & circuit.switched if plugged_in else frozenset()
    own_off = [i for i, key in enumerate(keys) if key[1] == "off" and key[0] == apart]
    on = [i for i, (_, switch, _) in enumerate(keys) if switch == "on"]
    others = {*on, *own_off}
    yield rest, [i for i in range(len(keys)) if i not in others]
    yield frozenset(), own_off
    yield (circuit.switched - {apart}) | rest, [i for i in on if keys[i][0] != apart]
    if apart:
        yield frozenset({apart}), [i for i in on if keys[i][0] == apart]


def network(
    circuit: Circuit,
    fault: Fault | None,
    closed: Collection[str],
    r_ohm: float,
    arrangement: Arrangement = AS_IT_SHOULD,
    second: Fault | None = None,
) -> tuple[list[Link], tuple[Node, Node] | None]:
    """Return the resistors between terminals, and the ends of the one that has the fault's ohms."""
    active, neutral = circuit.terminators
    board, common = circuit.board, ("common",)
    fitted: dict[str, Link] = {
        "A": ((board, "A"), common, active),
        "N": ((board, "N"), common, neutral),
        "link": ((board, "E"), common, 0.0),
    }
    links = [link for what, link in fitted.items() if what not in arrangement.left_out]
    if arrangement.neutral_on_bar:
        links.append(((board, "N"), (board, "E"), 0.0))
    if arrangement.load:
        at, ohms = arrangement.load
        links.append(((at, "A", "contact"), (at, "N", "contact"), ohms))
    element: tuple[Node, Node] | None = None
    at_place = {what.at: what for what in (second, fault) if what is not None}

    def put_in(what: Fault, first: Node, other: Node) -> None:
        nonlocal element
        if what is fault:
            element = (first, other)
        links.append((first, other, r_ohm if what is fault else what.r_ohm or 0.0))

    def stretch(start: Node, end: Node, ohm: float, what: Fault | None, conductor: str) -> None:
        mode = what.mode if what is not None and conductor in what.conductors else ""
        if what is not None and mode == "high-resistance":
            links.append((start, (*end, "joint"), ohm))
            put_in(what, (*end, "joint"), end)
        elif mode == "open":  # both ends stay, nothing between them
            links.extend([(start, start, 0.0), (end, end, 0.0)])
        else:
            links.append((start, end, ohm))

    for run in circuit.runs:
        here = at_place.get(run.name)
        goes_to = _exchange(here)
        for conductor in CONDUCTORS:
            start, end = (run.upstream, conductor), (run.downstream, goes_to[conductor])
            ohm = circuit.conductor_ohm(run, conductor)
            if here is not None and here.mode == "bridged" and conductor in here.conductors:
                spot, share = (run.name, conductor), here.along or 0.5
                links.extend([(start, spot, ohm * share), (spot, end, ohm * (1 - share))])
            else:
                stretch(start, end, ohm, here, conductor)
        if here is not None and here.mode == "bridged":
            put_in(here, (run.name, here.conductors[0]), (run.name, here.conductors[1]))

    for outlet in circuit.outlets:
        here = at_place.get(outlet)
        goes_to = _exchange(here)
        for conductor in CONDUCTORS:
            terminal = (outlet, goes_to[conductor], "terminal")
            stretch((outlet, conductor), terminal, 0.0, here, conductor)
        for conductor in CONDUCTORS:
            terminal, contact = (outlet, conductor, "terminal"), (outlet, conductor, "contact")
            made = _made(circuit, here, outlet, conductor, is_on=outlet in closed)
            links.append((terminal if made else contact, contact, 0.0))
        if here is not None and here.mode == "bridged":
            side = ("contact",) if here.behind else ()
            first, other = ((outlet, conductor, *side) for conductor in here.conductors)
            put_in(here, first, other)
    return links, element


def _exchange(fault: Fault | None) -> dict[str, str]:
    """Return where each conductor lands."""
    goes_to = {conductor: conductor for conductor in CONDUCTORS}
    if fault is not None and fault.mode == "transposed":
        names = fault.conductors
        goes_to |= dict(zip(names, (*names[1:], names[0]), strict=True))
    return goes_to


def _made(circuit: Circuit, fault: Fault | None, outlet: str, conductor: str, is_on: bool) -> bool:
    """Return whether an outlet's terminal and contact are joined."""
    mode = fault.mode if fault is not None else ""
    if outlet not in circuit.switched:
        return True
    if conductor != ("N" if mode == "switch-in-neutral" else "A"):
        return True
    if mode in ("switch-bypassed", "switch-stuck-on"):
        return True
    return is_on and mode != "switch-stuck-off"


def _grounded_inverse(links: Sequence[Link]) -> tuple[Floats, dict[Node, int], list[int]]:
    """Return the inverse Laplacian, each node's row in it, and each row's connected part.

    One row of each part is its ground and holds zeros.
    """
    nodes = dict.fromkeys(node for first, second, _ in links for node in (first, second))
    merged = _merge(nodes, [(first, second) for first, second, ohm in links if ohm == 0])
    rows = {root: row for row, root in enumerate(dict.fromkeys(merged.values()))}
    node_of = {node: rows[root] for node, root in merged.items()}
    parts = _merge(merged, [(first, second) for first, second, _ in links])
    part_of = [0] * len(rows)
    for node, root in parts.items():
        part_of[node_of[node]] = node_of[root]
    laplacian = np.zeros((len(rows), len(rows)))
    for first, second, ohm in links:
        p, q = node_of[first], node_of[second]
        if p != q:
            laplacian[p, p] += 1 / ohm
            laplacian[q, q] += 1 / ohm
            laplacian[p, q] -= 1 / ohm
            laplacian[q, p] -= 1 / ohm
    kept = [row for row in range(len(rows)) if part_of[row] != row]
    inverse = np.zeros_like(laplacian)
    if kept:
        inverse[np.ix_(kept, kept)] = np.linalg.inv(laplacian[np.ix_(kept, kept)])
    return inverse, node_of, part_of


def _merge(nodes: Collection[Node], joins: Sequence[tuple[Node, Node]]) -> dict[Node, Node]:
    """Return for each node the one that stands for all it is joined to."""
    parent = {node: node for node in nodes}

    def root(node: Node) -> Node:
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for first, second in joins:
        parent[root(first)] = root(second)
    return {node: root(node) for node in nodes}
