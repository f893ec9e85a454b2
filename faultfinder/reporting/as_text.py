"""A diagnosis as text for a tired person: verdict, what and where, why, what next."""

from collections.abc import Sequence
from math import exp, isfinite
from typing import TypeGuard

from faultfinder.diagnosis.result import Decisive, Diagnosis, NextCheck, RankedSuspect, Why
from faultfinder.diagnosis.wording import (
    amount_in_words,
    ends_in_words,
    legend_in_words,
    spot_in_words,
    value_in_words,
)
from faultfinder.evidence.grading import GradedReading
from faultfinder.readings.doing import EXCHANGE, LOOK, NO_TESTS
from faultfinder.reporting.layout import WIDTH, Style, heading, items, odds, paragraph, plain
from faultfinder.source.problem import listed
from faultfinder.wiring.fault import SET_UP

_GRADES = {
    "as-expected": "as expected",
    "high": "too high",
    "low": "too low",
    "open": "lost",
    "short": "near nothing",
    "conducts": "not open",
}
_MOST_OFF = 6
_MOST_LEADING = 4  # listed in full where they differ in place only
_MOST_LEADING_MIXED = 10
_MOST_RIVALS = 3
_MOST_CHECKS = 3
_MOST_OUTCOMES = 4
_WORTH_NAMING = 0.02
_LEAST_SHARE = 0.001
_MOST_NATS = 20.0  # a factor above that says no more
_DEAD_FIRST = "With the circuit isolated, locked off and proved dead:"
_DEFER = "Local rules and licensed practice come before anything printed here."


def diagnosis_text(
    diagnosis: Diagnosis, width: int = WIDTH, style: Style = plain, *, all_readings: bool = False
) -> str:
    """Return a diagnosis as text of at most ``width`` columns.

    With ``all_readings`` every reading is listed, else only those that are off.
    """
    return "\n".join(
        [
            *_head(diagnosis, width, style),
            *_suspects(diagnosis, width, style),
            *_why(diagnosis, width, style),
            *_next(diagnosis, width, style),
            *_repair(diagnosis, width, style),
            *_limits(diagnosis, width, style),
            *_readings(diagnosis, width, style, all_readings=all_readings),
            *_asked(diagnosis, width, style),
            *_cautions(diagnosis, width, style),
        ]
    )


def _head(diagnosis: Diagnosis, width: int, style: Style) -> list[str]:
    case = diagnosis.case
    off = sum(not reading.is_fine for reading in diagnosis.readings)
    role, verdict = _verdict(diagnosis)
    lines = [style(line, role) for line in paragraph(verdict, width)]
    number = len(diagnosis.readings)
    count = f"{number} reading{'s' if number != 1 else ''}, {off} off"
    said = ", ".join(part for part in (case.title, f"board {case.circuit.board}", count) if part)
    legend = legend_in_words(case.circuit)
    lines += [style(line, "quiet") for text in (said, legend) for line in paragraph(text, width)]
    if diagnosis.not_read:
        lines += items([", ".join(diagnosis.not_read)], width, "not read: ")
    return lines


def _verdict(diagnosis: Diagnosis) -> tuple[str, str]:
    """Return the verdict's role and words."""
    outside = diagnosis.outside_limit
    if not diagnosis.readings:
        return "doubt", "NOTHING READ: the case holds no readings to judge."
    match diagnosis.verdict:
        case "unexplained":
            off = [_quoted(reading) for reading in diagnosis.repeat][:_MOST_RIVALS]
            again = f" Read again: {'; '.join(off)}." if off else ""
            return (
                "doubt",
                f"UNEXPLAINED: no fault, nor several together, makes these readings.{again}",
            )
        case "sound" if outside:
            first = "; ".join(_quoted(reading) for reading in outside[:_MOST_RIVALS])
            return (
                "bad",
                f"OUTSIDE A LIMIT: {first}. No wiring fault found; do not put it in service.",
            )
        case "sound" if diagnosis.not_read:
            return "doubt", "NOTHING WRONG in what was read; not all of the circuit was."
        case "sound":
            return "good", "SOUND: the readings are what the circuit as drawn should give."
        case _:
            return "bad", _fault(diagnosis)


