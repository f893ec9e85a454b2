"""How surely a plan's readings show a fault: the power of the test against a sound circuit.

With the sound circuit's readings Gaussian about their prediction, covariance C (scatter and shared
errors as the likelihood has them), and a fault that moves them by d, the generalised least squares
estimate of how much of the fault there is, over its standard deviation, is

    w = dᵀ C⁻¹ r / √(dᵀ C⁻¹ d),

standard normal on a sound circuit and about √λ = √(dᵀ C⁻¹ d) with the fault in it. An alarm is a w
over c for any of the m faults looked for. With c = Φ⁻¹(1 - α/m) false alarms are no more than α
(Bonferroni's bound), and the power is Φ(√λ - c). It is the one-fault test of the reliability theory
of geodetic networks (W. Baarda, A testing procedure for use in geodetic networks, 1968; from
memory), and the ohms where it reaches a given power are what is called a minimal detectable bias
there.

Two things need no such test. A reading that is open on a sound circuit and shows a value with the
fault, or the other way round, is seen unless the instrument's range hides it. And a reading beyond
the limit of a standard that a sound circuit keeps to is a finding by itself, however far sound
circuits may spread.
"""

from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist

import numpy as np

from faultfinder.coverage.lineup import Lineup
from faultfinder.diagnosis.likelihood import normal_cdf
from faultfinder.evidence.expectation import expectations
from faultfinder.evidence.lean import Flags, Floats

SURELY = 0.9
"""Power from which a fault counts as seen: nine times in ten."""


def scatter_of(lineup: Lineup) -> float:
    """Return the scatter that is usual, in units of the instrument's accuracy.

    The geometric mean of the sizes that the likelihood averages over; ``diagnosis.groups`` parts
    suspects at the same.
    """
    t = lineup.tolerances
    sizes = t.stated_scatter if lineup.meter.stated else t.scatter
    return float(np.exp(np.mean(np.log(sizes))))


