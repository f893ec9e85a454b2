"""The first list of next checks: what would tell the suspects apart, for how many minutes.

Every reading the dead tests offer that has not been taken, and opening an accessory to look, is
scored by the information it is expected to give about which suspect holds, over the minutes it
costs. Outcomes that the instrument could confuse count as one. Two kinds of check come before all
that: a look at the set-up, where a mistake there explains the readings as well as anything does,
and a reading that the leading suspect leaves unexplained, taken again.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import log2

import numpy as np

from faultfinder.diagnosis.naming import suspect_in_words
from faultfinder.diagnosis.posterior import Suspect
from faultfinder.diagnosis.result import NextCheck, Outcome
from faultfinder.diagnosis.wording import about_set_up
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.limits import is_usual
from faultfinder.evidence.meter import meter_for
from faultfinder.evidence.staging import Staged
from faultfinder.network.branch import MakeEdit
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Spot
from faultfinder.readings.setting import USUAL_TERMINATORS
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.fault import SET_UP, Fault

_SUSPECTS = 12
_LEAST_SHARE = 0.003
_LEAST_BITS = 0.02
_SURE = 0.95
_MOST_CHECKS = 4
_APART_SD = 4.0  # outcomes closer than two standard deviations either side are one
_MOST_SET_UPS = 2  # looks at the set-up that come before everything else
_MOST_REPEATS = 2
_SLIPPED_BITS = 1.0  # a reading that fits nothing is a slip as likely as not; judgement, no source
_AT_BOARD_MINUTES = 2.0  # to look at a device or a link; common practice, no source
_OVERLOOKED = 0.1  # chance that a look at the right place misses the fault; judgement, no source


@dataclass(frozen=True, slots=True)
class Contender:
    """A suspect with its rank and group, and its share among those a check is to tell apart."""

    suspect: Suspect
    rank: int
    group: int
    share: float


def next_checks(
    case: Case,
    rulebook: Rulebook,
    listed: Sequence[tuple[Suspect, int]],
    repeat: Sequence[int] = (),
) -> tuple[NextCheck, ...]:
    """Return the most telling checks for the minutes they cost, the best first.

    ``listed`` holds the suspects with their groups, in the order of their ranks, ``repeat`` which
    readings of the case want taking again.
    A circuit that is all but surely sound needs none but those.
    """
    repeats = _repeats(case, rulebook, listed[0][0], repeat[:_MOST_REPEATS])
    kept = [
        (suspect, rank, group)
        for rank, (suspect, group) in enumerate(listed, start=1)
        if suspect.probability > _LEAST_SHARE or group == 1
    ][:_SUSPECTS]
    if any(not suspect.faults and suspect.probability > _SURE for suspect, _, _ in kept):
        return _numbered(repeats)
    whole = sum(suspect.probability for suspect, _, _ in kept)
    contenders = [Contender(s, rank, group, s.probability / whole) for s, rank, group in kept]
    looks, set_ups = _looks(case, rulebook, contenders), _set_ups(case, rulebook, contenders)
    checks = [*_readings(case, rulebook, contenders), *looks]
    worth = [check for check in checks if check.information_bits >= _LEAST_BITS]
    worth.sort(key=lambda check: -check.information_bits / check.minutes)
    # A look that finds the fault ends the search, which bits alone do not say: among looks the
    # likeliest place comes first.
    likeliest = iter([look for look in looks if look in worth])
    worth = [next(likeliest) if check.test == "inspect" else check for check in worth]
    # Of checks that part the suspects alike the best is enough to offer.
    parted = {frozenset(o.suspects for o in check.outcomes): check for check in reversed(worth)}
    chosen = [check for check in worth if check in parted.values()]
    if not chosen and not set_ups:  # nothing left to tell apart: go and look where it must be
        chosen = looks[: max(1, len(listed[0][0].faults))]
    first = [*set_ups[:_MOST_SET_UPS], *repeats, *chosen][:_MOST_CHECKS]
    return _numbered(_exactly(case, rulebook, contenders, first))


def parting_check(case: Case, rulebook: Rulebook, one: Suspect, other: Suspect) -> NextCheck | None:
    """Return the reading not yet taken that best tells two suspects apart, if any does."""
    contenders = [Contender(one, 1, 1, 0.5), Contender(other, 2, 2, 0.5)]
    checks = _readings(case, rulebook, contenders)
    best = max(checks, key=lambda check: check.information_bits / check.minutes, default=None)
    return _exactly(case, rulebook, contenders, [best])[0] if best else None


def _exactly(
    case: Case,
    rulebook: Rulebook,
    contenders: Sequence[Contender],
    checks: Sequence[NextCheck],
) -> list[NextCheck]:
    """Return checks as they are, but the outcomes of readings to come worked out exactly."""
    taken = {reading.spot for reading in case.readings}
    spots = tuple(check.spot for check in checks if check.test in rulebook.procedures)
    new = tuple(spot for spot in spots if spot not in taken)
    exact = {check.spot: check for check in _at(case, rulebook, contenders, new, exactly=True)}
    return [exact.get(check.spot, check) for check in checks]


def _numbered(checks: Sequence[NextCheck]) -> tuple[NextCheck, ...]:
    return tuple(replace(check, rank=n) for n, check in enumerate(checks[:_MOST_CHECKS], start=1))


def _repeats(
    case: Case, rulebook: Rulebook, leader: Suspect, repeat: Sequence[int]
) -> list[NextCheck]:
    """Return readings to take again: as before, or as the leading suspect would have it."""
    checks = []
    for index in repeat:
        reading = case.readings[index]
        procedure = rulebook.procedures[reading.spot.test]
        if procedure.is_live:  # no live test is ever asked for
            continue
        says = (float(leader.read[index]), reading.amount.value)
        checks.append(
            NextCheck(
                0,
                reading.spot.test,
                reading.spot,
                procedure.unit,
                "repeat this reading; as it stands it does not fit the others",
                (Outcome(1, says[0], (1,)), Outcome(0, says[1], ())),
                _SLIPPED_BITS,
                procedure.minutes.each,
                "dead",
                procedure.steps,
                procedure.cautions,
            )
        )
    return checks


def _set_ups(case: Case, rulebook: Rulebook, contenders: Sequence[Contender]) -> list[NextCheck]:
    """Return looks at the set-up for the mistakes of the leading group, the likeliest first."""
    found: dict[tuple[str, str], NextCheck] = {}
    for contender in contenders:
        fault = next((f for f in contender.suspect.faults if f.set_up), None)
        if fault is None or contender.group != 1:
            continue
        same = [
            any((f.set_up, f.at) == (fault.set_up, fault.at) for f in c.suspect.faults)
            for c in contenders
        ]
        share = sum(c.share for c, is_same in zip(contenders, same, strict=True) if is_same)
        rule = rulebook.set_ups[fault.set_up]
        at_board = fault.at == case.circuit.board
        said = ["as suspected" if is_same else "in order" for is_same in same]
        check = NextCheck(
            0,
            SET_UP,
            Spot(SET_UP, fault.at, "", ""),
            "",
            about_set_up(rule.check.look_at, case.circuit, fault),
            _outcomes([int(is_same) for is_same in same], said, contenders),
            _binary_entropy(share),
            rule.check.minutes,
            "dead with supply nearby" if at_board else "dead",
            (about_set_up(rule.remedy, case.circuit, fault),),
            rule.cautions,
        )
        found.setdefault((fault.set_up, fault.at), check)
    return list(found.values())


def _as_next_read(edit: MakeEdit) -> MakeEdit:
    return edit.as_next_read if isinstance(edit, Staged) else edit


def _readings(case: Case, rulebook: Rulebook, contenders: Sequence[Contender]) -> list[NextCheck]:
    taken = {reading.spot for reading in case.readings}
    used = {spot.test for spot in taken}
    dead = [
        procedure
        for procedure in rulebook.procedures.values()
        if not procedure.is_live
        and (procedure.id in used or is_usual(procedure, case.circuit, case.installation))
    ]
    spots = tuple(
        spot
        for procedure in dead
        for spot in spots_of(procedure, case.circuit)
        if spot not in taken
    )
    return _at(case, rulebook, contenders, spots, exactly=False)


def _at(
    case: Case,
    rulebook: Rulebook,
    contenders: Sequence[Contender],
    spots: tuple[Spot, ...],
    *,
    exactly: bool,
) -> list[NextCheck]:
    """Return the readings of spots as checks, those that tell something."""
    if not spots:
        return []
    used = {reading.spot.test for reading in case.readings}
    terminators = case.terminators or USUAL_TERMINATORS
    bench = Bench(case.circuit, rulebook.procedures, terminators, spots, case.installation)
    edits = [_as_next_read(contender.suspect.edit) for contender in contenders]
    read = bench.read(edits) if exactly else bench.glimpse(edits)
    meter = meter_for(spots, rulebook.procedures, case.instrument)
    opens = meter.chance_open(read) > 0.5
    scaled = meter.scale(np.where(opens, 1.0, read))
    sd = meter.sd(read)
    checks = []
    for index, spot in enumerate(spots):
        classes = _classes(scaled[:, index], opens[:, index], sd[:, index])
        bits = _entropy(classes, contenders)
        if bits < _LEAST_BITS:
            continue
        procedure, set_up = rulebook.procedures[spot.test], spot.test in used
        values = np.where(opens[:, index], np.inf, read[:, index])
        checks.append(
            NextCheck(
                0,
                spot.test,
                spot,
                procedure.unit,
                _why(classes, contenders, case, rulebook),
                _outcomes(classes, values.tolist(), contenders),
                bits,
                procedure.minutes.each + (0.0 if set_up else procedure.minutes.set_up),
                # A test that is not set up takes hands into a board that may be live elsewhere.
                "dead" if set_up else "dead with supply nearby",
                procedure.steps,
                procedure.cautions,
            )
        )
    return checks


def _classes(scaled: np.ndarray, opens: np.ndarray, sd: np.ndarray) -> list[int]:
    """Return a class of outcome for each contender: open is one, values join while close."""
    classes = [0] * len(scaled)
    order = [int(i) for i in np.argsort(scaled, kind="stable") if not opens[i]]
    number = 1
    for before, after in pairwise([order[0], *order] if order else []):
        if scaled[after] - scaled[before] > _APART_SD * max(sd[before], sd[after]):
            number += 1
        classes[after] = number
    return classes


def _entropy(classes: Sequence[int], contenders: Sequence[Contender]) -> float:
    shares: dict[int, float] = {}
    for class_, contender in zip(classes, contenders, strict=True):
        shares[class_] = shares.get(class_, 0.0) + contender.share
    return sum(share * -log2(share) for share in shares.values() if 0 < share < 1)


def _outcomes(
    classes: Sequence[int], values: Sequence[float | str], contenders: Sequence[Contender]
) -> tuple[Outcome, ...]:
    """Return each outcome once, with its likeliest value and the suspects that would show it."""
    by_class: dict[int, list[tuple[Contender, float | str]]] = {}
    for class_, value, contender in zip(classes, values, contenders, strict=True):
        by_class.setdefault(class_, []).append((contender, value))
    return tuple(
        Outcome(shown[0][0].group, shown[0][1], tuple(contender.rank for contender, _ in shown))
        for shown in by_class.values()
    )


def _why(
    classes: Sequence[int], contenders: Sequence[Contender], case: Case, rulebook: Rulebook
) -> str:
    """Say which of the two likeliest suspects it parts."""
    leader = contenders[0]
    other = next(
        contender
        for class_, contender in zip(classes, contenders, strict=True)
        if class_ != classes[0]
    )
    one, two = (
        suspect_in_words(c.suspect, rulebook, case.circuit, with_ohms=False)
        for c in (leader, other)
    )
    return f"tells {one} from {two}"


def _looks(case: Case, rulebook: Rulebook, contenders: Sequence[Contender]) -> list[NextCheck]:
    """Return looks at the points where contenders' faults would be seen, the likeliest first."""
    seen: dict[str, float] = {}
    likeliest: dict[str, Fault] = {}
    places = [_where_to_look(case, contender.suspect.faults) for contender in contenders]
    for contender, found in zip(contenders, places, strict=True):
        for at, fault in found.items():
            seen[at] = seen.get(at, 0.0) + contender.share
            likeliest.setdefault(at, fault)
    effort = rulebook.inspection.minutes
    checks = []
    for at, share in sorted(seen.items(), key=lambda pair: -pair[1]):
        bits = _binary_entropy(share * (1 - _OVERLOOKED)) - share * _binary_entropy(_OVERLOOKED)
        here = [at in found for found in places]
        said = ["seen" if seen_here else "nothing to see" for seen_here in here]
        fault, at_board = likeliest[at], at == case.circuit.board
        mode, looking = rulebook.modes[fault.mode], rulebook.inspection
        checks.append(
            NextCheck(
                0,
                "inspect",
                Spot("inspect", at, "", ""),
                "",
                _what_to_look_for(case, rulebook, fault),
                _outcomes([int(seen_here) for seen_here in here], said, contenders),
                bits,
                _AT_BOARD_MINUTES if at_board else effort.set_up + effort.each,
                # The rest of a board stays live, and no accessory is opened there.
                "dead with supply nearby" if at_board else "dead",
                () if at_board else looking.steps,
                mode.cautions_for(fault.conductors) if at_board else looking.cautions,
            )
        )
    return checks


def _where_to_look(case: Case, faults: Sequence[Fault]) -> dict[str, Fault]:
    """Return the points to open, each with the fault that would be seen there.

    A run's faults are looked for at its far end first. None for a mistake in the test: there is
    nothing to see in a point.
    """
    found: dict[str, Fault] = {}
    for fault in faults:
        if not fault.set_up:
            run = case.circuit.run(fault.at)
            found.setdefault(fault.at if run is None else case.circuit.ends_to_open(run)[0], fault)
    return found


def _what_to_look_for(case: Case, rulebook: Rulebook, fault: Fault) -> str:
    """Say what to look for, and where else if the cable that ends here is suspected."""
    look_for = f"look for {rulebook.modes[fault.mode].look_for}"
    run = case.circuit.run(fault.at)
    if run is None:
        return look_for
    return f"{look_for}; then at the cable's other end, {case.circuit.ends_to_open(run)[1]}"


def _binary_entropy(p: float) -> float:
    return 0.0 if p <= 0 or p >= 1 else -p * log2(p) - (1 - p) * log2(1 - p)
