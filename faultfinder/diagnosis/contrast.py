"""Explanations that contrast: which readings decide between two suspects, and which do not.

A reading's weight between two suspects is the difference of what it says for each, in natural
units of log likelihood. Shared errors (lengths, terminators, gain, leads) are first settled as
well as each suspect lets them be, so that a small step along a long cable counts; what neither
settles, an open against a value or a number far outside, counts as a slip does.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.diagnosis.result import Contrast, Decisive
from faultfinder.diagnosis.wording import spot_in_words, value_in_words
from faultfinder.evidence.grading import GradedReading
from faultfinder.evidence.lean import Flags, Floats
from faultfinder.source.problem import listed

_MOST = 3
_WORTH_SAYING_NATS = 1.0


@dataclass(frozen=True, slots=True)
class Contrasts:
    """Compares suspects of one case by its readings."""

    graded: Sequence[GradedReading]
    jury: Jury

    def against(self, suspect: Suspect, rank: int, rival: Suspect) -> Contrast:
        """Return the readings that speak most for a suspect against a rival, whose rank is given.

        One position of a switch is enough: the other would say the same again.
        """
        gain = self._gain(suspect, rival)
        order = [int(i) for i in np.argsort(-gain, kind="stable") if gain[i] > _WORTH_SAYING_NATS]
        spots = [reading.spot for reading in self.graded]
        first = {(spots[i].test, spots[i].at, spots[i].between): i for i in reversed(order)}
        told = [i for i in order if i in first.values()][:_MOST]
        off = self._off_sd(rival)
        return Contrast(
            rank,
            tuple(
                Decisive(
                    self.graded[i], float(suspect.read[i]), float(rival.read[i]), float(off[i])
                )
                for i in told
            ),
        )

    def alike(self, leading: Sequence[Suspect]) -> str:
        """Say why the suspects of a group cannot be told apart; nothing for a single one."""
        if len(leading) < 2:
            return ""
        reads = np.stack([suspect.read for suspect in leading])
        finite = np.isfinite(reads).all(axis=0)
        shown = np.where(finite, reads, 0.0)
        scaled = self.jury.observed.meter.scale(np.where(finite, reads, 1.0))
        sd = self._sd(leading[0])
        apart = np.where(finite, np.ptp(scaled, axis=0) / sd, 0.0)
        if not len(apart) or apart.max() < 0.01:
            return "Each of the readings given is the same with any of these."
        most = int(apart.argmax())
        reading = self.graded[most]
        low, high = float(shown[:, most].min()), float(shown[:, most].max())
        unit = reading.expected.unit
        ends = listed([value_in_words(low, unit), value_in_words(high, unit)], "and")
        if value_in_words(low, unit) == value_in_words(high, unit):
            return "To the last digit written, the readings given are the same with any of these."
        return (
            f"They differ most in {spot_in_words(reading.spot)}, between {ends}: "
            f"{apart[most]:.1f} standard deviations of what that reading may be off by."
        )

    def _gain(self, suspect: Suspect, rival: Suspect) -> Floats:
        each = self.jury.glance_each(np.stack([suspect.read, rival.read]))
        settled = 0.5 * (rival.residual**2 - suspect.residual**2)
        return np.where(self._is_settled(suspect, rival), settled, each[0] - each[1])

    def _is_settled(self, *suspects: Suspect) -> Flags:
        """Return which readings are numbers that all suspects explain but for their errors."""
        slips = np.any([suspect.slips for suspect in suspects], axis=0)
        numbers = np.all([np.isfinite(suspect.read) for suspect in suspects], axis=0)
        return np.asarray(self.jury.observed.number & numbers & ~slips)

    def _sd(self, suspect: Suspect) -> Floats:
        """Return what each reading may be off by under a suspect, all errors together."""
        observed = self.jury.observed
        own = observed.meter.sd(suspect.read, observed.resolution)
        return np.asarray(np.sqrt(own**2 + (suspect.spread**2).sum(axis=-1)))

    def _off_sd(self, suspect: Suspect) -> Floats:
        """Return how far each reading is from a suspect's prediction, in standard deviations.

        Of its scatter, shared errors settled, where the suspect explains it but for its errors; of
        all errors together where it does not; infinite for open against a value.
        """
        observed, meter = self.jury.observed, self.jury.observed.meter
        both = ~observed.open & np.isfinite(suspect.read)
        value = meter.scale(np.where(both, observed.value, 1.0))
        off = np.abs(value - meter.scale(np.where(both, suspect.read, 1.0))) / self._sd(suspect)
        same = observed.open & ~np.isfinite(suspect.read)
        far = np.where(both, off, np.where(same, 0.0, inf))
        return np.where(self._is_settled(suspect), np.abs(suspect.residual), far)
