"""How readings lean on what a drawing does not know: lengths, leakage, terminators, the supply."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from faultfinder.network.branch import Branch, BranchName, Network, Probe
from faultfinder.readings.reading import Terminators
from faultfinder.wiring.circuit import Circuit, pairs_of

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Indices = npt.NDArray[np.intp]

SUPPLY_OHMS, SUPPLY_VOLTS = "supply ohms", "supply volts"
TERMINATOR_A, TERMINATOR_N = "terminator A", "terminator N"

STEP = 1e-3
"""Relative step of the forward differences; readings are nearly linear in each parameter, so that
the step's own error is of the order of the step, far below what the tolerances claim."""


@dataclass(frozen=True, slots=True)
class Lean:
    """Readings and their slopes.

    Attributes
    ----------
    read : ndarray, shape (edits, spots)
        Readings, in the tests' units; infinity is open.
    names : tuple of str
        Parameters: each run by name (its length), ``leak A-N`` and its like, ``terminator A`` and
        ``terminator N``; of live readings ``SUPPLY_OHMS``, ``SUPPLY_VOLTS``, and ``cores A-N`` and
        its like, the reactance between cores.
    slopes : ndarray, shape (edits, spots, names)
        Change of the reading for a relative change of one in the parameter, in the tests' units.
    """

    read: Floats
    names: tuple[str, ...]
    slopes: Floats

    @property
    def runs(self) -> list[int]:
        """Which parameters are the lengths of runs."""
        return [i for i, name in enumerate(self.names) if ".." in name]

    def first(self, count: int) -> "Lean":
        """Return the same for the first so many spots."""
        return self.only(range(count))

    def only(self, spots: Sequence[int]) -> "Lean":
        """Return the same for some of the spots."""
        return Lean(self.read[:, spots], self.names, self.slopes[:, spots])


@dataclass(frozen=True, slots=True)
class Variation:
    """One way a circuit may differ from its drawing: branches by parameter, and terminators.

    ``scale`` holds factors of ohms by the name of the parameter.
    """

    terminators: Terminators | None
    scale: Mapping[str, float] = field(default_factory=dict)

    def changes(self, network: Network) -> dict[BranchName, Branch]:
        """Return the branches of a network that differ, as they are then."""
        if not self.scale:
            return {}
        return {
            name: replace(branch, r_ohm=branch.r_ohm * by, x_ohm=branch.x_ohm * by)
            for name, branch in network.items()
            if (by := self.scale.get(_parameter(name))) is not None
        }


def variations(
    circuit: Circuit, terminators: Terminators | None, *, leaks: bool, live: bool
) -> tuple[tuple[str, ...], tuple[Variation, ...]]:
    """Return the parameters, and for each the variation that is one step up in it."""
    names = [run.name for run in circuit.runs]
    if leaks:
        names += [f"leak {a}-{b}" for a, b in pairs_of(circuit.all_conductors)]
    if live:
        names += [SUPPLY_OHMS, *(f"cores {a}-{b}" for a, b in pairs_of(circuit.all_conductors))]
    stepped = [Variation(terminators, {name: 1 + STEP}) for name in names]
    if terminators is not None:
        active, neutral = terminators.active_ohm, terminators.neutral_ohm
        stepped += [
            Variation(Terminators(active * (1 + STEP), neutral)),
            Variation(Terminators(active, neutral * (1 + STEP))),
        ]
        names += [TERMINATOR_A, TERMINATOR_N]
    return tuple(names), tuple(stepped)


def fitted_ohm(probes: Sequence[Probe], set_ups: Sequence[Sequence[Probe]]) -> dict[Branch, Floats]:
    """Return what probes fit that is of other ohms in any of some set-ups.

    Each with its ohms by set-up, shape (set-ups,). [ohm]
    """
    found: dict[Branch, Floats] = {}
    for place, others in enumerate(set_ups):
        if others is probes:
            continue
        for probe, other in zip(probes, others, strict=True):
            for drawn, branch in zip(probe.fitted, other.fitted, strict=True):
                if branch.r_ohm != drawn.r_ohm:
                    at_rest = np.full(len(set_ups), drawn.r_ohm)
                    found.setdefault(drawn, at_rest)[place] = branch.r_ohm
    return found


def _parameter(name: BranchName) -> str:
    """Return which parameter a branch goes with: its run's length, or the leakage of its pair."""
    match name:
        case ("run", run, _):
            return run
        case ("leak", _, a, b):
            return f"leak {a}-{b}"
        case ("supply", *_):
            return SUPPLY_OHMS
        case ("cores", _, a, b):
            return f"cores {a}-{b}"
        case _:
            return ""
