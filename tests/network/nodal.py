"""A second solver for alternating current, of its own: nodal equations with 60 digits.

Bolted joints are merged by union-find, opens and whatever has no path to a held node left out, and
the complex nodal equations written as real ones of twice the size,

    [G -B] [Re v]   [Re i]
    [B  G] [Im v] = [Im i],

which Gauss's elimination with row pivots solves in ``decimal``. Between 1e-4 ohm and 1e10 ohm that
loses some digits: against 110, 60 were right to 5e-53 at the worst of 400 networks.

Every source is solved for alone. Their sum is the potential, and the sum of their *sizes* is what
an error of the potential is measured by: where the three phases cancel at a star point, nothing can
be right to a share of the little that is left.
"""

import decimal
import math
from decimal import Decimal

from network.exact import LEADS, made_branches, made_by_name, merged, reached

DIGITS = 60


def exact_impedance(network, probe):
    """Return the impedance between the leads, or infinity where nothing joins them. [ohm]"""
    links, root = _merged_links(network, probe)
    first, second = (root(lead) for lead in LEADS)
    if first == second:
        return 0j
    # One ampere into the first lead, the second grounded: the potential is the impedance.
    with decimal.localcontext(prec=DIGITS):
        solved = _solved(_admittances(links, root), {second}, [{first: (Decimal(1), Decimal(0))}])
        return _float(solved[first][0]) if first in solved else complex(math.inf)


def exact_voltage(network, probe, potentials):
    """Return the voltage between the leads, and the size its error is measured by. [V]

    Returns
    -------
    complex, float
        Second lead to first, nan if either floats; the larger lead's sum of the sizes of what each
        source alone makes of its potential.
    """
    links, root = _merged_links(network, probe)
    held = {root(node): potential for node, potential in potentials.items()}
    assert len(held) == len(potentials), "two sources bolted together hold no potential"
    with decimal.localcontext(prec=DIGITS):
        admittances = _admittances(links, root)
        solved = _solved_from(held, admittances)
        leads = [solved.get(root(lead)) for lead in LEADS]
        if None in leads:
            return complex(math.nan), math.nan
        first, second = ([sum(part) for part in zip(*lead, strict=True)] for lead in leads)
        voltage = _float([a - b for a, b in zip(first, second, strict=True)])
        return voltage, max(sum(abs(_float(part)) for part in lead) for lead in leads)


def exact_currents(network, names, potentials, operated=frozenset()):
    """Return the current through each named branch, start to end, and its error's measure. [A]

    The measure is the sum of the sizes of what each source alone drives. Bolted joints are merged,
    but those that are named have 1e-18 ohm, which costs digits, so that there are twice as many;
    see ``determined`` in ``exact.py`` for those that have an answer.
    """
    made = made_by_name(network, operated)
    joints = {n for n, b in made.items() if n not in names and b.r_ohm == b.x_ohm == 0}
    root = merged((made[n].start, made[n].end) for n in joints)
    links = [
        (b.start, b.end, 1e-18 if b.r_ohm == b.x_ohm == 0 else b.r_ohm, b.x_ohm)
        for name, b in made.items()
        if name not in joints
    ]
    held = {root(node): potential for node, potential in potentials.items()}
    with decimal.localcontext(prec=2 * DIGITS):
        admittances = _admittances(links, root)
        solved = _solved_from(held, admittances)
        found = []
        for name in names:
            b = made.get(name)
            ends = [solved.get(root(node)) for node in (b.start, b.end)] if b else [None, None]
            if None in ends or ends[0] is ends[1]:
                found.append((0j, 0.0))
                continue
            r, x = Decimal(b.r_ohm), Decimal(b.x_ohm)
            r = Decimal("1e-18") if r == x == 0 else r
            y = r / (r * r + x * x), -x / (r * r + x * x)
            parts = [
                _times(y, tuple(p - q for p, q in zip(one, other, strict=True)))
                for one, other in zip(*ends, strict=True)
            ]
            whole = _float([sum(part) for part in zip(*parts, strict=True)])
            found.append((whole, sum(abs(_float(part)) for part in parts)))
        return found


