"""What each test should read on a circuit, sound or with faults in it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from faultfinder.diagnosis.catalogue import hypothesis
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.expectation import Expectation, expectations
from faultfinder.evidence.live import Tripping
from faultfinder.evidence.meter import meter_for
from faultfinder.network.branch import MakeEdit, in_turn
from faultfinder.readings.reading import Instrument, Terminators
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.modes import FaultMode
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.source.problem import listed
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault
from faultfinder.wiring.installation import Installation


class ImpossibleFault(ValueError):  # noqa: N818 - says what it is, as BadInput does
    """A fault that its mode cannot have: the place, the conductors, or the ohms do not fit."""

    def __init__(self, found: str, expected: str) -> None:
        """Keep what was found and what was expected apart."""
        super().__init__(found)
        self.found, self.expected = found, expected


@dataclass(frozen=True, slots=True)
class Foretold:
    """What is expected of each reading, and what the residual current device does meanwhile.

    ``over_a`` [A] and ``residual_ma`` [mA] are what cuts the circuit off at once, if anything does:
    live readings are then of a circuit whose devices have failed to.
    """

    readings: tuple[Expectation, ...]
    trippings: tuple[Tripping, ...]
    over_a: float | None = None
    residual_ma: float | None = None


def foretell(
    circuit: Circuit,
    rulebook: Rulebook,
    tests: Sequence[str],
    terminators: Terminators,
    instrument: Instrument,
    faults: Sequence[Fault] = (),
    installation: Installation | None = None,
) -> Foretold:
    """Return what every reading of the tests should be with all the faults in the circuit.

    Live tests need the installation. A fault that can be built in several ways is built in the
    first its mode lists.

    Raises
    ------
    ImpossibleFault
        If a fault does not fit its mode or its place.
    """
    edits = [_edit(rulebook.modes[fault.mode], circuit, fault) for fault in faults]
    spots = tuple(s for test in tests for s in spots_of(rulebook.procedures[test], circuit))
    bench = Bench(circuit, rulebook.procedures, terminators, spots, installation)
    meter = meter_for(spots, rulebook.procedures, instrument)
    made = in_turn(edits)
    expected = expectations(bench, meter, rulebook.tolerances, bench.lean([made]))
    return Foretold(expected, bench.trippings(made), *bench.cut_off(made))


def must_fit(mode: FaultMode, circuit: Circuit, fault: Fault) -> None:
    """Refuse a fault whose place, conductors or other circuit its mode cannot have.

    Raises
    ------
    ImpossibleFault
        Saying what it could be.
    """
    said = " ".join([mode.id, "-".join(fault.conductors)]).strip()
    if not mode.ways_at(circuit, fault.at):
        places = sorted({place for way in mode.ways for place in way.at})
        words = [place.replace("-", " ") for place in places]
        raise ImpossibleFault(f'"{mode.id}" cannot be at {fault.at}', f"at: {listed(words)}")
    possible = mode.choices(circuit.conductors_at(fault.at))
    if fault.conductors not in possible:
        choices = ["-".join(choice) for choice in possible]
        wanted = ", ".join(choices) if any(choices) else "no conductors"
        raise ImpossibleFault(f'"{said}" does not fit', f"{mode.id} with {wanted}")
    if mode.needs_neighbour != bool(fault.to):
        with_other = replace(fault, to=circuit.neighbours[0] if circuit.neighbours else "")
        other = f'"{with_other}"' if mode.needs_neighbour else "no circuit"
        found = f'"{fault}" and no other circuit' if mode.needs_neighbour else f'"to {fault.to}"'
        raise ImpossibleFault(found, other)


def _edit(mode: FaultMode, circuit: Circuit, fault: Fault) -> MakeEdit:
    must_fit(mode, circuit, fault)
    if mode.ohms is None and fault.r_ohm is not None:
        raise ImpossibleFault(f'"{mode.id}" has no ohms', "the fault without ohms")
    if mode.ohms is not None and fault.r_ohm is None:
        raise ImpossibleFault(f'"{fault}" without ohms', f'its ohms, such as "{fault} 2.5 ohm"')
    return hypothesis(mode, circuit, fault).ways[0].edit(fault.r_ohm or 0.0)
