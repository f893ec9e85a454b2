"""What the model says each reading should be, for the sound circuit and for any fault in it.

A bench holds the circuit with its test arrangements ready; it is asked for the readings of many
edited circuits at once, and for how those readings lean on what the drawing does not know.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from faultfinder.network.branch import Branch, BranchName, Edit, Network, Probe
from faultfinder.network.solve import resistances
from faultfinder.network.wiring import network_of
from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.arrangement import probe_for
from faultfinder.rulebook.procedures import Leakage, Procedure
from faultfinder.wiring.circuit import Circuit

Floats = npt.NDArray[np.float64]
MakeEdit = Callable[[Network], Edit]
"""A hypothesis as a function: given a network, sound or with lengths changed, the edit it makes."""

_STEP = 1e-3
"""Relative step of the forward differences; readings are nearly linear in each parameter, so that
the step's own error is of the order of the step, far below what the tolerances claim."""


@dataclass(frozen=True)
class Bench:
    """A circuit with everything needed to take a set of readings on its model.

    Attributes
    ----------
    circuit : Circuit
        As drawn.
    procedures : mapping
        Test procedures by id; those the spots name must be in it.
    terminators : Terminators or None
        Resistors at the board, for the tests that fit them.
    spots : tuple of Spot
        What is read; the last axis of every result.
    """

    circuit: Circuit
    procedures: Mapping[str, Procedure]
    terminators: Terminators | None
    spots: tuple[Spot, ...]

    @cached_property
    def unit_ohm(self) -> Floats:
        """How many ohms the unit of each reading is, shape (r,)."""
        return np.array([self.procedures[spot.test].unit_ohm for spot in self.spots])

    @cached_property
    def _benches(self) -> tuple[tuple[Leakage | None, list[int]], ...]:
        """Readings by the network they are taken on: with leakage counted, or without."""
        groups: dict[float | None, tuple[Leakage | None, list[int]]] = {}
        for index, spot in enumerate(self.spots):
            leakage = self.procedures[spot.test].leakage
            key = leakage.ohm_m if leakage else None
            groups.setdefault(key, (leakage, []))[1].append(index)
        return tuple(groups.values())

    def _probes(self, indices: Sequence[int]) -> list[Probe]:
        spots = [self.spots[index] for index in indices]
        return [
            probe_for(self.procedures[spot.test], self.circuit, self.terminators, spot)
            for spot in spots
        ]

    def read(self, edits: Sequence[MakeEdit]) -> Floats:
        """Return what is read under each edit, shape (edits, spots), in the tests' units."""
        return self._read_scaled(edits, [{}])[:, 0, :]

    def _read_scaled(
        self, edits: Sequence[MakeEdit], scales: Sequence[Mapping[str, float]]
    ) -> Floats:
        """Return readings with runs (or leakage) scaled: shape (edits, scales, spots)."""
        out = np.empty((len(edits) * len(scales), len(self.spots)))
        for leakage, indices in self._benches:
            sound = network_of(self.circuit, leakage.ohm_m if leakage else None)
            made = []
            networks = [_scaled(sound, scale) for scale in scales]
            for make in edits:
                for changed in networks:
                    made.append({**changed, **make({**sound, **changed})})
            out[:, indices] = resistances(sound, self._probes(indices), made)
        return (out / self.unit_ohm).reshape(len(edits), len(scales), len(self.spots))

    def lean(self, edits: Sequence[MakeEdit]) -> "Lean":
        """Return how readings under each edit lean on lengths, terminators and leakage."""
        runs = [run.name for run in self.circuit.runs]
        scales: list[dict[str, float]] = [{}, *({name: 1 + _STEP} for name in runs)]
        if any(leakage for leakage, _ in self._benches):
            scales.append({"leak": 1 + _STEP})
        read = self._read_scaled(edits, scales)
        base = read[:, 0, :]
        columns = [read[:, 1 + index, :] for index in range(len(scales) - 1)]
        names = [*runs, *(["leak"] if len(scales) > len(runs) + 1 else [])]
        if self.terminators is not None:
            for name, changed in self._other_terminators():
                columns.append(changed.read(edits))
                names.append(name)
        with np.errstate(invalid="ignore"):  # open under both is infinity less infinity
            slopes = np.stack(columns, axis=-1) - base[..., None]
        slopes = np.where(np.isfinite(slopes), slopes, 0.0) / _STEP
        return Lean(base, tuple(names), slopes)

    def _other_terminators(self) -> list[tuple[str, "Bench"]]:
        if self.terminators is None:
            return []
        active, neutral = self.terminators.active_ohm, self.terminators.neutral_ohm
        return [
            (
                "terminator A",
                replace(self, terminators=Terminators(active * (1 + _STEP), neutral)),
            ),
            (
                "terminator N",
                replace(self, terminators=Terminators(active, neutral * (1 + _STEP))),
            ),
        ]


@dataclass(frozen=True, slots=True)
class Lean:
    """Readings and their slopes.

    Attributes
    ----------
    read : ndarray, shape (edits, spots)
        Readings, in the tests' units; infinity is open.
    names : tuple of str
        Parameters: each run by name (its length), ``leak``, ``terminator A``, ``terminator N``.
    slopes : ndarray, shape (edits, spots, names)
        Change of the reading for a relative change of one in the parameter, in the tests' units.
    """

    read: Floats
    names: tuple[str, ...]
    slopes: Floats


def _scaled(network: Network, scale: Mapping[str, float]) -> dict[BranchName, Branch]:
    """Return the branches of a network that a scale changes, changed."""
    return {
        name: replace(branch, r_ohm=branch.r_ohm * scale[key])
        for name, branch in network.items()
        if (key := name[1] if name[0] == "run" else name[0]) in scale
    } if scale else {}
