"""Readings as they were written down."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Literal, Protocol

from faultfinder.source.quantity import Amount
from faultfinder.wiring.circuit import Point

Switch = str
"""``on``, ``off``, nothing without a switch, or a word of ``Circuit.switch_words``."""


Quantity = Literal[
    "resistance",
    "insulation",
    "voltage",
    "voltage-drop",
    "loop",
    "fault-current",
    "residual",
    "trip-time",
]
"""What a test reads."""


class ReadingForm(Protocol):
    """What a reading needs to know of its test; rule files supply it."""

    @property
    def unit(self) -> str:
        """Unit of a bare number."""

    @property
    def quantity(self) -> Quantity:
        """What it reads."""

    @property
    def pairs(self) -> Collection[str]:
        """What can be read, such as ``A-N``."""

    @property
    def is_live(self) -> bool:
        """Whether it is read with the supply on."""

    def pairs_of(self, actives: tuple[str, ...]) -> Collection[str]:
        """Return what can be read where there are these actives."""

    @property
    def switch(self) -> Literal["both", "on"]:
        """Whether the switch of an outlet is to be tried in both positions."""

    @property
    def at(self) -> Collection[str]:
        """Kinds of places it is read at."""

    def is_read_at(self, point: Point | None) -> bool:
        """Return whether it is read at a point, or, with none, at the board."""

    @property
    def for_rings_only(self) -> bool:
        """Whether there is nothing to read on a radial circuit."""

    @property
    def needs_terminators(self) -> bool:
        """Whether known resistors are fitted at the board."""


ReadingForms = Mapping[str, ReadingForm]


@dataclass(frozen=True, slots=True)
class Spot:
    """What a reading is of: test, place, switch position, and the conductors between the leads.

    ``parted`` names the run that is taken off meanwhile at its end nearer the board, if any is.
    """

    test: str
    at: str
    switch: Switch
    between: str
    parted: str = ""

    def __str__(self) -> str:
        """Say it shortly, such as ``A-E at S3, switch on``."""
        switch = f", switch {self.switch}" if self.switch else ""
        parted = f", {self.parted} parted" if self.parted else ""
        return f"{self.between} at {self.at}{switch}{parted}"


@dataclass(frozen=True, slots=True)
class Reading:
    """One value read, in the test's unit.

    ``resolution`` is the step of the last digit written: a value written ``10`` may have been
    10.4, one written ``10.00`` may not.
    """

    spot: Spot
    amount: Amount
    resolution: float


@dataclass(frozen=True, slots=True)
class Terminators:
    """Known resistors at the board. [ohm]"""

    active_ohm: float
    neutral_ohm: float

    def ohms(self, name: str) -> float:
        """Return one by the name rule files use, such as ``terminators.active``. [ohm]"""
        return {
            "terminators.active": self.active_ohm,
            "terminators.neutral": self.neutral_ohm,
        }[name]


@dataclass(frozen=True, slots=True)
class Accuracy:
    """What an instrument may be off by: a share of the reading and a fixed part, in test units.

    ``stated`` tells whether the case says so or it is our default; ``range_top`` is the highest
    value it shows, beyond which it reads open (None if not known).
    """

    share: float
    fixed: float
    range_top: float | None = None
    stated: bool = False


@dataclass(frozen=True, slots=True)
class Instrument:
    """Accuracy by quantity.

    The defaults are common practice for resistance and voltage (no source), and for insulation,
    loop impedance and residual current half of the 30 %, 30 % and 20 % that IEC 61557-2, -3 and -6
    allow (the last from memory), as one standard deviation.
    """

    resistance: Accuracy = Accuracy(share=0.01, fixed=0.01)
    insulation: Accuracy = Accuracy(share=0.15, fixed=0.05)
    voltage: Accuracy = Accuracy(share=0.01, fixed=1.0)
    loop: Accuracy = Accuracy(share=0.15, fixed=0.02)
    residual: Accuracy = Accuracy(share=0.1, fixed=0.5)

    def accuracy(self, quantity: Quantity) -> Accuracy:
        """Return the accuracy for readings of a quantity, in its test's unit.

        A fault current is worked out from a loop's impedance; a voltage drop from two voltages.
        Trip times differ from device to device, not by the instrument: by a factor of two or so,
        common practice, no source.
        """
        match quantity:
            case "fault-current":
                return Accuracy(self.loop.share, 1.0, None, self.loop.stated)
            case "voltage-drop":
                return replace(self.voltage, share=0.02, fixed=0.3)
            case "trip-time":
                return Accuracy(share=0.8, fixed=1.0)
            case _:
                found: Accuracy = getattr(self, quantity)
                return found
