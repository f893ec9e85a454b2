"""A third opinion: the same networks as netlists for ngspice, many in one file.

Bolted joints are merged, opens and whatever has no path to a source left out: SPICE has neither.
All networks of a file share the ground and nothing else. A branch is a resistor, and an inductor or
a capacitor of its reactance at the one frequency of the file, whatever frequency it was drawn for.
"""

import math
import re
import shutil
import subprocess
from dataclasses import dataclass, field, replace

from faultfinder.network.branch import Node, Probe
from network.exact import LEADS, made_branches, merged, reached

NGSPICE = shutil.which("ngspice")
_OMEGA = 2 * math.pi * 50
_SENSED = Node("sensed", "", "")


@dataclass
class Deck:
    """A netlist in the making, and the pairs of nodes whose voltages are wanted."""

    lines: list[str] = field(default_factory=list)
    wanted: list[tuple[str, str] | None] = field(default_factory=list)
    _names: int = 0

    def add_voltage(self, network, probe, potentials):
        """Add a network whose sources hold potentials; the voltage between the leads is wanted."""
        laid = _Laid(network, probe)
        held = {laid.root(node): potential for node, potential in potentials.items()}
        name_of = self._write(laid, {node for source in held for node in laid.part(source)})
        self._hold(held, name_of)
        self._want(laid, name_of)

    def add_impedance(self, network, probe):
        """Add a network driven by one ampere from lead to lead; the impedance is wanted."""
        laid = _Laid(network, probe)
        first, second = laid.leads
        part = laid.part(second)
        if first not in part:  # what has no source has no place in a netlist either
            self.wanted.append(None)
            return
        name_of = self._write(laid, part)
        self._line("V", name_of[second], "0", "DC 0 AC 0")
        self._line("I", "0", name_of[first], "DC 0 AC 1")
        self._want(laid, name_of)

    def add_current(self, network, name, potentials, operated=frozenset()):
        """Add a network whose sources hold potentials; the current through one branch is wanted.

        The branch ends at a source of no volts, and a source of one volt an ampere makes a
        potential of its current: ``solved`` returns that for both leads, None for no source.
        """
        end = network[name].end
        cut = {**network, name: replace(network[name], end=_SENSED)}
        laid = _Laid(cut, Probe((_SENSED,), (end,), operated=operated))
        held = {laid.root(node): potential for node, potential in potentials.items()}
        part = {node for source in held for node in laid.part(source)}
        joined = set[object]().union(*(laid.part(lead) for lead in laid.leads))
        if not part & joined:
            self.wanted.append(None)
            return
        name_of = self._write(laid, part | joined)
        self._hold(held, name_of)
        sense, made = self._name("V"), self._name("n")
        first, second = (name_of[lead] for lead in laid.leads)
        self.lines.append(f"{sense} {first} {second} DC 0 AC 0")
        self.lines.append(f"{self._name('H')} {made} 0 {sense} 1")
        self.wanted.append((made, made))

    def solved(self):
        """Return the potentials of the leads of each network; None where a lead floats."""
        nodes = sorted({node for pair in self.wanted if pair for node in pair})
        text = "\n".join(
            [
                "faultfinder's networks",
                *self.lines,
                ".options noopac pivtol=1e-30",
                ".control",
                "set numdgt=14",
                "ac lin 1 50 50",
                *(f"print v({node})" for node in nodes),
                "quit",
                ".endc",
                ".end",
                "",
            ]
        )
        ran = subprocess.run(  # noqa: S603, our own netlist through the ngspice of the machine
            [NGSPICE, "-b", "/dev/stdin"],
            input=text,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,  # what is missing from its answer says more, below
        )
        found = re.findall(r"^v\((\w+)\) = ([-+.\de]+),([-+.\de]+)", ran.stdout, re.MULTILINE)
        value = {node: complex(float(re_v), float(im_v)) for node, re_v, im_v in found}
        assert set(value) == set(nodes), ran.stdout + ran.stderr
        return [pair and (value[pair[0]], value[pair[1]]) for pair in self.wanted]

    def _hold(self, held, name_of):
        for node, potential in held.items():
            size, degrees = abs(potential), math.degrees(math.atan2(potential.imag, potential.real))
            self._line("V", name_of[node], "0", f"DC 0 AC {size!r} {degrees!r}")

    def _write(self, laid, part):
        name_of = {node: self._name("n") for node in sorted(part, key=str)}
        for start, end, r_ohm, x_ohm in laid.links:
            a, b = laid.root(start), laid.root(end)
            if a not in part or a == b or math.isinf(r_ohm):
                continue
            middle = self._name("n") if r_ohm and x_ohm else name_of[b]
            if r_ohm:
                self._line("R", name_of[a], middle, repr(r_ohm))
            begin = middle if r_ohm else name_of[a]
            if x_ohm > 0:
                self._line("L", begin, name_of[b], repr(x_ohm / _OMEGA))
            elif x_ohm < 0:
                self._line("C", begin, name_of[b], repr(-1 / (_OMEGA * x_ohm)))
        return name_of

    def _want(self, laid, name_of):
        pair = tuple(name_of.get(lead) for lead in laid.leads)
        self.wanted.append(None if None in pair else pair)

    def _line(self, kind, start, end, value):
        self.lines.append(f"{self._name(kind)} {start} {end} {value}")

    def _name(self, kind):
        self._names += 1
        return f"{kind}{self._names}"


class _Laid:
    """What conducts while a probe reads, its bolted joints merged."""

    def __init__(self, network, probe):
        self.links = [(b.start, b.end, b.r_ohm, b.x_ohm) for b in made_branches(network, probe)]
        joints = [(start, end) for start, end, r_ohm, x_ohm in self.links if r_ohm == x_ohm == 0]
        for lead, touched in zip(LEADS, (probe.first, probe.second), strict=True):
            joints += [(lead, node) for node in touched]
        self.root = merged(joints)
        self.leads = tuple(self.root(lead) for lead in LEADS)

    def part(self, node):
        neighbours = {}
        for start, end, r_ohm, _ in self.links:
            if not math.isinf(r_ohm):
                neighbours.setdefault(self.root(start), set()).add(self.root(end))
                neighbours.setdefault(self.root(end), set()).add(self.root(start))
        return reached(neighbours, node)
