"""The small circuits on which signs are tried, and what their tests read."""

from collections.abc import Mapping, Sequence
from functools import cached_property

from faultfinder.diagnosis.catalogue import no_edit
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.expectation import Expectation, expectations, of_spots
from faultfinder.evidence.meter import Meter, meter_for
from faultfinder.readings.reading import Instrument, Spot
from faultfinder.readings.setting import USUAL_TERMINATORS
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.source.document import load_yaml
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.installation import Installation
from faultfinder.wiring.installation_file import installation_from


class TestBed:
    """One test on one of the circuits: what is read, and what it should be."""

    __test__ = False  # not a pytest class

    def __init__(
        self, rulebook: Rulebook, installation: Installation, circuit: Circuit, test: str
    ) -> None:
        self.rulebook, self.circuit = rulebook, circuit
        self.spots: tuple[Spot, ...] = spots_of(rulebook.procedures[test], circuit)
        self.bench = Bench(
            circuit, rulebook.procedures, USUAL_TERMINATORS, self.spots, installation
        )

    @cached_property
    def meter(self) -> Meter:
        """The usual instrument."""
        return meter_for(self.spots, self.rulebook.procedures, Instrument())

    @cached_property
    def sound(self) -> Mapping[Spot, Expectation]:
        """What each reading should be."""
        lean = self.bench.lean([no_edit])
        return of_spots(expectations(self.bench, self.meter, self.rulebook.tolerances, lean))


class ExampleCircuits:
    """The circuits of ``rules/example.yaml``, and their test beds."""

    def __init__(self, rulebook: Rulebook) -> None:
        shelf = rulebook.shelf
        self._rulebook = rulebook
        self._installation = installation_from(load_yaml(shelf.path("example")), shelf)
        self._beds: dict[tuple[str, str], TestBed] = {}

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the circuits."""
        return tuple(circuit.name for circuit in self._installation.circuits)

    def circuits(self) -> Sequence[Circuit]:
        """Return the circuits, in the order of their file."""
        return self._installation.circuits

    def bed(self, circuit: str, test: str) -> TestBed:
        """Return a test on a circuit of that name; raise `KeyError` if there is none."""
        key = circuit, test
        if key not in self._beds:
            by_name = {one.name: one for one in self._installation.circuits}
            self._beds[key] = TestBed(self._rulebook, self._installation, by_name[circuit], test)
        return self._beds[key]
