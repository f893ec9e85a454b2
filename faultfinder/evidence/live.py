"""What the model says live readings should be: voltage, loop impedance, residual current.

The circuit is in service on its board, with the rest of its installation. Appliances that can be
unplugged are, and each reading is taken with nothing else on than what its test puts on.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf, isfinite, sqrt

import numpy as np
import numpy.typing as npt

from faultfinder.network.branch import Branch, Edit, MakeEdit, Network, Node, Probe
from faultfinder.network.currents import currents
from faultfinder.network.installation import (
    CableConstants,
    Live,
    live_network,
    plug_gate,
    pole,
    residual_device,
)
from faultfinder.network.residual import (
    Protected,
    Trip,
    Way,
    protected,
    residuals_a,
    trips,
    ways_out,
)
from faultfinder.network.service import prospective_fault_a, voltage_drop_v
from faultfinder.network.solve import impedances, voltages
from faultfinder.network.wiring import terminal
from faultfinder.readings.reading import Spot
from faultfinder.rulebook.arrangement import probe_for
from faultfinder.rulebook.procedures import Procedure, leads
from faultfinder.standards.limits import tripping_current_a
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.installation import Installation

Floats = npt.NDArray[np.float64]

# A device that has no residual current is tested as the usual one for outlets: 30 mA, IEC
# 60364-4-41 clause 411.3.3 (clause number from memory).
_USUAL_RESIDUAL_MA = 30.0

TEST_LOAD = ("test load",)
"""Name of the branch that a test's own load is."""

_LEAST_DRIVING = 0.1  # of the supply's voltage, for a loop to be read; common practice, no source
_MOST_LOOP_OHM = 2e3  # what capacitances leave of an open loop is none; common practice, no source
_MATTERS = 0.1  # of the largest; less is not worth a word
_MOST_WAYS = 3


@dataclass(frozen=True, slots=True)
class Tripping:
    """What a residual current device does while one reading is taken, and why.

    Attributes
    ----------
    spot : Spot
        The reading.
    device : str
        The circuit's name, or the board's device that it is behind.
    residual_ma : float
        The residual current it sees. [mA]
    rated_ma : float or None
        Its rated residual current; None if the circuit has no such device. [mA]
    trips : {'no', 'may', 'must'} or None
        Whether it trips; None without one.
    ways : tuple of Way
        By which branches the current leaves, those that matter, largest first.
    """

    spot: Spot
    device: str
    residual_ma: float
    rated_ma: float | None
    trips: Trip | None
    ways: tuple[Way, ...]

    def share_ma(self, way: Way) -> float:
        """Return what leaves by a way; less than nothing where it comes back in. [mA]"""
        with_most = (way.current_a * self.ways[0].current_a.conjugate()).real >= 0
        return 1e3 * abs(way.current_a) * (1 if with_most else -1)