def _fault(diagnosis: Diagnosis) -> str:
    leading = [suspect for suspect in diagnosis.leading if suspect.faults]
    first = (leading or diagnosis.suspects)[0].title
    if len(leading) < len(diagnosis.leading):
        return f"NOT SURE: {first}, or the circuit is sound; these readings do not tell."
    tests = [suspect.title for suspect in leading if suspect.is_set_up]
    if tests:
        wiring = [suspect.title for suspect in leading if not suspect.is_set_up]
        so = f"{tests[0]}, or {tests[1]}" if len(tests) > 1 else tests[0]
        alike = len(wiring) - 1
        others = f" (or one of {alike} others that read alike)" if alike > 1 else ""
        others = " (or the other that reads alike)" if alike == 1 else others
        rest = "The wiring reads as sound."
        if wiring:
            rest = f"If not so, FAULT: {wiring[0]}{others}."
        elif any(suspect.is_wiring for suspect in leading):
            rest = "No mistake in the test alone explains the readings."
        return f"CHECK THE TEST FIRST: {so}. {rest}"
    if len(leading) > 1:
        more = len(leading) - 1
        others = f"one of {more} others that read" if more > 1 else "the other that reads"
        return f"{_faults(leading[0])}: {first}, or {others} alike."
    return f"{_faults(leading[0])}: {first}."


def _faults(suspect: RankedSuspect) -> str:
    return "FAULT" if len(suspect.faults) == 1 else f"{len(suspect.faults)} FAULTS"


def _limits(diagnosis: Diagnosis, width: int, style: Style) -> list[str]:
    """Return which readings a standard does not allow, those held to one limit together."""
    held: dict[str, list[str]] = {}
    for reading in diagnosis.outside_limit:
        limit = reading.expected.limit
        if limit is not None:
            value = value_in_words(limit.value, limit.unit)
            says = f"{limit.bound} {value} ({limit.basis}). {limit.says}"
            held.setdefault(says, []).append(_quoted(reading))
    if not held:
        return []
    said = [f"{'; '.join(quoted)}: {says}" for says, quoted in held.items()]
    return ["", style("OUTSIDE A LIMIT", "heading"), *items(said, width)]


def _quoted(reading: GradedReading) -> str:
    spot = reading.spot
    switch = f" {spot.switch}" if spot.switch else ""
    value = amount_in_words(reading.reading.amount, reading.expected.unit)
    return f"{spot.at}{switch} {spot.between} {value}"


def _suspects(diagnosis: Diagnosis, width: int, style: Style) -> list[str]:
    leading, others = diagnosis.leading, [s for s in diagnosis.suspects if s.group != 1]
    if diagnosis.verdict == "sound":
        rivals = [s for s in diagnosis.suspects if s.probability >= _WORTH_NAMING and s.faults]
        if not rivals:
            return []
        lines = ["", style("NOT RULED OUT", "heading")]
        return lines + items([_named(s) for s in rivals[:_MOST_RIVALS]], width)
    unexplained = diagnosis.verdict == "unexplained"
    lines = ["", style("NEAREST, but not all explained" if unexplained else "SUSPECTS", "heading")]
    alike = len({tuple((f.mode, f.conductors) for f in s.faults) for s in leading if s.faults}) == 1
    most = _MOST_LEADING if alike else _MOST_LEADING_MIXED
    for suspect in leading[:most]:
        lines += paragraph(_named(suspect), width, f"  {suspect.rank}. ")
    rest = leading[most:]
    if rest:
        places = ", ".join(dict.fromkeys(map(_places, (s for s in rest if s.faults))))
        lines += paragraph(f"{_ranks([s.rank for s in rest])}: at {places}", width, "  ", "     ")
    if len(leading) > 1:
        said = f"The readings given cannot tell these apart. {diagnosis.alike}"
        lines += paragraph(said.strip(), width, "     ")
    rivals = [s for s in others if s.probability >= _WORTH_NAMING]
    if rivals:
        lines += ["  Less likely:"]
        lines += items([_lost(s) for s in rivals[:_MOST_RIVALS]], width, "   - ")
    return lines


def _places(suspect: RankedSuspect) -> str:
    return listed((fault.at for fault in suspect.faults), "and")


def _named(suspect: RankedSuspect) -> str:
    return f"{suspect.title}: {odds(suspect.probability)}"


def _lost(suspect: RankedSuspect) -> str:
    """Name a suspect that lost, with the reading that sank it."""
    said = f"{_named(suspect)}"
    return f"{said}; {decisive_text(suspect.sunk_by)}" if suspect.sunk_by else said


