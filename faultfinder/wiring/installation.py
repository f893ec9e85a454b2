"""What feeds a circuit: the supply and its earthing, boards, and the other circuits on them.

The earthing systems are those of IEC 60364-1, clause 312.2 (clause number from memory): in TN-C-S
one conductor serves as neutral and earth up to the installation, where a link parts them; in TN-S
they come apart from the source; in TT the installation's earth is an electrode of its own.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import inf
from typing import Literal

from faultfinder.wiring.circuit import Cable, Circuit, Device

GROUND_PLACE = "ground"
"""The general mass of earth, as the end of a path between earths."""

System = Literal["TN-C-S", "TN-S", "TT"]


@dataclass(frozen=True, slots=True)
class Impedance:
    """Resistance and reactance in series, at the supply's frequency. [ohm]"""

    r_ohm: float
    x_ohm: float = 0.0

    def __abs__(self) -> float:
        """Return its size. [ohm]"""
        return abs(complex(self.r_ohm, self.x_ohm))


@dataclass(frozen=True, slots=True)
class Supply:
    """The source and its conductors, up to the main board's bars.

    Attributes
    ----------
    system : System
        How it is earthed.
    voltage_v : float
        Between an active and neutral, rms. [V]
    actives : tuple of str
        ``("A",)`` single phase, ``("L1", "L2")`` split phase, half a turn apart, or
        ``("L1", "L2", "L3")`` three-phase, a third of a turn apart.
    frequency_hz : float
        [Hz]
    line, neutral : Impedance
        Of each active with its source winding, and of the neutral (the PEN in TN-C-S).
    earth : Impedance
        TN-S: of the protective conductor from the source. TT: of the source's own electrode.
        TN-C-S: not there, the PEN serves.
    electrode_ohm : float
        The installation's own earth electrode; infinite for none. In TN systems it is beside the
        supply's earth, through the ground to the source's. [ohm]
    """

    system: System
    voltage_v: float
    actives: tuple[str, ...]
    frequency_hz: float
    line: Impedance
    neutral: Impedance
    earth: Impedance = Impedance(0.0)
    electrode_ohm: float = inf

    @property
    def loop_ohm(self) -> complex:
        """The external earth fault loop impedance of a TN system, by its metal path. [ohm]"""
        back = self.neutral if self.system == "TN-C-S" else self.earth
        return complex(self.line.r_ohm + back.r_ohm, self.line.x_ohm + back.x_ohm)


@dataclass(frozen=True, slots=True)
class Board:
    """A board with its bars: one an active, one for neutral, one for earth.

    Attributes
    ----------
    name : str
        As circuits name it.
    link : bool
        Whether neutral and earth bars are joined here.
    feeder : Feeder or None
        What feeds a sub-board; None for the main board, which the supply feeds.
    residual_ma : float or None
        Rated residual current of a device that all its circuits' actives and neutrals pass. [mA]
    selective : bool
        Whether that device is of type S, which lets others trip first.
    """

    name: str
    link: bool
    feeder: "Feeder | None" = None
    residual_ma: float | None = None
    selective: bool = False


@dataclass(frozen=True, slots=True)
class Feeder:
    """The cable from one board to another, behind a device."""

    board: str
    length_m: float
    cable: Cable
    actives: tuple[str, ...]
    device: Device | None = None
    temperature_c: float = 20.0


@dataclass(frozen=True, slots=True)
class EarthPath:
    """Metal that is no protective conductor but joins earths: conduit, water pipe, structure.

    ``start`` and ``end`` are points, boards, where it meets the earth bar, or ``GROUND_PLACE``;
    ``r_ohm`` is its resistance. [ohm]
    """

    what: str
    start: str
    end: str
    r_ohm: float


@dataclass(frozen=True)
class Installation:
    """A supply, its boards, and the circuits on them; names of points are unique over all."""

    name: str
    supply: Supply
    boards: tuple[Board, ...]
    circuits: tuple[Circuit, ...]
    earth_paths: tuple[EarthPath, ...] = ()

    @cached_property
    def _circuits(self) -> dict[str, Circuit]:
        return {circuit.name: circuit for circuit in self.circuits}

    @cached_property
    def _boards(self) -> dict[str, Board]:
        return {board.name: board for board in self.boards}

    def circuit(self, name: str) -> Circuit | None:
        """Return the circuit of that name, or None."""
        return self._circuits.get(name)

    def board(self, name: str) -> Board | None:
        """Return the board of that name, or None."""
        return self._boards.get(name)

    def circuit_of(self, point: str) -> Circuit | None:
        """Return the circuit a point is on, or None."""
        return next((c for c in self.circuits if c.point(point) is not None), None)

    def boards_down_to(self, board: str) -> Iterator[Board]:
        """Yield the boards from the main one to a board."""
        found = self._boards[board]
        if found.feeder is not None:
            yield from self.boards_down_to(found.feeder.board)
        yield found
