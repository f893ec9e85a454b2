"""What the model says each reading should be, for the sound circuit and for any fault in it.

A bench holds the circuit with its test arrangements ready; it is asked for the readings of many
edited circuits at once, and for how those readings lean on what the drawing does not know.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from faultfinder.evidence.lean import (
    STEP,
    SUPPLY_VOLTS,
    Flags,
    Floats,
    Lean,
    Variation,
    fitted_ohm,
    variations,
)
from faultfinder.evidence.live import LiveCircuit, Tripping, live_circuit
from faultfinder.evidence.staging import Staged
from faultfinder.network.branch import Branch, MakeEdit, Network, Probe
from faultfinder.network.desk import Desk
from faultfinder.network.installation import dead_network
from faultfinder.network.lowrank import nudged
from faultfinder.network.nudges import Nudge
from faultfinder.network.solve import resistances
from faultfinder.network.wiring import network_of, parted
from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.arrangement import probes_for
from faultfinder.rulebook.procedures import Procedure
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.installation import Installation

_AT_ONCE = 1500  # edits solved together; more only need more memory

_DRIVEN = frozenset({"voltage", "voltage-drop", "fault-current", "residual"})


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
            key: object = (leakage, landed or not self.installation, spot.parted)
            key = procedure.id if procedure.is_live else key
            group = _Group(procedure, leakage, spot.parted, [])
            groups.setdefault(key, group).indices.append(index)
        return tuple(groups.values())

    @cached_property
    def _live(self) -> LiveCircuit:
        if self.installation is None:
            raise ValueError("live readings need to know the supply")
        return live_circuit(self.installation, self.circuit)

    def _sound(self, group: "_Group") -> Network:
        if group not in self._networks:
            self._networks[group] = self._sound_of(group)
        return self._networks[group]

    @cached_property
    def _networks(self) -> dict["_Group", Network]:
        """Networks by group, as far as they were wanted."""
        return {}

    def _sound_of(self, group: "_Group") -> Network:
        if group.procedure.is_live:
            return self._live.live.network
        if self.installation is None:
            network = network_of(self.circuit, group.leakage_ohm_m)
        else:
            landed = group.procedure.ring == "joined"
            network = dead_network(
                self.installation, self.circuit, group.leakage_ohm_m, earth_landed=landed
            )
        return parted(network, self.circuit, group.parted) if group.parted else network

    def _probes(self, indices: Sequence[int], terminators: Terminators | None) -> list[Probe]:
        key = (tuple(indices), terminators)
        if key not in self._known_probes:
            spots = [self.spots[index] for index in indices]
            self._known_probes[key] = probes_for(self.procedures, self.circuit, terminators, spots)
        return self._known_probes[key]

    @cached_property
    def _known_probes(self) -> dict[tuple[tuple[int, ...], Terminators | None], list[Probe]]:
        """Probes by readings and what is fitted, as far as they were wanted."""
        return {}

    def plain(self) -> list[tuple[list[int], Network, list[Probe]]]:
        """Return readings of dead tests of resistance: their places, on what network, by what."""
        groups = [g for g in self._benches if not g.procedure.is_live and not g.leakage_ohm_m]
        return [
            (g.indices, self._sound(g), self._probes(g.indices, self.terminators)) for g in groups
        ]

    def read(self, edits: Sequence[MakeEdit]) -> Floats:
        """Return what is read under each edit, shape (edits, spots), in the tests' units."""
        return self._read(edits, self._as_drawn, Bench._read_group)[:, 0]

    def read_varied(self, edits: Sequence[MakeEdit], variations: Sequence[Variation]) -> Floats:
        """Return what is read under each edit on a circuit that differs from its drawing.

        In the variation of its own, as many as edits; none of them is a mistake in taking the
        readings. Shape (edits, spots), in the tests' units.
        """
        both = [(make, number) for number, make in enumerate(edits)]
        out = np.empty((len(edits), len(self.spots)))
        for group in self._benches:
            out[:, group.indices] = self._read_each(group, variations, both)
        return out / self.unit_size

    def glimpse(self, edits: Sequence[MakeEdit]) -> Floats:
        """Return what ``read`` does, quicker and to six figures: to choose what to work out."""
        return self._read(edits, self._as_drawn, Bench._glimpse_group)[:, 0]

    def lean(self, edits: Sequence[MakeEdit]) -> Lean:
        """Return how readings under each edit lean on lengths, leakage and terminators."""
        return self._lean(edits, Bench._read_group)

    def glimpse_lean(self, edits: Sequence[MakeEdit]) -> Lean:
        """Return what ``lean`` does, quicker and to six figures."""
        return self._lean(edits, Bench._glimpse_group)

    def _lean(self, edits: Sequence[MakeEdit], look: "_Look") -> Lean:
        names, stepped = self._variations
        read = self._read(edits, stepped, look)
        base = read[:, 0]
        with np.errstate(invalid="ignore"):  # open under both is infinity less infinity
            slopes = (read[:, 1:] - base[:, None]) / STEP
        slopes = np.swapaxes(np.where(np.isfinite(slopes), slopes, 0.0), 1, 2)
        driven = np.array([self.procedures[s.test].quantity in _DRIVEN for s in self.spots])
        if driven.any():  # in proportion to the supply's voltage
            own = np.where(driven & np.isfinite(base), base, 0.0)
            slopes = np.concatenate([slopes, own[..., None]], axis=-1)
            names = (*names, SUPPLY_VOLTS)
        return Lean(base, names, slopes)

    @cached_property
    def _as_drawn(self) -> tuple[Variation, ...]:
        return (Variation(self.terminators),)

    @cached_property
    def _variations(self) -> tuple[tuple[str, ...], tuple[Variation, ...]]:
        """The parameters, and the circuit as drawn and one step up in each."""
        names, stepped = variations(
            self.circuit,
            self.terminators,
            leaks=any(group.leakage_ohm_m for group in self._benches),
            live=any(group.procedure.is_live for group in self._benches),
        )
        return names, (*self._as_drawn, *stepped)

    def trippings(self, make: MakeEdit) -> tuple[Tripping, ...]:
        """Return what devices do at each reading of a residual current or trip, under an edit."""
        return tuple(
            tripping
            for spot in self.spots
            if self.procedures[spot.test].quantity in {"residual", "trip-time"}
            for tripping in self._live.trippings(self.procedures[spot.test], spot, make)
        )

    def cut_off(self, make: MakeEdit) -> tuple[float | None, float | None]:
        """Return what cuts an edit off at once where live readings are taken; see ``live.py``."""
        return self._live.cut_off(make) if self.live.any() else (None, None)

    def _read(
        self, edits: Sequence[MakeEdit], variations: Sequence[Variation], look: "_Look"
    ) -> Floats:
        """Return readings of the circuit as it may differ, shape (edits, variations, spots)."""
        staged = [(row, edit) for row, edit in enumerate(edits) if isinstance(edit, Staged)]
        plain = [row for row, edit in enumerate(edits) if not isinstance(edit, Staged)]
        out = np.empty((len(edits), len(variations), len(self.spots)))
        if plain:
            out[plain] = self._read_as_noted([edits[row] for row in plain], variations, look)
        set_ups: dict[object, list[tuple[int, Staged]]] = {}
        for row, edit in staged:
            set_ups.setdefault((edit.fits, id(edit.make)), []).append((row, edit))
        for alike in set_ups.values():
            out[[row for row, _ in alike]] = self._read_staged(
                [edit for _, edit in alike], variations, look
            )
        return out

    def _read_staged(
        self, edits: Sequence[Staged], variations: Sequence[Variation], look: "_Look"
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
        key = edits[0].fits, spots
        if key not in self._staged:
            self._staged[key] = replace(self, procedures=self._refitted(edits[0]), spots=spots)
        (read,) = self._staged[key]._read_as_noted([edits[0].make], variations, look)  # noqa: SLF001 (own class)
        read = np.concatenate([read, np.full((len(variations), 1), np.inf)], axis=-1)
        in_ohm = [self.procedures[spot.test].quantity == "resistance" for spot in self.spots]
        added = np.where(in_ohm, np.array([edit.leads_ohm for edit in edits])[:, None], 0.0)
        out: Floats = np.moveaxis(read[:, at], 1, 0) + added[:, None, :]
        return out

    @cached_property
    def _staged(self) -> dict[object, "Bench"]:
        """Benches by what was fitted and read, as far as they were wanted."""
        return {}

    def _refitted(self, edit: Staged) -> dict[str, Procedure]:
        """Return the procedures with what was really fitted."""
        fits = dict(edit.fits)
        return {
            test: procedure.model_copy(update={"fit": fits[test]}) if test in fits else procedure
            for test, procedure in self.procedures.items()
        }

    def as_staged(self, edit: Staged) -> "Bench | None":
        """Return the bench as it is with a mistake made in what was fitted and noted.

        None where some reading was then not taken anywhere.
        """
        elsewhere = self._taken_elsewhere(edit)
        spots = [elsewhere.get(index, spot) for index, spot in enumerate(self.spots)]
        taken = tuple(spot for spot in spots if spot is not None)
        if len(taken) < len(spots):
            return None
        return replace(self, procedures=self._refitted(edit), spots=taken)

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
        self, edits: Sequence[MakeEdit], variations: Sequence[Variation], look: "_Look"
    ) -> Floats:
        """Return readings taken as the procedures and the notes say; shape as ``_read``."""
        out = np.empty((len(edits), len(variations), len(self.spots)))
        for group in self._benches:
            out[..., group.indices] = look(self, group, edits, variations)
        return out / self.unit_size

    def _read_group(
        self, group: "_Group", edits: Sequence[MakeEdit], variations: Sequence[Variation]
    ) -> Floats:
        """Return readings of one network, shape (edits, variations, group's). [ohm, V, A]"""
        both = [(make, number) for make in edits for number in range(len(variations))]
        read = self._read_each(group, variations, both)
        return read.reshape(len(edits), len(variations), len(group.indices))

    def _read_each(
        self,
        group: "_Group",
        variations: Sequence[Variation],
        edits: Sequence[tuple[MakeEdit, int]],
    ) -> Floats:
        """Return readings of one network under edits, each with the number of its variation.

        Shape (edits, group's). [ohm, V, A]
        """
        sound, fitted = self._sound(group), self._fitted_ohm(group, variations)
        changes = [variation.changes(sound) for variation in variations]
        made = [
            {**changed, **make({**sound, **changed} if changed else sound)}
            for make, changed in ((make, changes[number]) for make, number in edits)
        ]
        parts = [np.empty((0, len(group.indices)))]
        for i in range(0, len(made), _AT_ONCE):
            some = made[i : i + _AT_ONCE]
            if group.procedure.is_live:
                spots = [self.spots[i] for i in group.indices]
                parts.append(self._live.read(group.procedure, spots, sound, some))
            else:
                probes = self._probes(group.indices, self.terminators)
                whose = [number for _, number in edits[i : i + _AT_ONCE]]
                ohms = {branch: r_ohm[whose] for branch, r_ohm in fitted.items()}
                parts.append(resistances(sound, probes, some, ohms))
        return np.concatenate(parts)

    def _glimpse_group(
        self, group: "_Group", edits: Sequence[MakeEdit], variations: Sequence[Variation]
    ) -> Floats:
        """Return what ``_read_group`` does, of dead networks to six figures.

        The first variation is the circuit as drawn, and the others are so near it that what they
        change follows from there.
        """
        # With leakage there are so many loops that a glimpse is not quicker.
        if group.procedure.is_live or group.leakage_ohm_m:
            return self._read_group(group, edits, variations)
        if group not in self._desks:
            probes = self._probes(group.indices, self.terminators)
            self._desks[group] = Desk(self._sound(group), probes)
        varied = len(variations) > 1
        if varied and group not in self._known_nudges:
            self._known_nudges[group] = self._nudges(group, variations[1:])
        quick = nudged(self._desks[group], edits, self._known_nudges[group] if varied else [])
        drawn = quick.read[:, None]
        read = np.concatenate([drawn, drawn + quick.moved], axis=1)
        doubtful = np.flatnonzero(~quick.good.all(axis=1)).tolist()
        if doubtful:
            read[doubtful] = self._read_group(group, [edits[i] for i in doubtful], variations)
        return read

    def _nudges(self, group: "_Group", variations: Sequence[Variation]) -> list[Nudge]:
        """Return what each variation is on the network of a group."""
        sound, fitted = self._sound(group), self._fitted_ohm(group, variations)
        return [
            Nudge(
                variation.changes(sound),
                {branch: ohms[row] for branch, ohms in fitted.items() if ohms[row] != branch.r_ohm},
            )
            for row, variation in enumerate(variations)
        ]

    @cached_property
    def _desks(self) -> dict["_Group", Desk]:
        """Desks by group, as far as they were wanted."""
        return {}

    @cached_property
    def _known_nudges(self) -> dict["_Group", list[Nudge]]:
        """What each variation but the first is, by group, as far as it was wanted."""
        return {}

    def _fitted_ohm(self, group: "_Group", variations: Sequence[Variation]) -> dict[Branch, Floats]:
        """Return what a group of dead readings fits that is of other ohms in some variation.

        Each with its ohms by variation, shape (variations,). [ohm]
        """
        if group.procedure.is_live:
            return {}
        probes = self._probes(group.indices, self.terminators)
        # One reading for each set of things fitted shows what that is in a variation.
        one_each = {probe.fitted: index for index, probe in zip(group.indices, probes, strict=True)}
        some = list(one_each.values())
        set_ups = [self._probes(some, variation.terminators) for variation in variations]
        return fitted_ohm(self._probes(some, self.terminators), set_ups)


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Readings that are taken on one network, by their places in the bench."""

    procedure: Procedure
    leakage_ohm_m: float | None
    parted: str
    indices: list[int]


_Look = Callable[[Bench, _Group, Sequence[MakeEdit], Sequence[Variation]], Floats]
"""How the readings of a group are worked out: exactly, or to six figures."""
