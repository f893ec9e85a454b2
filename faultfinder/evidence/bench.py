"""What the model says each reading should be, for the sound circuit and for any fault in it.

A bench holds the circuit with its test arrangements ready; it is asked for the readings of many
edited circuits at once, and for how those readings lean on what the drawing does not know.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from faultfinder.evidence.live import LiveCircuit, Tripping, live_circuit
from faultfinder.evidence.staging import Staged
from faultfinder.network.branch import Branch, BranchName, Edit, MakeEdit, Network, Probe
from faultfinder.network.installation import dead_network
from faultfinder.network.lowrank import screened
from faultfinder.network.solve import resistances
from faultfinder.network.wiring import network_of
from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.arrangement import probe_for
from faultfinder.rulebook.procedures import Procedure
from faultfinder.wiring.circuit import Circuit, pairs_of
from faultfinder.wiring.installation import Installation

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
_AT_ONCE = 1500  # edits solved together; more only need more memory

SUPPLY_OHMS, SUPPLY_VOLTS, CORES = "supply ohms", "supply volts", "cores"
_DRIVEN = frozenset({"voltage", "voltage-drop", "fault-current", "residual"})

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
    installation : Installation or None
        What feeds the circuit and is on its board, where that is known; live tests need it.
    """

    circuit: Circuit
    procedures: Mapping[str, Procedure]
    terminators: Terminators | None
    spots: tuple[Spot, ...]
    installation: Installation | None = None

    @cached_property
    def unit_size(self) -> Floats:
        """How many ohms, volts or amperes the unit of each reading is, shape (r,)."""
        return np.array([self.procedures[spot.test].unit_size for spot in self.spots])

    @cached_property
    def live(self) -> Flags:
        """Which readings are live, shape (r,)."""
        return np.array([self.procedures[spot.test].is_live for spot in self.spots], dtype=bool)

    @cached_property
    def _benches(self) -> tuple["_Group", ...]:
        """Readings by the network they are taken on: dead, with or without leakage, or live."""
        groups: dict[object, _Group] = {}
        for index, spot in enumerate(self.spots):
            procedure = self.procedures[spot.test]
            leakage = procedure.leakage.ohm_m if procedure.leakage else None
            landed = procedure.ring == "joined"
            key = procedure.id if procedure.is_live else (leakage, landed or not self.installation)
            groups.setdefault(key, _Group(procedure, leakage, [])).indices.append(index)
        return tuple(groups.values())

    @cached_property
    def _live(self) -> LiveCircuit:
        if self.installation is None:
            raise ValueError("live readings need to know the supply")
        return live_circuit(self.installation, self.circuit)

    def _sound(self, group: "_Group") -> Network:
        if group.procedure.is_live:
            return self._live.live.network
        if self.installation is None:
            return network_of(self.circuit, group.leakage_ohm_m)
        landed = group.procedure.ring == "joined"
        return dead_network(
            self.installation, self.circuit, group.leakage_ohm_m, earth_landed=landed
        )

    def _probes(self, indices: Sequence[int], terminators: Terminators | None) -> list[Probe]:
        spots = [self.spots[index] for index in indices]
        return [
            probe_for(self.procedures[spot.test], self.circuit, terminators, spot) for spot in spots
        ]

    def read(self, edits: Sequence[MakeEdit]) -> Floats:
        """Return what is read under each edit, shape (edits, spots), in the tests' units."""
        return self._read(edits, [{}], [self.terminators])[:, 0, 0, :]

    def trippings(self, make: MakeEdit) -> tuple[Tripping, ...]:
        """Return what residual current devices do at each residual reading under an edit."""
        return tuple(
            tripping
            for spot in self.spots
            if self.procedures[spot.test].quantity == "residual"
            for tripping in self._live.trippings(self.procedures[spot.test], spot, make)
        )

    def cut_off(self, make: MakeEdit) -> tuple[float | None, float | None]:
        """Return what cuts an edit off at once where live readings are taken; see ``live.py``."""
        return self._live.cut_off(make) if self.live.any() else (None, None)

    def glimpse(self, edits: Sequence[MakeEdit]) -> Floats:
        """Return what ``read`` does, quicker and to six figures: to choose what to work out."""
        staged = [row for row, edit in enumerate(edits) if isinstance(edit, Staged)]
        if staged:
            noted = [row for row, edit in enumerate(edits) if not isinstance(edit, Staged)]
            out = np.empty((len(edits), len(self.spots)))
            out[staged] = self.read([edits[row] for row in staged])
            out[noted] = self.glimpse([edits[row] for row in noted])
            return out
        out = np.empty((len(edits), len(self.spots)))
        for group in self._benches:
            indices, sound = group.indices, self._sound(group)
            if group.procedure.is_live:
                alone = replace(self, spots=tuple(self.spots[i] for i in indices))
                out[:, indices] = alone.read(edits) * self.unit_size[indices]
                continue
            probes = self._probes(indices, self.terminators)
            # With leakage there are so many loops that a glimpse is not quicker.
            look = resistances if group.leakage_ohm_m else _glimpsed
            for start in range(0, len(edits), _AT_ONCE):
                some = slice(start, start + _AT_ONCE)
                out[some, indices] = look(sound, probes, [make(sound) for make in edits[some]])
        return out / self.unit_size

    def lean(self, edits: Sequence[MakeEdit]) -> "Lean":
        """Return how readings under each edit lean on lengths, leakage and terminators."""
        names = [run.name for run in self.circuit.runs]
        if any(group.leakage_ohm_m for group in self._benches):
            names += [f"leak {a}-{b}" for a, b in pairs_of(self.circuit.all_conductors)]
        if any(group.procedure.is_live for group in self._benches):
            names += [SUPPLY_OHMS, CORES]
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
        slopes = np.swapaxes(np.where(np.isfinite(slopes), slopes, 0.0), 1, 2)
        driven = np.array([self.procedures[s.test].quantity in _DRIVEN for s in self.spots])
        if driven.any():  # in proportion to the supply's voltage
            own = np.where(driven & np.isfinite(base), base, 0.0)
            slopes = np.concatenate([slopes, own[..., None]], axis=-1)
            names.append(SUPPLY_VOLTS)
        return Lean(base, tuple(names), slopes)

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
        added = np.where(in_ohm, np.array([edit.leads_ohm for edit in edits])[:, None], 0.0)
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
        for group in self._benches:
            sound, indices = self._sound(group), group.indices
            changes = [_scaled(sound, scale) for scale in scales]
            made = [
                {**changed, **make({**sound, **changed} if changed else sound)}
                for make in edits
                for changed in changes
            ]
            batches = [made[i : i + _AT_ONCE] for i in range(0, max(1, len(made)), _AT_ONCE)]
            if group.procedure.is_live:
                spots = [self.spots[i] for i in indices]
                live = [self._live.read(group.procedure, spots, sound, some) for some in batches]
                read = np.repeat(np.concatenate(live)[:, None, :], len(terminators), axis=1)
            else:
                probes = [p for fitted in terminators for p in self._probes(indices, fitted)]
                read = np.concatenate([resistances(sound, probes, some) for some in batches])
            out[..., indices] = read.reshape(*shape[:-1], len(indices))
        return out / self.unit_size


