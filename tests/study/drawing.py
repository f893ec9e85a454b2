"""What is drawn and what can be wrong with it: circuits, faults, and every fault of a circuit.

Written from the words of the file format alone. Nothing here or in the modules beside it imports
the package: they are a second witness to its electricity.
"""

from collections.abc import Iterator
from dataclasses import dataclass

CONDUCTORS = ("A", "N", "E")
PAIRS = (("A", "N"), ("A", "E"), ("N", "E"))
EXCHANGES = (*PAIRS, ("A", "N", "E"), ("A", "E", "N"))
SWITCH_MODES = ("switch-in-neutral", "switch-bypassed", "switch-stuck-on", "switch-stuck-off")
MODES = ("open", "high-resistance", "transposed", "bridged", *SWITCH_MODES)
OHMS = {"high-resistance": (0.3, 30.0), "bridged": (0.02, 3.0)}
ALONG = (0.05, 0.95)  # where in a run a bridge may lie, as a share of its length

# Solid copper, maximum d.c. resistance at 20 °C, IEC 60228 class 1. [ohm/km]
OHM_PER_KM = {1.5: 12.1, 2.5: 7.41, 4.0: 4.61}
# Of the resistance at 20 °C, standard annealed copper (textbook value, from memory). [1/K]
COPPER_PER_K = 0.00393

Key = tuple[str, str, tuple[str, str]]  # outlet, switch ("on", "off", "" where there is none), pair


@dataclass(frozen=True, slots=True)
class Run:
    """The cable between two points, the end nearer the board first."""

    upstream: str
    downstream: str
    length_m: float

    @property
    def name(self) -> str:
        """The run as people write it, such as ``S3..S4``."""
        return f"{self.upstream}..{self.downstream}"


@dataclass(frozen=True, slots=True)
class Circuit:
    """A radial circuit, as drawn or as it truly is, with the terminators at its board. [ohm]"""

    points: tuple[str, ...]
    boxes: frozenset[str]
    switched: frozenset[str]
    runs: tuple[Run, ...]
    active_mm2: float
    earth_mm2: float
    terminators: tuple[float, float]
    temperature_c: float = 20.0
    board: str = "DB"

    @property
    def outlets(self) -> tuple[str, ...]:
        """The points that have contacts to read at, in walking order."""
        return tuple(point for point in self.points if point not in self.boxes)

    def conductor_ohm(self, run: Run, conductor: str) -> float:
        """Return the resistance of one conductor of a run. [ohm]"""
        area = self.earth_mm2 if conductor == "E" else self.active_mm2
        warm = 1 + COPPER_PER_K * (self.temperature_c - 20)
        return OHM_PER_KM[area] / 1000 * run.length_m * warm

    def keys(self, outlets: tuple[str, ...] | None = None) -> tuple[Key, ...]:
        """Return what the terminated test reads at those outlets, or at all."""
        return tuple(
            (outlet, switch, pair)
            for outlet in (self.outlets if outlets is None else outlets)
            for switch in (("on", "off") if outlet in self.switched else ("",))
            for pair in PAIRS
        )


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong; for a mode with ohms, ``r_ohm`` None stands for any.

    ``along`` says where in a run a bridge lies, ``behind`` that it lies behind an outlet's switch.
    """

    mode: str
    conductors: tuple[str, ...]
    at: str
    r_ohm: float | None = None
    along: float | None = None
    behind: bool = False

    @property
    def label(self) -> tuple[str, tuple[str, ...], str]:
        """What a diagnosis has to say to be right."""
        return label(self.mode, self.conductors, self.at)

    def __str__(self) -> str:
        """Return the fault in one line."""
        ohms = "" if self.r_ohm is None else f"{self.r_ohm:.3g} ohm"
        where = "behind the switch" if self.behind else ""
        along = "" if self.along is None else f"{self.along:.0%} along"
        words = (self.mode, "-".join(self.conductors), "at", self.at, ohms, where, along)
        return " ".join(word for word in words if word)


@dataclass(frozen=True, slots=True)
class Arrangement:
    """What is really connected while the terminated test is read; as it should be by default.

    Attributes
    ----------
    left_out : frozenset of str
        ``A``, ``N``: that terminator is not on this circuit; ``link``: the common is not on earth.
    neutral_on_bar : bool
        Whether the neutral is still on its bar, which the link joins to earth.
    load : (str, float) or None
        An outlet, and the ohms of what is plugged in there, its switch on. [ohm]
    """

    left_out: frozenset[str] = frozenset()
    neutral_on_bar: bool = False
    load: tuple[str, float] | None = None


AS_IT_SHOULD = Arrangement()


def label(mode: str, conductors: tuple[str, ...], at: str) -> tuple[str, tuple[str, ...], str]:
    """Return a form in which two faults are equal if they are the same finding.

    Two conductors are a set; three are a cycle, told from A on; a switch fault needs none.
    """
    if mode in SWITCH_MODES:
        return mode, (), at
    if len(conductors) == 3 and "A" in conductors:
        start = conductors.index("A")
        return mode, conductors[start:] + conductors[:start], at
    return mode, tuple(sorted(conductors)), at


def faults_of(
    circuit: Circuit, *, in_runs: bool = False, behind_switches: bool = False
) -> Iterator[Fault]:
    """Yield every fault a circuit can have, one of each kind, ohms left open.

    Parameters
    ----------
    circuit : Circuit
        The circuit as drawn.
    in_runs : bool
        Whether a bridge may lie somewhere along a run.
    behind_switches : bool
        Whether a bridge may lie behind an outlet's switch.
    """
    runs = tuple(run.name for run in circuit.runs)
    for at in (*runs, *circuit.outlets):
        for conductor in CONDUCTORS:
            yield Fault("open", (conductor,), at)
            yield Fault("high-resistance", (conductor,), at)
        for exchanged in EXCHANGES:
            yield Fault("transposed", exchanged, at)
    for pair in PAIRS:
        for outlet in circuit.outlets:
            yield Fault("bridged", pair, outlet)
            if behind_switches and outlet in circuit.switched and "A" in pair:
                yield Fault("bridged", pair, outlet, behind=True)
        for at in runs if in_runs else ():
            yield Fault("bridged", pair, at, along=0.5)
    for outlet in circuit.outlets:
        if outlet in circuit.switched:
            for mode in SWITCH_MODES:
                yield Fault(mode, (), outlet)