def cancelling_size(network, name, potentials, operated=frozenset()):
    """Return how large the terms are whose sum is a branch's current. [A]

    With the branch away, each end hangs on the held nodes by admittances w1k and w2l. Every pair of
    those drives w1k w2l (Vk - Vl), and the sizes are summed here. Where paths cancel, in a balanced
    bridge or a loop on a dead end, the current is far smaller, and nothing double can be right to a
    share of it.
    """
    made = made_by_name(network, operated)
    branch = made.pop(name)
    root = merged((b.start, b.end) for b in made.values() if b.r_ohm == b.x_ohm == 0)
    links = [(b.start, b.end, b.r_ohm, b.x_ohm) for b in made.values()]
    held = {root(node): potential for node, potential in potentials.items()}
    ends = [root(node) for node in (branch.start, branch.end)]
    with decimal.localcontext(prec=2 * DIGITS):
        rows = _admittances(links, root)
        fixed = {*held, *ends}
        solved = _solved(rows, fixed, [dict(rows.get(end, {})) for end in ends])
        weights = []
        for number, end in enumerate(ends):
            into = dict.fromkeys(fixed - {end}, 0j)
            for node in into:
                for other, y in rows.get(node, {}).items():
                    if other == end:
                        into[node] += _float(y)
                    elif other in solved:
                        into[node] += _float(_times(y, solved[other][number]))
            weights.append(into)
    if not fixed - {*ends}:
        return 0.0
    beside = 0j if {*ends} & set(held) else weights[0][ends[1]]
    shares, behind_ohm = [], 0j
    for end, into in zip(ends, weights, strict=True):
        total = sum(w for node, w in into.items() if node in held)
        if end not in held and total == 0:
            return 0.0
        shared = {node: w / total for node, w in into.items() if node in held and end not in held}
        shares.append(shared or {end: 1})
        behind_ohm += 0 if end in held else 1 / total
    driving = sum(
        abs(a * b * (held[k] - held[n])) for k, a in shares[0].items() for n, b in shares[1].items()
    )
    z_ohm = complex(branch.r_ohm, branch.x_ohm) or 1e-18
    return driving / abs(behind_ohm * (1 + beside * z_ohm) + z_ohm)


def _solved_from(held, admittances):
    """Return what each source alone makes of every node's potential that any of them reaches."""
    currents = [
        {
            node: _times(y, (Decimal(potential.real), Decimal(potential.imag)))
            for node, y in admittances.get(source, {}).items()
        }
        for source, potential in held.items()
    ]
    solved = _solved(admittances, set(held), currents)
    for number, (source, potential) in enumerate(held.items()):
        solved[source] = [(Decimal(0), Decimal(0))] * len(held)
        solved[source][number] = (Decimal(potential.real), Decimal(potential.imag))
    return solved


def _merged_links(network, probe):
    links = [(b.start, b.end, b.r_ohm, b.x_ohm) for b in made_branches(network, probe)]
    for lead, touched in zip(LEADS, (probe.first, probe.second), strict=True):
        links += [(lead, node, 0.0, 0.0) for node in touched]
    return links, merged((start, end) for start, end, r, x in links if r == 0 and x == 0)


def _admittances(links, root):
    """Return every node's neighbours with the admittance to each, as real and imaginary part."""
    rows = {}
    for start, end, r_ohm, x_ohm in links:
        a, b = root(start), root(end)
        if math.isinf(r_ohm) or a == b:
            continue
        r, x = Decimal(r_ohm), Decimal(x_ohm)
        size = r * r + x * x
        for one, other in ((a, b), (b, a)):
            g, s = rows.setdefault(one, {}).get(other, (Decimal(0), Decimal(0)))
            rows[one][other] = (g + r / size, s - x / size)
    return rows


def _solved(admittances, held, currents):
    """Return the potentials of all that reaches a held node, one for each set of currents.

    The held nodes are grounded; what they drive is given as currents into their neighbours.
    """
    part = {node for source in held for node in reached(admittances, source)}
    nodes = sorted(part - held, key=str)
    place = {node: number for number, node in enumerate(nodes)}
    size = len(nodes)
    matrix = [[Decimal(0)] * (2 * size + len(currents)) for _ in range(2 * size)]
    for node, p in place.items():
        for other, (g, b) in admittances[node].items():
            for q, sign in ((p, 1), (place.get(other), -1)):
                if q is not None:
                    matrix[p][q] += sign * g
                    matrix[p + size][q + size] += sign * g
                    matrix[p][q + size] -= sign * b
                    matrix[p + size][q] += sign * b
        for number, current in enumerate(currents):
            re, im = current.get(node, (Decimal(0), Decimal(0)))
            matrix[p][2 * size + number] = re
            matrix[p + size][2 * size + number] = im
    columns = _reduced(matrix)
    return {
        node: [(columns[p][k], columns[p + size][k]) for k in range(len(currents))]
        for node, p in place.items()
    }


def _reduced(matrix):
    """Return the right sides after Gauss-Jordan elimination of the square left part."""
    size = len(matrix)
    for k in range(size):
        pivot = max(range(k, size), key=lambda i: abs(matrix[i][k]))
        matrix[k], matrix[pivot] = matrix[pivot], matrix[k]
        for i in range(size):
            if i != k and matrix[i][k]:
                factor = matrix[i][k] / matrix[k][k]
                for j in range(k, len(matrix[i])):
                    matrix[i][j] -= factor * matrix[k][j]
    return [[x / row[k] for x in row[size:]] for k, row in enumerate(matrix)]


def _times(a, b):
    return a[0] * b[0] - a[1] * b[1], a[0] * b[1] + a[1] * b[0]


def _float(number):
    return complex(float(number[0]), float(number[1]))
