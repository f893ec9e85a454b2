"""Which two resistors at the board keep the signatures of faults furthest apart.

Small ones drown in the ohms of cable and leads, large ones in the instrument's share of what it
reads; two that are alike, or one of which is near the sum, hide exchanged conductors. How far two
faults are apart is what their readings differ by, all errors that readings share allowed for.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import log10

import numpy as np

from faultfinder.diagnosis.catalogue import hypothesis, no_edit
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Floats
from faultfinder.evidence.meter import meter_for
from faultfinder.network.branch import MakeEdit
from faultfinder.readings.reading import Spot, Terminators
from faultfinder.readings.setting import Setting
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.fault import Fault

# The E12 series of preferred values, IEC 60063 (from memory).
E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
VALUES = (*(round(step * decade, 1) for decade in (1, 10) for step in E12), 100.0)
"""What is tried, 1 to 100 ohm: below drowns in leads, above in what an instrument is off by."""

_COARSE = (1.0, 2.2, 4.7, 10.0, 22.0, 47.0, 100.0)
_NEAR = 2  # steps of the series either side of the best coarse pair
_MOST_OUTLETS = 3  # whose faults are compared: nearest, farthest, and between
_JOINT_OHM, _BRIDGE_OHM = 0.3, 0.1  # of the joints and bridges compared: small ones; judgement
_OPEN_SD = 20.0  # what an open against a value counts as
APART_SD = 4.0
_TEST = "terminated"


@dataclass(frozen=True, slots=True)
class Rated:
    """How well a pair of resistors tells faults apart.

    Attributes
    ----------
    terminators : Terminators
        The pair.
    told : int
        How many pairs of faults (the sound circuit is one) differ by four standard deviations.
    of : int
        How many pairs there are.
    closest_sd : float
        How far the two closest of those told apart are from each other. [standard deviations]
    closest : (str, str)
        Those two.
    where : Spot
        The reading that they differ most in.
    """

    terminators: Terminators
    told: int
    of: int
    closest_sd: float
    closest: tuple[str, str]
    where: Spot


@dataclass(frozen=True, slots=True)
class Choice:
    """The best pair, the pair that is fitted or usual, and those next to the best."""

    best: Rated
    fitted: Rated
    next_best: tuple[Rated, ...]


def choose_terminators(setting: Setting, rulebook: Rulebook) -> Choice:
    """Return which pair of E12 keeps fault signatures furthest apart on a circuit.

    By how many pairs of faults are told apart, then by how far the closest of them are. Every pair
    of a coarse series is tried, then the neighbours of the best in the whole one.
    """
    signatures = _Signatures(setting, rulebook)
    rated = [signatures.rated(pair) for pair in _pairs(_COARSE, _COARSE)]
    top = max(rated, key=_worth).terminators
    around = [_around(top.active_ohm), _around(top.neutral_ohm)]
    tried = {one.terminators for one in rated}
    rated += [signatures.rated(pair) for pair in _pairs(*around) if pair not in tried]
    rated.sort(key=_worth, reverse=True)
    return Choice(rated[0], signatures.rated(setting.terminators), tuple(rated[1:4]))


def _pairs(actives: Sequence[float], neutrals: Sequence[float]) -> Iterator[Terminators]:
    for active, neutral in product(actives, neutrals):
        if active != neutral:
            yield Terminators(active, neutral)


def _around(value: float) -> tuple[float, ...]:
    place = min(range(len(VALUES)), key=lambda i: abs(log10(VALUES[i] / value)))
    return VALUES[max(0, place - _NEAR) : place + _NEAR + 1]


def _worth(rated: Rated) -> tuple[int, float]:
    return rated.told, rated.closest_sd


class _Signatures:
    """The readings of every fault that is compared, under any pair of resistors."""

    def __init__(self, setting: Setting, rulebook: Rulebook) -> None:
        self.setting, self.rulebook = setting, rulebook
        circuit = setting.circuit
        outlets = sorted(
            (point.name for point in circuit.outlets()),
            key=lambda at: sum(run.length_m for run in circuit.path(at)),
        )
        steps = np.linspace(0, len(outlets) - 1, min(_MOST_OUTLETS, len(outlets))).round()
        chosen = [outlets[int(step)] for step in steps]
        places = [*chosen, *(circuit.feeding_run(at).name for at in chosen)]
        spots = spots_of(rulebook.procedures[_TEST], circuit)
        self.spots = tuple(spot for spot in spots if spot.at in chosen)
        self.names = ["a sound circuit"]
        self.edits: list[MakeEdit] = [no_edit]
        for mode in rulebook.modes.values():
            for fault in mode.faults(circuit) if not mode.needs_neighbour else ():
                if fault.at in places:
                    ohms = _JOINT_OHM if mode.conductors == "one" else _BRIDGE_OHM
                    r_ohm = ohms if mode.ohms else None
                    way = hypothesis(mode, circuit, fault).ways[0]
                    self.names.append(str(Fault(fault.mode, fault.conductors, fault.at, r_ohm)))
                    self.edits.append(way.edit(r_ohm or 0.0))
        self.first, self.second = np.triu_indices(len(self.edits), 1)

    def rated(self, terminators: Terminators) -> Rated:
        """Return how well a pair tells the faults apart."""
        setting, procedures = self.setting, self.rulebook.procedures
        bench = Bench(setting.circuit, procedures, terminators, self.spots, setting.installation)
        read = bench.read(self.edits)
        apart = self._apart(bench, read)
        told = apart >= APART_SD
        closest = int(np.where(told, apart, np.inf).argmin()) if told.any() else int(apart.argmax())
        one, two = int(self.first[closest]), int(self.second[closest])
        with np.errstate(invalid="ignore"):
            change = np.abs(read[one] - read[two]) / (1.0 + np.minimum(read[one], read[two]))
        where = self.spots[int(np.nanargmax(np.where(np.isnan(change), -1.0, change)))]
        return Rated(
            terminators,
            int(told.sum()),
            len(apart),
            float(apart[closest]),
            (self.names[one], self.names[two]),
            where,
        )

    def _apart(self, bench: Bench, read: Floats) -> Floats:
        """Return how far any two signatures are apart, shared errors at their best. [sd]

        d'(D + BB')⁻¹d with the scatter D of the larger reading of the two, and the shared errors B
        of the sound circuit.
        """
        meter = meter_for(self.spots, self.rulebook.procedures, self.setting.instrument)
        opens = ~np.isfinite(read) | (meter.chance_open(read) > 0.5)
        finite = np.where(opens, 0.0, read)
        lean = bench.lean([no_edit])
        spread = meter.shared_errors(lean, self.rulebook.tolerances)[0]
        out = np.empty(len(self.first))
        for start in range(0, len(out), 2000):
            some = slice(start, start + 2000)
            one, two = self.first[some], self.second[some]
            both = ~opens[one] & ~opens[two]
            d = np.where(both, finite[one] - finite[two], 0.0)
            variance = meter.sd(np.maximum(finite[one], finite[two])) ** 2
            weight = np.where(both, 1.0 / variance, 0.0)
            weighted = spread[None] * weight[..., None]
            inner = np.eye(spread.shape[-1]) + np.swapaxes(weighted, 1, 2) @ spread
            projected = np.einsum("kr,krp->kp", d, weighted)
            shift = np.linalg.solve(inner, projected[..., None])[..., 0]
            squares = (d**2 * weight).sum(-1) - (projected * shift).sum(-1)
            squares += (opens[one] != opens[two]).sum(-1) * _OPEN_SD**2
            out[some] = np.sqrt(np.maximum(squares, 0.0))
        return out
