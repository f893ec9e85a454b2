"""What the model says each reading should be, for the sound circuit and for any fault in it.

A bench holds the circuit with its test arrangements ready; it is asked for the readings of many
edited circuits at once, and for how those readings lean on what the drawing does not know.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from faultfinder.evidence.staging import Staged
from faultfinder.network.branch import Branch, BranchName, Edit, Network, Probe
from faultfinder.network.solve import resistances
from faultfinder.network.wiring import network_of
from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.arrangement import probe_for
from faultfinder.rulebook.procedures import Leakage, Procedure
from faultfinder.wiring.circuit import Circuit, pairs_of

Floats = npt.NDArray[np.float64]
MakeEdit = Callable[[Network], Edit]
"""A hypothesis as a function: given a network, sound or with lengths changed, the edit it makes."""

_AT_ONCE = 1500  # edits solved together; more only need more memory

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
    def unit_size(self) -> Floats:
        """How many ohms, volts or amperes the unit of each reading is, shape (r,)."""
        return np.array([self.procedures[spot.test].unit_size for spot in self.spots])

    @cached_property
    def _benches(self) -> tuple[tuple[Leakage | None, list[int]], ...]:
        """Readings by the network they are taken on: with leakage counted, or without."""
        groups: dict[float | None, tuple[Leakage | None, list[int]]] = {}
        for index, spot in enumerate(self.spots):
            leakage = self.procedures[spot.test].leakage
            key = leakage.ohm_m if leakage else None
            groups.setdefault(key, (leakage, []))[1].append(index)
        return tuple(groups.values())

    def _leaking_pairs(self) -> tuple[tuple[str, str], ...]:
        return pairs_of(self.circuit.all_conductors)

    def _probes(self, indices: Sequence[int], terminators: Terminators | None) -> list[Probe]:
        spots = [self.spots[index] for index in indices]
        return [
            probe_for(self.procedures[spot.test], self.circuit, terminators, spot) for spot in spots
        ]

    def read(self, edits: Sequence[MakeEdit]) -> Floats:
        """Return what is read under each edit, shape (edits, spots), in the tests' units."""
        return self._read(edits, [{}], [self.terminators])[:, 0, 0, :]

    def lean(self, edits: Sequence[MakeEdit]) -> "Lean":
        """Return how readings under each edit lean on lengths, leakage and terminators."""
        names = [run.name for run in self.circuit.runs]
        if any(leakage for leakage, _ in self._benches):
            names += [f"leak {a}-{b}" for a, b in self._leaking_pairs()]
        scales = [{}, *({name: 1 + _STEP} for name in names)]
        terminators: list[Terminators | None] = [self.terminators]
        if self.terminators is not None:
            active, neutral = self.terminators.active_ohm, self.terminators.neutral_ohm
            terminators += [
                Terminators(active * (1 + _STEP), neutral),
                Terminators(active, neutral * (1 + _STEP)),
            ]
            names += ["terminator A", "terminator N"]
        read = self._read(edits, scales, terminators)
        base = read[:, 0, 0, :]
        stepped = np.concatenate([read[:, 1:, 0, :], read[:, 0, 1:, :]], axis=1)
        with np.errstate(invalid="ignore"):  # open under both is infinity less infinity
            slopes = (stepped - base[:, None, :]) / _STEP
        slopes = np.where(np.isfinite(slopes), slopes, 0.0)
        return Lean(base, tuple(names), np.swapaxes(slopes, 1, 2))

    def _read(
        self,
        edits: Sequence[MakeEdit],
        scales: Sequence[Mapping[str, float]],
        terminators: Sequence[Terminators | None],
    ) -> Floats:
        """Return readings with runs or leakage scaled and with other terminators.

        Shape (edits, scales, terminators, spots).
        """
        staged = [(row, edit) for row, edit in enumerate(edits) if isinstance(edit, Staged)]
        plain = [row for row, edit in enumerate(edits) if not isinstance(edit, Staged)]
        out = np.empty((len(edits), len(scales), len(terminators), len(self.spots)))
        if plain:
            out[plain] = self._read_as_noted([edits[row] for row in plain], scales, terminators)
        set_ups: dict[object, list[tuple[int, Staged]]] = {}
        for row, edit in staged:
            set_ups.setdefault((edit.fits, id(edit.make)), []).append((row, edit))
        for alike in set_ups.values():
            out[[row for row, _ in alike]] = self._read_staged(
                [edit for _, edit in alike], scales, terminators
            )
        return out

    def _read_staged(
        self,
        edits: Sequence[Staged],
        scales: Sequence[Mapping[str, float]],
        terminators: Sequence[Terminators | None],
    ) -> Floats:
        """Return readings of edits that differ only in the leads and where they were taken."""
        elsewhere = [self._taken_elsewhere(edit) for edit in edits]
        others = {spot for taken in elsewhere for spot in taken.values() if spot is not None}
        spots = tuple(dict.fromkeys([*self.spots, *sorted(others, key=str)]))
        column: dict[Spot | None, int] = {spot: index for index, spot in enumerate(spots)}
        column[None] = len(spots)
        at = np.tile(np.arange(len(self.spots)), (len(edits), 1))
        for row, taken in enumerate(elsewhere):
            at[row, list(taken)] = [column[spot] for spot in taken.values()]
        fits = dict(edits[0].fits)
        procedures = {
            test: procedure.model_copy(update={"fit": fits[test]}) if test in fits else procedure
            for test, procedure in self.procedures.items()
        }
        bench = replace(self, procedures=procedures, spots=spots)
        (read,) = bench._read_as_noted([edits[0].make], scales, terminators)  # noqa: SLF001 (own class)
        read = np.concatenate([read, np.full((*read.shape[:-1], 1), np.inf)], axis=-1)
        in_ohm = [self.procedures[spot.test].quantity == "resistance" for spot in self.spots]
        added = np.outer([edit.leads_ohm for edit in edits], in_ohm)
        out: Floats = np.moveaxis(read[..., at], 2, 0) + added[:, None, None, :]
        return out

    def _taken_elsewhere(self, edit: Staged) -> dict[int, Spot | None]:
        """Return the readings that were not taken where they are noted, and where they were."""
        noting = edit.noting
        if noting is None:
            return {}
        places = dict(noting.places) or self._by_place
        concerned = [index for place in places for index in self._by_place.get(place, ())]
        really = ((index, noting.really(self.spots[index])) for index in concerned)
        return {index: spot for index, spot in really if spot != self.spots[index]}

    @cached_property
    def _by_place(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {}
        for index, spot in enumerate(self.spots):
            found.setdefault(spot.at, []).append(index)
        return found

    def _read_as_noted(
        self,
        edits: Sequence[MakeEdit],
        scales: Sequence[Mapping[str, float]],
        terminators: Sequence[Terminators | None],
    ) -> Floats:
        """Return readings taken as the procedures and the notes say; shape as ``_read``."""
        shape = (len(edits), len(scales), len(terminators), len(self.spots))
        out = np.empty(shape)
        for leakage, indices in self._benches:
            sound = network_of(self.circuit, leakage.ohm_m if leakage else None)
            changes = [_scaled(sound, scale) for scale in scales]
            made = [
                {**changed, **make({**sound, **changed} if changed else sound)}
                for make in edits
                for changed in changes
            ]
            probes = [p for fitted in terminators for p in self._probes(indices, fitted)]
            read = np.concatenate(
                [
                    resistances(sound, probes, made[i : i + _AT_ONCE])
                    for i in range(0, max(1, len(made)), _AT_ONCE)
                ]
            )
            out[..., indices] = read.reshape(*shape[:-1], len(indices))
        return out / self.unit_size


@dataclass(frozen=True, slots=True)
class Lean:
    """Readings and their slopes.

    Attributes
    ----------
    read : ndarray, shape (edits, spots)
        Readings, in the tests' units; infinity is open.
    names : tuple of str
        Parameters: each run by name (its length), ``leak A-N`` and its like, ``terminator A`` and
        ``terminator N``.
    slopes : ndarray, shape (edits, spots, names)
        Change of the reading for a relative change of one in the parameter, in the tests' units.
    """

    read: Floats
    names: tuple[str, ...]
    slopes: Floats

    def first(self, count: int) -> "Lean":
        """Return the same for the first so many spots."""
        return Lean(self.read[:, :count], self.names, self.slopes[:, :count])


def _scaled(network: Network, scale: Mapping[str, float]) -> dict[BranchName, Branch]:
    """Return the branches of a network that a scale changes, changed."""
    return {
        name: replace(branch, r_ohm=branch.r_ohm * scale[key])
        for name, branch in network.items()
        if (key := _parameter(name)) in scale
    }


def _parameter(name: BranchName) -> str:
    """Return which parameter a branch goes with: its run's length, or the leakage of its pair."""
    match name:
        case ("run", run, _):
            return run
        case ("leak", _, a, b):
            return f"leak {a}-{b}"
        case _:
            return ""
