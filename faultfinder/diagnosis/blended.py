"""A fault and a mistake in the test together: looked for where neither explains the readings.

With a mistake made in what was fitted or noted (a link out, terminators exchanged, the columns of
an outlet exchanged) the test is another test, the same for every fault. So each such mistake that
readings speak for gives a bench of its own, on which every single fault is judged as ever.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np

from faultfinder.diagnosis.catalogue import Hypothesis, Way, no_edit
from faultfinder.diagnosis.families import Families, families
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.posterior import Judged, Suspect, weighed
from faultfinder.diagnosis.screen import BEHIND_NATS, screen
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.staging import Staged
from faultfinder.network.branch import MakeEdit
from faultfinder.wiring.fault import Fault

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
    bench: Bench,
    jury: Jury,
    hypotheses: Sequence[Hypothesis],
    judged: Judged,
    foreseen: Families,
) -> Judged:
    """Return what was judged with a fault beside a mistake in the test, where both are called for.

    They are looked for only where the leading suspect leaves readings unexplained. ``foreseen`` is
    what the hypotheses read on the bench; mistakes come last among them.
    """
    if not judged.suspects[0].leaves_readings:
        return judged
    wiring = [one for one in hypotheses if not any(fault.set_up for fault in one.faults)]
    enough = max(s.log_likelihood + s.hypothesis.log_prior for s in judged.suspects) - BEHIND_NATS
    found = [
        _blended(suspect, mistake, made)
        for mistake, made in _spoken_for(bench, jury, hypotheses)
        for suspect in _beside(bench, jury, wiring, foreseen, made, enough - mistake.log_prior)
    ]
    return judged.with_more([one for one in _by_faults(found) if judged.calls_for(one)])


def _spoken_for(
    bench: Bench, jury: Jury, hypotheses: Sequence[Hypothesis]
) -> list[tuple[Hypothesis, Staged]]:
    """Return the ways of mistakes that fit better than a sound circuit, the best first.

    Each with the share of the mistake's prior that is its own.
    """
    whole = [
        (replace(one, log_prior=one.log_prior + log(way.weight)), made)
        for one in hypotheses
        if any(fault.set_up for fault in one.faults)
        for way, made in ((way, way.edit()) for way in one.ways)
        if isinstance(made, Staged) and made.make is no_edit and one.ohms is None
    ]
    logs = jury.glance(bench.glimpse([no_edit, *(made for _, made in whole)]))
    gain = logs[1:] - logs[0]
    best = np.argsort(-gain, kind="stable")[:_MOST_MISTAKES].tolist()
    return [whole[number] for number in best if gain[number] > _SPOKEN_FOR_NATS]


def _by_faults(found: Sequence[Suspect]) -> list[Suspect]:
    """Return suspects with the ways of the same faults as one: as it is at the likeliest."""
    alike: dict[tuple[Fault, ...], list[Suspect]] = {}
    for suspect in found:
        alike.setdefault(suspect.hypothesis.faults, []).append(suspect)
    whole = []
    for same in alike.values():
        logs = [one.log_likelihood + one.hypothesis.log_prior for one in same]
        best = same[int(np.argmax(logs))]
        log_likelihood = float(np.logaddexp.reduce(logs)) - best.hypothesis.log_prior
        whole.append(replace(best, log_likelihood=log_likelihood))
    return whole


def _beside(
    bench: Bench,
    jury: Jury,
    wiring: Sequence[Hypothesis],
    foreseen: Families,
    made: Staged,
    enough: float,
) -> list[Suspect]:
    """Return the faults that may have made the readings beside a mistake, weighed.

    Those that may come to enough, their log likelihood and prior; none if no other does.
    """
    there = bench.as_staged(made)
    if there is None:
        return []
    places = {spot: number for number, spot in enumerate(bench.spots)}
    if not made.fits and not bench.live.any() and places.keys() >= set(there.spots):
        # The readings are those of the bench, in other places.
        taken_at = np.array([places[spot] for spot in there.spots])
        known = foreseen.taken_at(there, taken_at, len(wiring))
        sound = jury.sound.only(taken_at.tolist())
    else:
        known, sound = families(there, wiring), there.lean([no_edit])
    own = Jury(jury.observed, jury.tolerances, sound)
    screened = screen(own, known)
    near = [
        candidate
        for candidate in screened.candidates
        if candidate.log.max() + wiring[candidate.index].log_prior > enough
    ]
    found = weighed(there, own, wiring, near, screened.scatters) if near else []
    return [suspect for suspect in found if suspect.faults]


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