def decisive_text(decisive: Decisive) -> str:
    """Say what a reading is, what it would be with a suspect, and how far off that is."""
    reading = decisive.reading
    unit = reading.expected.unit
    value = amount_in_words(reading.reading.amount, unit)
    would = value_in_words(decisive.with_rival, unit)
    off = f" ({decisive.rival_off_sd:.1f} standard deviations)"
    said = f"{spot_in_words(reading.spot)} reads {value}, with it {would}"
    return said + (off if isfinite(decisive.rival_off_sd) else "")


def _why(diagnosis: Diagnosis, width: int, style: Style) -> list[str]:
    if not diagnosis.readings:
        return []
    leader = next((s for s in diagnosis.leading if s.faults), diagnosis.suspects[0])
    if diagnosis.verdict == "sound":
        leader = next(s for s in diagnosis.suspects if not s.faults)
    lines = ["", style("WHY", "heading"), *paragraph(leader.reason, width, "  ")]
    lines += items(leader.supported_by, width, "  + ")
    against = leader.spoken_against_by or ("Nothing speaks against it.",)
    lines += items(against, width, "  - ")
    return lines + _rather_than(diagnosis, width)


def _rather_than(diagnosis: Diagnosis, width: int) -> list[str]:
    """Say which readings speak for the leader against the likeliest suspect that lost.

    Against a sound circuit that has been said, and of one not worth naming it need not be.
    """
    contrast = diagnosis.contrast
    rival = None if contrast is None else diagnosis.suspects[contrast.rival - 1]
    if contrast is None or rival is None or not rival.faults or not contrast.readings:
        return []
    if rival.probability < _WORTH_NAMING or diagnosis.verdict == "sound":
        return []
    said = "; ".join(decisive_text(one) for one in contrast.readings)
    return paragraph(f"Rather than {rival.title}: {said}.", width, "  ")


def _next(diagnosis: Diagnosis, width: int, style: Style) -> list[str]:
    if not diagnosis.next_checks:
        return []
    lines = ["", style("NEXT", "heading"), *paragraph(_DEAD_FIRST, width, "  ")]
    shown = {suspect.rank for suspect in _numbered(diagnosis)}
    used = {reading.spot.test for reading in diagnosis.readings}
    for check in diagnosis.next_checks[:_MOST_CHECKS]:
        lines += paragraph(_check(check), width, f"  {check.rank}. ")
        if len(check.outcomes) > 1:
            said = [
                f"{_outcome(check, o.value)} if {_ranks([r for r in o.suspects if r in shown])}"
                for o in check.outcomes
                if shown & set(o.suspects)
            ]
            if len(said) > 1:
                lines += paragraph("; ".join(said[:_MOST_OUTCOMES]), width, "     ")
        if check.test not in {*used, *NO_TESTS}:
            lines += paragraph(f"How: {' '.join(check.steps)}", width, "     ")
            used.add(check.test)
    return lines


def _numbered(diagnosis: Diagnosis) -> tuple[RankedSuspect, ...]:
    """Return the suspects that the text shows with their numbers."""
    return () if diagnosis.verdict == "sound" else diagnosis.leading


def _check(check: NextCheck) -> str:
    cost = f"({check.minutes:g} min, {check.risk})"
    if check.test == SET_UP:
        return f"The set-up {cost}: check {check.why}. If so: {' '.join(check.steps)}"
    if check.test == LOOK and check.risk != "dead":
        return f"At board {check.spot.at}, {check.why} {cost}"
    if check.test == LOOK:
        return f"Open {check.spot.at} and {check.why} {cost}"
    if check.test == EXCHANGE:
        return f"Mend {check.spot.at} {cost}: {check.why}. {' '.join(check.steps)}"
    return f"{check.test}: read {spot_in_words(check.spot)} {cost}: {check.why}"


def _ranks(ranks: Sequence[int]) -> str:
    """Name suspects by rank: ``1``, ``1 or 2``, ``1 to 4``."""
    if len(ranks) > 2 and list(ranks) == list(range(ranks[0], ranks[-1] + 1)):
        return f"{ranks[0]} to {ranks[-1]}"
    return listed(str(rank) for rank in ranks)


def _outcome(check: NextCheck, value: float | str) -> str:
    return value if isinstance(value, str) else value_in_words(value, check.unit)


def what_to_do(*, of_test: bool, of_wiring: bool) -> str:
    """Return the heading over what is done about a mistake in the test, a fault, or both."""
    if not of_test:
        return "REPAIR"
    return "CORRECT THE TEST and read again" + (", then REPAIR" if of_wiring else "")


