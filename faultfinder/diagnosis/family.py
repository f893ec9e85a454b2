"""Faults as partners of others, and readings of pairs of them at the ends of their ohms."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from faultfinder.diagnosis.catalogue import Way
from faultfinder.diagnosis.curves import ENDS_OHM
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Flags, Floats, Indices
from faultfinder.network.branch import Edit, MakeEdit, Network, Probe, edited, in_turn
from faultfinder.network.pairs import PairScreen


@dataclass(frozen=True, slots=True)
class Family:
    """One way of a fault, as a partner of another.

    Attributes
    ----------
    way : Way
        How it is built.
    ohms : (float, float) or None
        Range of its ohms, where they are open. [ohm]
    log_prior : float
        Logarithm of its prior chance, that of the way included.
    """

    way: Way
    ohms: tuple[float, float] | None
    log_prior: float

    def makes(self) -> list[MakeEdit]:
        """Return what makes it at each of the three ends of its ohms; one where it has none."""
        return [self.way.edit(r_ohm) for r_ohm in (ENDS_OHM if self.ohms else ENDS_OHM[:1])]


def rows_of(families: Sequence[Family]) -> Indices:
    """Return which of all families' ``makes``, end to end, each is at its three ends, (f, 3)."""
    counts = np.array([len(ENDS_OHM) if family.ohms else 1 for family in families])
    first = np.cumsum(counts) - counts
    return np.asarray(first[:, None] + (counts > 1)[:, None] * np.arange(len(ENDS_OHM)))


class Reader:
    """Reads pairs of families at ends of their ohms, some readings of a bench, in its units.

    Attributes
    ----------
    touching, interacting : ndarray of bool, shape (families, families)
        Which touch a branch in common; which act on each other, so that what they change in
        readings does not simply add up.
    """

    touching: Flags
    interacting: Flags

    def __init__(self, bench: Bench, families: Sequence[Family], spots: Sequence[int]) -> None:
        self._bench, self._spots = bench, list(spots)
        self._makes = [make for family in families for make in family.makes()]
        self._row = rows_of(families)
        self._screens: list[tuple[list[int], PairScreen]] = []
        middle = self._row[:, 1]
        shape = len(families), len(families)
        self.touching, self.interacting = np.zeros((2, *shape), dtype=bool)
        column = {spot: place for place, spot in enumerate(self._spots)}
        for indices, network, probes in bench.plain():
            both = zip(indices, probes, strict=True)
            wanted = [(column[i], probe) for i, probe in both if i in column]
            if wanted:
                edits = [make(network) for make in self._makes]
                screen = self._screen(network, [probe for _, probe in wanted], edits)
                self._screens.append(([place for place, _ in wanted], screen))
                self.touching |= screen.touching[np.ix_(middle, middle)]
                self.interacting |= screen.interacting(middle)

    def _screen(
        self, network: Network, probes: Sequence[Probe], edits: Sequence[Edit]
    ) -> PairScreen:
        def composed(i: int, j: int) -> Edit:
            return {**edits[i], **self._makes[j](edited(network, edits[i]))}

        return PairScreen(network, probes, edits, composed)

    def read(self, among: Indices, first: Indices, second: Indices) -> Floats:
        """Return readings of pairs, each at one of the three ends of either's ohms, (n, r)."""
        rows = np.stack([self._row[among[:, 0], first], self._row[among[:, 1], second]], axis=1)
        out = np.empty((len(among), len(self._spots)))
        for columns, screen in self._screens:
            quick = screen.read(rows)
            out[:, columns] = quick.read / self._bench.unit_size[[self._spots[c] for c in columns]]
            doubtful = np.flatnonzero(~quick.good.all(axis=1))
            if doubtful.size:
                edits = [
                    in_turn([self._makes[i], self._makes[j]]) for i, j in rows[doubtful].tolist()
                ]
                exact = self._bench.read(edits)[:, self._spots]
                out[doubtful[:, None], columns] = exact[:, columns]
        return out
