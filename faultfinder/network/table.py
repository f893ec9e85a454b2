"""What readings a network gives, as tables with named axes: one row an edit, one column a probe.

``solve.py`` works on sequences and returns bare arrays; here edits and probes have names.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import numpy.typing as npt

from faultfinder.network.branch import Edit, Network, Node, Probe
from faultfinder.network.solve import impedances, resistances, voltages

Number = TypeVar("Number", float, complex)


@dataclass(frozen=True, slots=True, eq=False)
class Table(Generic[Number]):
    """Readings by edit and probe.

    Attributes
    ----------
    values : ndarray, shape (edits, probes)
        What each probe reads under each edit; read-only. [ohm or V]
    edits, probes : tuple of str
        Names of the rows and of the columns, in order.
    """

    values: npt.NDArray[Any]
    edits: tuple[str, ...]
    probes: tuple[str, ...]

    def at(self, edit: str, probe: str) -> Number:
        """Return one reading; KeyError says which names there are."""
        row, column = _place(edit, self.edits), _place(probe, self.probes)
        value: Number = self.values[row, column].item()
        return value

    def rows(self) -> Iterator[tuple[str, dict[str, Number]]]:
        """Yield each edit's name with its readings by probe."""
        for edit, row in zip(self.edits, self.values, strict=True):
            yield edit, dict(zip(self.probes, row.tolist(), strict=True))


def resistance_table(
    network: Network, probes: Mapping[str, Probe], edits: Mapping[str, Edit]
) -> Table[float]:
    """Return what each probe reads at d.c. under each edit; infinity for no path. [ohm]

    Parameters
    ----------
    network : Network
        The network as drawn.
    probes : mapping of str to Probe
        The readings, by name.
    edits : mapping of str to Edit
        The faults, by name; an empty edit is the network as drawn.
    """
    values = resistances(network, list(probes.values()), list(edits.values()))
    return _table(values, probes, edits)


def impedance_table(
    network: Network, probes: Mapping[str, Probe], edits: Mapping[str, Edit]
) -> Table[complex]:
    """Return the impedance between each probe's leads under each edit; infinity for no path. [ohm]

    Parameters are those of ``resistance_table``; a source is to be joined across, see
    ``impedances``.
    """
    values = impedances(network, list(probes.values()), list(edits.values()))
    return _table(values, probes, edits)


def voltage_table(
    network: Network,
    probes: Mapping[str, Probe],
    edits: Mapping[str, Edit],
    potentials: Mapping[Node, complex],
) -> Table[complex]:
    """Return the voltage from each probe's second lead to its first under each edit. [V]

    Parameters are those of ``resistance_table``, and ``potentials``, what sources hold their nodes
    at. [V] A lead with no path to any source gives nan.
    """
    values = voltages(network, list(probes.values()), potentials, list(edits.values()))
    return _table(values, probes, edits)


def _table(
    values: npt.NDArray[Any], probes: Mapping[str, Probe], edits: Mapping[str, Edit]
) -> Table[Any]:
    values.flags.writeable = False
    return Table(values, tuple(edits), tuple(probes))


def _place(name: str, names: tuple[str, ...]) -> int:
    if name not in names:
        raise KeyError(f"{name!r} is none of {', '.join(names)}")
    return names.index(name)