@dataclass(frozen=True)
class Alarm:
    """The test of a plan's readings against the sound circuit.

    Attributes
    ----------
    lineup : Lineup
        What can be wrong.
    false_alarm : float
        The chance allowed that a sound circuit raises an alarm.
    """

    lineup: Lineup
    false_alarm: float

    @cached_property
    def threshold(self) -> float:
        """What w has to exceed, c."""
        looked_for = max(1, len(self.lineup.of))
        return NormalDist().inv_cdf(1 - self.false_alarm / looked_for)

    @cached_property
    def _shown(self) -> Floats:
        """Chance that each reading of the sound circuit shows as open, shape (r,)."""
        return np.asarray(self.lineup.meter.chance_open(self.lineup.sound.read[0]))

    @cached_property
    def spread(self) -> Floats:
        """Shared errors of the sound circuit's readings, shape (r, p)."""
        lineup = self.lineup
        return np.asarray(lineup.meter.shared_errors(lineup.sound, lineup.tolerances)[0])

    @cached_property
    def variance(self) -> Floats:
        """Scatter of the sound circuit's readings, shape (r,)."""
        return (scatter_of(self.lineup) * self.lineup.meter.sd(self.lineup.sound.read[0])) ** 2

    @cached_property
    def _limits(self) -> tuple[Floats, Floats]:
        """The limit of each reading, nan without, and whether to stay over it (1) or under (-1).

        With its margin; a limit that the sound circuit does not keep tells nothing.
        """
        lineup = self.lineup
        expected = expectations(lineup.bench, lineup.meter, lineup.tolerances, lineup.sound)
        limits, sides = np.full(len(expected), np.nan), np.ones(len(expected))
        for column, (reading, sound) in enumerate(
            zip(expected, lineup.sound.read[0].tolist(), strict=True)
        ):
            limit = reading.limit
            if limit is not None and limit.allows(sound):
                sides[column] = 1.0 if limit.bound == "at least" else -1.0
                limits[column] = limit.value - sides[column] * reading.limit_margin
        return limits, sides

    def _beyond_limit(self, read: Floats) -> Floats:
        """Return the chance that each reading (n, r) shows a value its limit does not allow."""
        limits, sides = self._limits
        chance = np.zeros(read.shape)
        held = np.flatnonzero(~np.isnan(limits))
        if held.size:
            meter = self.lineup.meter.only(held.tolist())
            some = read[:, held]
            shown = np.isfinite(some)
            value = np.where(shown, some, 1.0)
            off = meter.scale(limits[held]) - meter.scale(value)
            sd = scatter_of(self.lineup) * meter.sd(value)
            chance[:, held] = np.where(shown, normal_cdf(sides[held] * off / sd), 0.0)
        return chance

    def surely(self, read: Floats, rows: Flags | None = None) -> Floats:
        """Return the chance that an open, a value or a limit tells at once, for readings (n, r).

        ``rows``, shape (r,) or (n, r), says which readings are taken; all if left out.
        """
        opens = self.lineup.meter.chance_open(read)
        lost = (opens >= 0.5) & (self._shown < 0.5)
        appeared = np.where(np.isfinite(self.lineup.sound.read[0]), 0.0, 1 - opens)
        chance = np.maximum(np.where(lost, 1.0, appeared), self._beyond_limit(read))
        return np.asarray(np.where(True if rows is None else rows, chance, 0.0).max(-1, initial=0))

    def moved(self, read: Floats) -> tuple[Floats, Flags]:
        """Return by how much readings (n, r) differ from the sound circuit's, and which can tell.

        On the scale of the meter; nil where either is no number.
        """
        meter, sound = self.lineup.meter, self.lineup.sound.read[0]
        numbers = meter.shows_value(read) & np.isfinite(sound)
        off = meter.scale(np.where(numbers, read, 1.0)) - meter.scale(
            np.where(np.isfinite(sound), sound, 1.0)
        )
        return np.where(numbers, off, 0.0), numbers

    def information(self, read: Floats, rows: Flags | None = None) -> Floats:
        """Return λ of readings (n, r), shape (n,): √λ is how far w stands from nil."""
        moved, numbers = self.moved(read)
        if rows is not None:
            numbers &= rows
            moved = np.where(rows, moved, 0.0)
        found = np.zeros(len(read))
        alike: dict[bytes, list[int]] = {}
        for row, packed in enumerate(np.packbits(numbers, axis=1)):
            alike.setdefault(packed.tobytes(), []).append(row)
        for some in alike.values():
            mask = numbers[some[0]]
            spread, variance = self.spread[mask], self.variance[mask]
            weighted = spread / variance[:, None]
            inner = np.eye(spread.shape[1]) + spread.T @ weighted
            d = moved[some][:, mask]
            projected = d @ weighted
            found[some] = (d**2 / variance).sum(-1)
            found[some] -= (projected * np.linalg.solve(inner, projected.T).T).sum(-1)
        return np.maximum(found, 0.0)

    def looks(self, read: Floats, rows: Flags | None = None) -> "Looks":
        """Return what readings (n, r) amount to: ``rows`` as for ``surely``."""
        surely = self.surely(read, rows)
        root = np.zeros(len(read))
        open_question = surely < 1
        mask = rows if rows is None or rows.ndim == 1 else rows[open_question]
        root[open_question] = np.sqrt(self.information(read[open_question], mask))
        # Without any effect there is nothing but the false alarm that the threshold allows.
        by_test = np.where(root > 0, normal_cdf(root - self.threshold), 0.0)
        return Looks(surely, root, np.asarray(1 - (1 - surely) * (1 - by_test)))

    def power(self, read: Floats, rows: Flags | None = None) -> Floats:
        """Return the chance that readings (n, r) raise the alarm, shape (n,)."""
        return self.looks(read, rows).power


@dataclass(frozen=True, slots=True)
class Looks:
    """How readings with a fault look beside the sound circuit's; arrays of shape (n,).

    Attributes
    ----------
    surely : ndarray
        Chance that an open, a value or a limit tells at once.
    root : ndarray
        √λ; nil where they tell at once.
    power : ndarray
        Chance that they raise the alarm one way or the other.
    """

    surely: Floats
    root: Floats
    power: Floats