@dataclass(frozen=True, slots=True)
class _Group:
    """Readings that are taken on one network, by their places in the bench."""

    procedure: Procedure
    leakage_ohm_m: float | None
    indices: list[int]


@dataclass(frozen=True, slots=True)
class Lean:
    """Readings and their slopes.

    Attributes
    ----------
    read : ndarray, shape (edits, spots)
        Readings, in the tests' units; infinity is open.
    names : tuple of str
        Parameters: each run by name (its length), ``leak A-N`` and its like, ``terminator A`` and
        ``terminator N``; of live readings ``SUPPLY_OHMS``, ``SUPPLY_VOLTS`` and ``CORES``, the
        capacitance between cores.
    slopes : ndarray, shape (edits, spots, names)
        Change of the reading for a relative change of one in the parameter, in the tests' units.
    """

    read: Floats
    names: tuple[str, ...]
    slopes: Floats

    def first(self, count: int) -> "Lean":
        """Return the same for the first so many spots."""
        return Lean(self.read[:, :count], self.names, self.slopes[:, :count])


def _glimpsed(network: Network, probes: Sequence[Probe], edits: Sequence[Edit]) -> Floats:
    """Return readings by the screen, and exactly where it is not sure. [ohm]"""
    quick = screened(network, probes, edits)
    doubtful = np.flatnonzero(~quick.good.all(axis=1)).tolist()
    if doubtful:
        quick.read[doubtful] = resistances(network, probes, [edits[i] for i in doubtful])
    return quick.read


def _scaled(network: Network, scale: Mapping[str, float]) -> dict[BranchName, Branch]:
    """Return the branches of a network that a scale changes, changed."""
    return {
        name: replace(branch, r_ohm=branch.r_ohm * scale[key], x_ohm=branch.x_ohm * scale[key])
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
        case ("supply", *_):
            return SUPPLY_OHMS
        case ("cores", *_):
            return CORES
        case _:
            return ""
