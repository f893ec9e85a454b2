"""A fault and a mistake in the test together: looked for where neither explains the readings.

With a mistake made in what was fitted or noted (a link out, terminators exchanged, the columns of
an outlet exchanged) the test is another test, the same for every fault. So each such mistake that
readings speak for gives a bench of its own, on which every single fault is judged as ever.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from faultfinder.diagnosis.catalogue import Hypothesis, Way, no_edit
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.posterior import Judged, Suspect, judge
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.staging import Staged
from faultfinder.network.branch import MakeEdit

_SPOKEN_FOR_NATS = 3.0  # by which a mistake must fit better than the sound circuit
_MOST_MISTAKES = 4


@dataclass(frozen=True, slots=True)
class BlendedWay:
    """A fault built in one way, read by a test in which a mistake was made."""

    way: Way
    mistake: Staged

    @property
    def weight(self) -> float:
        """Its share among all ways of the fault."""
        return self.way.weight

    def edit(self, r_ohm: float = 0.0) -> MakeEdit:
        """Return the edit that is read with both made, the fault with these ohms."""
        return replace(self.mistake, make=self.way.edit(r_ohm))


def with_mistakes(
    bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis], judged: Judged
) -> Judged:
    """Return what was judged with a fault beside a mistake in the test, where both are called for.

    They are looked for only where the leading suspect leaves readings unexplained.
    """
    if not judged.suspects[0].leaves_readings:
        return judged
    wiring = [one for one in hypotheses if not any(fault.set_up for fault in one.faults)]
    found = [
        suspect
        for mistake, made in _spoken_for(bench, jury, hypotheses)
        for suspect in _beside(bench, jury, wiring, mistake, made)
        if judged.calls_for(suspect)
    ]
    return judged.with_more(found)


def _spoken_for(
    bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis]
) -> list[tuple[Hypothesis, Staged]]:
    """Return the mistakes that fit better than a sound circuit, the best first."""
    whole = [
        (one, made)
        for one in hypotheses
        if any(fault.set_up for fault in one.faults)
        for made in (way.edit() for way in one.ways)
        if isinstance(made, Staged) and made.make is no_edit and one.ohms is None
    ]
    logs = jury.glance(bench.glimpse([no_edit, *(made for _, made in whole)]))
    gain = logs[1:] - logs[0]
    best = np.argsort(-gain, kind="stable")[:_MOST_MISTAKES].tolist()
    return [whole[number] for number in best if gain[number] > _SPOKEN_FOR_NATS]


def _beside(
    bench: Bench, jury: Jury, wiring: Sequence[Hypothesis], mistake: Hypothesis, made: Staged
) -> list[Suspect]:
    """Return the faults that may have made the readings beside one mistake."""
    there = bench.as_staged(made)
    if there is None:
        return []
    own = Jury(jury.observed, jury.tolerances, there.lean([no_edit]))
    return [
        _blended(suspect, mistake, made)
        for suspect in judge(there, own, wiring).suspects
        if suspect.faults
    ]


def _blended(suspect: Suspect, mistake: Hypothesis, made: Staged) -> Suspect:
    """Return a fault that was judged on a mistaken bench as what it is: a mistake, and a fault."""
    fault = suspect.hypothesis
    both = replace(
        fault,
        faults=(*mistake.faults, *fault.faults),
        ways=tuple(BlendedWay(way, made) for way in fault.ways),
        log_prior=fault.log_prior + mistake.log_prior,
        ohms_of=len(mistake.faults),
    )
    way = BlendedWay(suspect.way, made) if suspect.way else None
    return replace(suspect, hypothesis=both, way=way, ohms=(None, *suspect.ohms))