def _repair(diagnosis: Diagnosis, width: int, style: Style) -> list[str]:
    leader = next((s for s in diagnosis.leading if s.faults), None)
    if diagnosis.verdict != "fault" or leader is None:
        return []
    sure = len({_places(suspect) for suspect in diagnosis.leading if suspect.faults}) == 1
    said = what_to_do(of_test=leader.is_set_up, of_wiring=leader.is_wiring)
    if not sure and not leader.is_set_up:
        # The remedy of several names its places, the others have theirs.
        alone = len(leader.faults) == 1
        said += ", once it is found" if alone else f", if it is {leader.rank}"
    lines = ["", *heading(said, width, style), *paragraph(leader.remedy, width, "  ")]
    return lines + paragraph(f"Then test again: {', '.join(leader.retest)}.", width, "  ")


def _readings(diagnosis: Diagnosis, width: int, style: Style, *, all_readings: bool) -> list[str]:
    shown = [r for r in diagnosis.readings if all_readings or not r.is_fine]
    if not shown:
        return []
    title = "READINGS" if all_readings else "READINGS THAT ARE OFF"
    most = len(shown) if all_readings else _MOST_OFF
    lines = ["", style(title, "heading")]
    for reading in shown[:most]:
        lines += paragraph(_reading(reading), width, "  ", "      ")
    if len(shown) > most:
        lines.append(f"  and {len(shown) - most} more (--readings lists all)")
    return lines


def _reading(reading: GradedReading) -> str:
    expected = reading.expected
    should = value_in_words(expected.value, expected.unit)
    if not expected.is_open:
        low, high = ends_in_words(expected.low, expected.value, expected.high, expected.unit)
        should = f"{should} ({low} to {high})"
    like = f", as {reading.like} should" if reading.like else ""
    return f"{_quoted(reading)}: {_GRADES[reading.grade]}{like}; should be {should}"


def _asked(diagnosis: Diagnosis, width: int, style: Style) -> list[str]:
    """Answer for each fault that was asked about: how it stands, and by which readings."""
    lines: list[str] = []
    for why in diagnosis.why:
        lines += ["", style("WHY NOT" if why.standing != "leads" else "WHY IT", "heading")]
        lines += paragraph(f"{why.title}: {_standing(why)}", width, "  ")
        if why.standing == "leads":
            lead = "Against the runner-up: "
            said = [decisive_text(one).replace("with it", "with that") for one in why.decisive]
        else:
            lead = ""
            said = [decisive_text(one) for one in why.decisive]
        lines += items([f"{lead}{text}." for text in said], width, "  - ")
        if not said and why.standing != "leads":
            lines += items([_no_single_reading(why)], width, "  - ")
        if why.check is not None:
            lines += paragraph(f"What would tell: {_told_by(why.check)}", width, "  ")
    return lines


def _no_single_reading(why: Why) -> str:
    """Say what keeps a suspect behind that no reading sinks: all of them, or its chance before."""
    times = exp(min(why.nats_behind, _MOST_NATS))
    said = f"Together they are {times:.0f} times likelier with the first. " if times >= 2 else ""
    return (
        f"No single reading sinks it. {said}Before any reading it was {chance_in_words(why.prior)}."
    )


def _standing(why: Why) -> str:
    share = odds(why.probability) if why.probability >= _LEAST_SHARE else "all but impossible"
    return f"{why.standing}, {share}."


def _told_by(check: NextCheck) -> str:
    outcomes = [value_in_words(o.value, check.unit) for o in check.outcomes if _is_number(o.value)]
    one = f"{check.test}, {spot_in_words(check.spot)} ({check.minutes:g} min)"
    return f"{one}: {outcomes[0]} with it, else {outcomes[1]}." if len(outcomes) > 1 else f"{one}."


def _is_number(value: float | str) -> TypeGuard[float]:
    return not isinstance(value, str)


def chance_in_words(probability: float) -> str:
    """Write a small chance: ``1 in 500``."""
    return f"1 in {round(1 / probability):,}" if probability > 0 else "impossible"


def _cautions(diagnosis: Diagnosis, width: int, style: Style) -> list[str]:
    """Return every caution once: of the tests used and proposed, then of the suspects."""
    suspects = [caution for suspect in diagnosis.leading for caution in suspect.cautions]
    checks = [c for check in diagnosis.next_checks[:_MOST_CHECKS] for c in check.cautions]
    said = dict.fromkeys([*diagnosis.cautions, *checks, *suspects, _DEFER])
    return ["", style("CAUTION", "heading"), *items(said, width, "  ! ")]