@dataclass(frozen=True)
class LiveCircuit:
    """A circuit in service in its installation.

    Attributes
    ----------
    installation : Installation
        As drawn.
    circuit : Circuit
        The one that is read; one of the installation's.
    live : Live
        The installation's network, sound, and what its sources hold.
    """

    installation: Installation
    circuit: Circuit
    live: Live

    @cached_property
    def device(self) -> Protected:
        """The device whose residual current is read: the circuit's, or its board's.

        The circuit's own comes first if it is a residual current device, or if the board has none.
        """
        devices = {device.device: device for device in protected(self.installation)}
        own = devices[self.circuit.name]
        if own.residual_ma is not None:
            return own
        return devices.get(residual_device(self.circuit.board), own)

    def read(
        self, procedure: Procedure, spots: Sequence[Spot], network: Network, edits: Sequence[Edit]
    ) -> Floats:
        """Return what each spot of one test reads under each edit, shape (edits, spots).

        ``network`` is the sound one, or that with its branches scaled. In V, ohm and A; a voltmeter
        whose leads touch nothing reads nothing, and an open loop has infinite ohms.
        """
        if procedure.quantity == "trip-time":
            return np.stack([self._trip_s(procedure, s, network, edits) for s in spots], axis=-1)
        if procedure.quantity == "residual":
            return np.stack([self._residual(procedure, s, network, edits) for s in spots], axis=-1)
        set_ups = [self._probe(procedure, spot) for spot in spots]
        if procedure.quantity == "voltage":
            loaded = [self._loaded(procedure, s, p) for s, p in zip(spots, set_ups, strict=True)]
            return self._volts(network, loaded, edits)
        if procedure.quantity == "voltage-drop":
            loaded = [self._loaded(procedure, s, p) for s, p in zip(spots, set_ups, strict=True)]
            both = self._volts(network, [*set_ups, *loaded], edits)
            drop = voltage_drop_v(both[:, : len(spots)], both[:, len(spots) :])
            return np.asarray(np.maximum(drop, 0.0), dtype=np.float64)
        shorted = [replace(p, fitted=(*p.fitted, *self.live.joined())) for p in set_ups]
        driving_v = self._volts(network, set_ups, edits)
        # Nothing drives a current where there is no voltage: such an instrument shows no reading.
        dead = driving_v < _LEAST_DRIVING * self.installation.supply.voltage_v
        loop = np.abs(impedances(network, shorted, edits))
        loop = np.where(dead | (loop > _MOST_LOOP_OHM), inf, loop)
        if procedure.quantity == "loop":
            return np.asarray(loop, dtype=np.float64)
        return prospective_fault_a(driving_v, loop)

    def _volts(self, network: Network, probes: Sequence[Probe], edits: Sequence[Edit]) -> Floats:
        read = np.abs(voltages(network, probes, self.live.potentials, edits))
        return np.asarray(np.nan_to_num(read, nan=0.0), dtype=np.float64)

    def _probe(self, procedure: Procedure, spot: Spot) -> Probe:
        """Return the probe of a spot, what can be unplugged unplugged."""
        probe = probe_for(procedure, self.circuit, None, spot)
        return replace(probe, operated=probe.operated | self._unplugged)

    @cached_property
    def _unplugged(self) -> frozenset[str]:
        """What is operated to have every appliance out that can be."""
        return frozenset(
            plug_gate(load.at) for circuit in self.installation.circuits for load in circuit.loads
        )

    def _loaded(self, procedure: Procedure, spot: Spot, probe: Probe) -> Probe:
        """Return a probe with the test's load on at its place, if it has one."""
        if procedure.load is None:
            return probe
        return replace(probe, fitted=(*probe.fitted, self._load(procedure, spot)))

    def _residual(
        self, procedure: Procedure, spot: Spot, network: Network, edits: Sequence[Edit]
    ) -> Floats:
        return residuals_a(
            {**network, TEST_LOAD: self._load(procedure, spot)},
            self.device,
            self.live.potentials,
            edits,
            operated=self._probe(procedure, spot).operated,
        )

    def _trip_s(
        self, procedure: Procedure, spot: Spot, network: Network, edits: Sequence[Edit]
    ) -> Floats:
        """Return how long the device takes to trip: the usual time, for ever if it need not. [s]"""
        seen_ma = 1e3 * self._residual(procedure, spot, network, edits)
        rated_ma, usual = self.device.residual_ma, procedure.trips_in
        if rated_ma is None or usual is None:
            return np.full(len(edits), inf)
        usual_s = (usual.selective if self.is_selective else usual.general) / 1e3
        trip = [trips(float(f"{ma:.3g}"), rated_ma) != "no" for ma in seen_ma]
        return np.where(trip, usual_s, inf)

    @property
    def is_selective(self) -> bool:
        """Whether the device whose residual current is read waits for others to trip first."""
        if self.device.device == self.circuit.name:
            return self.circuit.device.selective
        board = self.installation.board(self.circuit.board)
        return board is not None and board.selective

    def _load(self, procedure: Procedure, spot: Spot) -> Branch:
        """Return a test's load: across the pair for a residual current, else active to neutral."""
        ends = [lead[0] for lead in leads(spot.between)]
        if procedure.quantity not in {"residual", "trip-time"}:
            here = self.circuit.actives_at(spot.at)
            ends = [next((end for end in ends if end in here), here[0]), "N"]
        one, two = (terminal(self.circuit, spot.at, c) for c in ends)
        return Branch(one, two, self._load_ohm(procedure, spot, (one, two)))

    def trippings(self, procedure: Procedure, spot: Spot, make: MakeEdit) -> Iterator[Tripping]:
        """Yield what the device does under an edit while a residual current is read, and why.

        Other residual current devices of the installation follow, if they may trip meanwhile.
        """
        network = {**self.live.network, TEST_LOAD: self._load(procedure, spot)}
        operated = self._probe(procedure, spot).operated
        edit = make(network)
        yield self._tripping(spot, self.device, network, edit, operated)
        for other in protected(self.installation):
            if other.residual_ma is not None and other != self.device:
                tripping = self._tripping(spot, other, network, edit, operated)
                if tripping.trips != "no":
                    yield tripping

    def _tripping(
        self, spot: Spot, device: Protected, network: Network, edit: Edit, operated: frozenset[str]
    ) -> Tripping:
        held = self.live.potentials
        seen_ma = 1e3 * float(residuals_a(network, device, held, [edit], operated=operated)[0])
        ways = ways_out(network, device, held, edit, operated=operated)
        largest = max((abs(way.current_a) for way in ways), default=0.0)
        rated_ma = device.residual_ma
        return Tripping(
            spot,
            device.device,
            seen_ma,
            rated_ma,
            # Three figures, as an instrument shows it: a test at the rated current is at it.
            None if rated_ma is None else trips(float(f"{seen_ma:.3g}"), rated_ma),
            tuple(way for way in ways if abs(way.current_a) >= _MATTERS * largest)[:_MOST_WAYS],
        )

    def cut_off(self, make: MakeEdit) -> tuple[float | None, float | None]:
        """Return what makes the circuit's devices cut an edit off at once, nothing being on.

        The current through a pole where it is over the tripping current [A], and the residual
        current where it is at or over the rated one [mA]; None where it is not.
        """
        network, held, operated = self.live.network, self.live.potentials, self._unplugged
        edit = make(network)
        poles = [pole(self.circuit.name, c) for c in self.circuit.actives]
        most_a = float(np.abs(currents(network, poles, held, [edit], operated=operated)).max())
        own = self.device
        seen_ma = 1e3 * float(residuals_a(network, own, held, [edit], operated=operated)[0])
        device = self.circuit.device
        region = self.circuit.region
        # Without a curve nobody knows what current trips the device at once.
        trip_a = tripping_current_a(region, device.curve, device.rating_a) if region.curves else inf
        return (
            most_a if most_a >= trip_a else None,
            seen_ma if own.residual_ma is not None and seen_ma >= own.residual_ma else None,
        )

    def _load_ohm(self, procedure: Procedure, spot: Spot, ends: tuple[Node, Node]) -> float:
        """Return the ohms of a test's load; one that draws a current does so where all is sound."""
        if isinstance(procedure.load, float):
            return procedure.load
        if procedure.load == "rated current":
            wanted_a = self.circuit.device.rating_a
        else:
            wanted_a = procedure.times * (self.device.residual_ma or _USUAL_RESIDUAL_MA) / 1e3
        at = replace(self._probe(procedure, spot), first=ends[:1], second=ends[1:], fitted=())
        (here_v,) = self._volts(self.live.network, [at], [{}])[0]
        joined = replace(at, fitted=self.live.joined())
        z_ohm = complex(impedances(self.live.network, [joined])[0, 0])
        if not isfinite(abs(z_ohm)):  # no way there, even where all is sound
            return self.installation.supply.voltage_v / wanted_a
        whole_ohm = float(here_v or self.installation.supply.voltage_v) / wanted_a
        return max(sqrt(max(whole_ohm**2 - z_ohm.imag**2, 0.0)) - z_ohm.real, 0.0)


def live_circuit(installation: Installation, circuit: Circuit) -> LiveCircuit:
    """Return a circuit in service, its cable having the usual constants."""
    return LiveCircuit(installation, circuit, live_network(installation, CableConstants()))
