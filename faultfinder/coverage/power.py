"""How surely a plan's readings show a fault: the power of the test against a sound circuit.

With the sound circuit's readings Gaussian about their prediction, covariance C (scatter and shared
errors as the likelihood has them), and a fault that moves them by d, the generalised least squares
estimate of how much of the fault there is, over its standard deviation, is

    w = dᵀ C⁻¹ r / √(dᵀ C⁻¹ d),

standard normal on a sound circuit and about √λ = √(dᵀ C⁻¹ d) with the fault in it. An alarm is a w
over c for any fault looked for, at any ohms: the generalised likelihood ratio, since ½ w² is the
logarithm of the likelihood with the fault, as much of it as suits, over that without. ``threshold``
finds the c at which false alarms are α; the power is Φ(√λ - c) or more, since another fault's w may
raise the alarm too. It is the one-fault test of the reliability theory of geodetic networks (W.
Baarda, A testing procedure for use in geodetic networks, 1968; from memory), and the ohms where it
reaches a given power are what is called a minimal detectable bias there.

Two things need no such test. A reading that is open on a sound circuit and shows a value with the
fault, or the other way round, is seen unless the instrument's range hides it. And a reading beyond
the limit of a standard that a sound circuit keeps to is a finding by itself, however far sound
circuits may spread.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist

import numpy as np

from faultfinder.coverage.lineup import Lineup
from faultfinder.coverage.threshold import threshold
from faultfinder.diagnosis.gaussian import normal_cdf
from faultfinder.evidence.expectation import expectations
from faultfinder.evidence.lean import Flags, Floats, Indices

SURELY = 0.9
"""Power from which a fault counts as seen: nine times in ten."""

_LOOKED_FOR = 1.0  # √λ: what moves less can hardly be seen, and is not looked for
_TURN = 0.03  # of a test, in radians, before it counts as another


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
        _, root = self._sampled
        tests = self._tests(self.lineup.samples.read[root >= _LOOKED_FOR])
        return threshold(_different(tests), self.false_alarm)

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
        for some, mask in _by_numbers(numbers):
            d = moved[np.ix_(some, mask)]
            weighted, inner = self._shared(mask)
            projected = d @ weighted
            found[some] = (d**2 / self.variance[mask]).sum(-1)
            found[some] -= (projected * np.linalg.solve(inner, projected.T).T).sum(-1)
        return np.maximum(found, 0.0)

    def _shared(self, mask: Flags) -> tuple[Floats, Floats]:
        """Return W B and I + Bᵀ W B of some readings' covariance W⁻¹ + B Bᵀ (Woodbury)."""
        spread = self.spread[mask]
        weighted = spread / self.variance[mask][:, None]
        return weighted, np.eye(spread.shape[1]) + spread.T @ weighted

    def _tests(self, read: Floats) -> Floats:
        """Return the tests that readings (n, r) ask for, shape (n, r + p).

        Unit vectors: w as a sum over the errors that make up r, each in its standard deviations:
        the scatter of each reading, then the p shared errors.
        """
        moved, numbers = self.moved(read)
        count = read.shape[1]
        found = np.zeros((len(read), count + self.spread.shape[1]))
        for some, mask in _by_numbers(numbers):
            d = moved[np.ix_(some, mask)]
            weighted, inner = self._shared(mask)
            weights = (
                d / self.variance[mask] - np.linalg.solve(inner, (d @ weighted).T).T @ weighted.T
            )
            found[np.ix_(some, np.flatnonzero(mask))] = weights * np.sqrt(self.variance[mask])
            found[some, count:] = weights @ self.spread[mask]
        return np.asarray(found / np.linalg.norm(found, axis=1, keepdims=True))

    def _effect(self, read: Floats, rows: Flags | None = None) -> tuple[Floats, Floats]:
        """Return the chance that readings tell at once, and √λ of those that do not for sure."""
        surely = self.surely(read, rows)
        root = np.zeros(len(read))
        open_question = surely < 1
        mask = rows if rows is None or rows.ndim == 1 else rows[open_question]
        root[open_question] = np.sqrt(self.information(read[open_question], mask))
        return surely, root

    @cached_property
    def _sampled(self) -> tuple[Floats, Floats]:
        return self._effect(self.lineup.samples.read)

    @cached_property
    def sampled(self) -> "Looks":
        """What the readings of every sample amount to."""
        return self._looks(*self._sampled)

    def _looks(self, surely: Floats, root: Floats) -> "Looks":
        # Without any effect there is nothing but the false alarm that the threshold allows.
        found = [
            np.where(root > 0, normal_cdf(root - c), 0.0)
            for c in (self.threshold, NormalDist().inv_cdf(1 - self.false_alarm))
        ]
        power, most = (np.asarray(1 - (1 - surely) * (1 - chance)) for chance in found)
        return Looks(surely, root, power, most)

    def power(self, read: Floats, rows: Flags | None = None) -> Floats:
        """Return the chance that readings (n, r) raise the alarm, shape (n,)."""
        return self._looks(*self._effect(read, rows)).power


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
    most : ndarray
        The same if this very fault were the only one to look for: no test of these readings with
        as many false alarms does better (Neyman and Pearson).
    """

    surely: Floats
    root: Floats
    power: Floats
    most: Floats


def _by_numbers(numbers: Flags) -> Iterator[tuple[Indices, Flags]]:
    """Yield rows that show numbers in the same columns, with which those are."""
    alike: dict[bytes, list[int]] = {}
    for row, packed in enumerate(np.packbits(numbers, axis=1)):
        alike.setdefault(packed.tobytes(), []).append(row)
    for some in alike.values():
        yield np.array(some), numbers[some[0]]


def _different(tests: Floats) -> Floats:
    """Return tests without those that are nearly the one before: neighbouring ohms of a family."""
    turned = np.arccos(np.clip((tests[1:] * tests[:-1]).sum(-1), -1.0, 1.0))
    way = np.concatenate([np.zeros(min(1, len(tests))), np.cumsum(turned)])
    return tests[np.unique((way / _TURN).astype(np.int64), return_index=True)[1]]
