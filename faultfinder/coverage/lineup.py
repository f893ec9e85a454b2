"""Every fault of the catalogue at every place, with what a plan's readings would be.

A family is one way one hypothesis can be built. Where it has ohms its readings are a curve over
them, known from three solutions (``diagnosis.screen.Curves``); samples stand on the curve at equal
steps of the logarithm, which is how its prior spreads.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import exp

import numpy as np

from faultfinder.diagnosis.catalogue import Hypothesis, catalogue, no_edit
from faultfinder.diagnosis.curves import MIDDLE_OHM, Curves, sampled_over
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Flags, Floats, Indices, Lean
from faultfinder.evidence.memory import keep_memory
from faultfinder.evidence.meter import Meter, meter_for
from faultfinder.network.branch import MakeEdit
from faultfinder.readings.reading import Instrument, Spot, Terminators
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.rulebook.tolerances import Tolerances
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault
from faultfinder.wiring.installation import Installation

SAMPLES = 24
"""Ohms of a family that are tried: some three to a decade of a bridge's range."""


@dataclass(frozen=True)
class Lineup:
    """The faults that can be, and what each would make the readings.

    Attributes
    ----------
    bench : Bench
        The circuit with the plan's readings ready, r of them.
    meter : Meter
        The instrument behind each.
    tolerances : Tolerances
        What drawing and leads may be off by.
    sound : Lean
        The sound circuit's readings and slopes.
    hypotheses : tuple of Hypothesis
        Every fault; the sound circuit is none of them.
    of : ndarray of int, shape (f,)
        Which hypothesis each family is a way of.
    weight : ndarray, shape (f,)
        Prior chance of each family.
    ends : ndarray, shape (f, 3, r)
        Readings bolted, in the middle, and open; alike where a family has no ohms.
    curves : Curves
        Readings over the ohms of each family.
    ranged : ndarray of bool, shape (f,)
        Which families have ohms.
    low, high : ndarray, shape (f,)
        Ends of the ohms; one where there are none. [ohm]
    """

    bench: Bench
    meter: Meter
    tolerances: Tolerances
    sound: Lean
    hypotheses: tuple[Hypothesis, ...]
    of: Indices
    weight: Floats
    ends: Floats
    curves: Curves
    ranged: Flags
    low: Floats
    high: Floats

    @property
    def circuit(self) -> Circuit:
        """The circuit as drawn."""
        return self.bench.circuit

    @property
    def spots(self) -> tuple[Spot, ...]:
        """What is read."""
        return self.bench.spots

    @cached_property
    def faults(self) -> tuple[Fault, ...]:
        """The fault of each hypothesis, without ohms."""
        return tuple(hypothesis.faults[0] for hypothesis in self.hypotheses)

    @cached_property
    def samples(self) -> "Samples":
        """Every family at ohms all over its range."""
        at = (np.arange(SAMPLES) + 0.5) / SAMPLES
        r_ohm = np.exp(np.log(self.low)[:, None] * (1 - at) + np.log(self.high)[:, None] * at)
        count = np.where(self.ranged, SAMPLES, 1)
        kept = r_ohm[np.arange(SAMPLES) < count[:, None]]
        family = np.repeat(np.arange(len(self.of)), count)
        weight = (self.weight / count)[family]
        return Samples(family, kept, self.read_at(family, kept), weight)

    def read_at(self, family: Indices, r_ohm: Floats) -> Floats:
        """Return the readings of families at ohms, each shape (k,), in shape (k, r)."""
        return self.curves.each_at(family, r_ohm)


@dataclass(frozen=True, slots=True)
class Samples:
    """Families at given ohms, n of them.

    Attributes
    ----------
    family : ndarray of int, shape (n,)
        Which family.
    r_ohm : ndarray, shape (n,)
        Its ohms; one where it has none. [ohm]
    read : ndarray, shape (n, r)
        What would be read, in the tests' units.
    weight : ndarray, shape (n,)
        Prior chance that it stands for.
    """

    family: Indices
    r_ohm: Floats
    read: Floats
    weight: Floats

    def __getitem__(self, some: Indices | Flags) -> "Samples":
        """Return some of them."""
        return Samples(self.family[some], self.r_ohm[some], self.read[some], self.weight[some])


def line_up(
    circuit: Circuit,
    rulebook: Rulebook,
    spots: Sequence[Spot],
    terminators: Terminators,
    instrument: Instrument,
    installation: Installation | None = None,
) -> Lineup:
    """Return every single fault of a circuit with what it would make of a plan's readings."""
    keep_memory()
    bench = Bench(circuit, rulebook.procedures, terminators, tuple(spots), installation)
    hypotheses = catalogue(circuit, tuple(rulebook.modes.values()))[1:]
    families = [(h, way) for h, hypothesis in enumerate(hypotheses) for way in hypothesis.ways]
    edits: list[MakeEdit] = [no_edit]
    rows = []
    for h, way in families:
        ohms = (0.0, MIDDLE_OHM, float("inf")) if hypotheses[h].ohms else (0.0,)
        rows.append([len(edits) + min(i, len(ohms) - 1) for i in range(3)])
        edits += [way.edit(r_ohm) for r_ohm in ohms]
    ends = bench.glimpse(edits)[np.array(rows)]
    ranged = np.array([hypotheses[h].ohms is not None for h, _ in families])
    low, high = np.array([hypotheses[h].ohms or (1.0, 1.0) for h, _ in families]).T
    sampled = None
    if bench.live.any():
        ways = [way for _, way in families]
        sampled = sampled_over(bench, ways, np.stack([low, high], axis=1))
    return Lineup(
        bench=bench,
        meter=meter_for(bench.spots, rulebook.procedures, instrument),
        tolerances=rulebook.tolerances,
        sound=bench.lean([no_edit]),
        hypotheses=hypotheses,
        of=np.array([h for h, _ in families]),
        weight=np.array([exp(hypotheses[h].log_prior) * way.weight for h, way in families]),
        ends=ends,
        curves=Curves(ends, sampled),
        ranged=ranged,
        low=low,
        high=high,
    )
