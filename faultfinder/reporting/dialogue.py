"""The words of a guided session: what to do, why, what each outcome means, what changed."""

from collections.abc import Sequence
from dataclasses import replace

from faultfinder.diagnosis.result import NextCheck, RankedSuspect, Why
from faultfinder.diagnosis.wording import amount_in_words, spot_in_words, value_in_words
from faultfinder.guiding.answers import pairs_asked
from faultfinder.guiding.ending import Mending
from faultfinder.guiding.session import Session
from faultfinder.readings.doing import EXCHANGE, LOOK
from faultfinder.readings.reading import Reading, ReadingForms
from faultfinder.reporting.as_text import decisive_text, what_to_do
from faultfinder.reporting.layout import Style, heading, items, odds, paragraph
from faultfinder.source.problem import listed
from faultfinder.wiring.fault import SET_UP

_MOST_OUTCOMES = 4
_MOST_NAMED = 3
_MOST_PLACES = 8
_OPENING = (
    "Isolate the circuit, lock it off, tag it, and prove it dead with an instrument proved before "
    "and after, before a conductor is touched. Local rules and licensed practice come before "
    "anything printed here."
)
_ANSWERS = {
    LOOK: "nothing, or seen",
    EXCHANGE: "right if it now reads as it should, else still",
    SET_UP: "ok if it is in order, or so if it is as suspected",
}
HELP = (
    "a value as the instrument shows it: 0.4, 0,4, open, ol, >200M",
    "all pairs of the row in their order, or each after its name: A-E open N-E 0.4",
    "of a look: nothing, or seen; of a repair tried: right or still; of the set-up: ok or so",
    'a fault that you found instead: "open E at S3..S4"',
    "skip: not now; can't: it cannot be done there, do not ask again",
    "why: what speaks for the suspects; undo: take the last answer back",
    "quit: stop here; all answers are kept, and guide on the saved file goes on",
)


def opening(session: Session, width: int) -> list[str]:
    """Return what a session begins with: what to mind, and how things stand."""
    lines = paragraph(_OPENING, width, "! ")
    return lines + (paragraph(standing(session), width) if session.case.readings else [])


def not_understood(found: str, expected: str, width: int) -> list[str]:
    """Return what is said to an answer that means nothing."""
    return paragraph(f"{found}; expected {expected}", width, "   ")


def question(
    session: Session, check: NextCheck, told: set[str], width: int, style: Style
) -> list[str]:
    """Return what is asked next; ``told`` holds the steps and cautions said before, and grows."""
    tests = session.rulebook.procedures
    minutes = f"{check.minutes:.3g} min, {check.risk}"
    said = f"{session.number + 1}. {_task(check, tests)} ({minutes})."
    lines = ["", *heading(said, width, style)]
    if check.risk == "live":
        lines += items(["No dead check is left that can tell. This one is LIVE."], width, "  ! ")
    why = "" if check.test in {LOOK, SET_UP} else f"{_sentence(check.why)}"
    lines += paragraph(why, width, "   ") if why else []
    lines += _meanings(session, check, width)
    new = [step for step in check.steps if step not in told and check.test != SET_UP]
    lines += paragraph(f"How: {' '.join(new)}", width, "   ") if new else []
    minded = [caution for caution in check.cautions if caution not in told]
    lines += items(minded, width, "   ! ")
    told.update(new, minded)
    return [*lines, *paragraph(f"Answer: {_wanted(check, tests)}.", width, "   ")]


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _task(check: NextCheck, tests: ReadingForms) -> str:
    spot = check.spot
    if check.test == LOOK:
        return f"Open {spot.at} and {check.why}"
    if check.test == EXCHANGE:
        return f"Mend {spot.at}, and take again the reading that was off"
    if check.test == SET_UP:
        return f"Check the set-up: {check.why}"
    pairs = listed(pairs_asked(check, tests), "and")
    where = spot_in_words(replace(spot, parted="")).partition(" at ")[2]
    first = "Read again" if check.why.startswith("repeat") else "Read"
    if spot.parted:
        first = f"Part {spot.parted} at {spot.parted.partition('..')[0]}, then read"
    return f"{first} {pairs} at {where}, by the test {check.test}"


def _wanted(check: NextCheck, tests: ReadingForms) -> str:
    if check.test in _ANSWERS:
        return _ANSWERS[check.test]
    pairs = pairs_asked(check, tests)
    if len(pairs) == 1:
        return f"the value of {pairs[0]}"
    order = ", ".join(pairs)
    return f"{len(pairs)} values in the order {order}; or that of {check.spot.between} alone"


def _meanings(session: Session, check: NextCheck, width: int) -> list[str]:
    """Return what each outcome would mean, in places to repair."""
    suspects = {suspect.rank: suspect for suspect in session.diagnosis.suspects}
    between = f"{check.spot.between} " if check.spot.between else ""
    said = []
    for outcome in check.outcomes:
        shown = [suspects[rank] for rank in outcome.suspects if rank in suspects]
        value = outcome.value
        words = value if isinstance(value, str) else value_in_words(value, check.unit)
        meaning = _several(shown) if shown else "a fault that nothing could show so far"
        said.append(f"{between}{words}: {meaning}")
    if check.why.startswith("repeat"):
        said = [said[0].split(":")[0] + ": it was misread", said[-1].split(":")[0] + ": it stands"]
    return items(said[:_MOST_OUTCOMES], width, "   - ")


def _several(suspects: Sequence[RankedSuspect]) -> str:
    """Name suspects by where they are: the first in words, then places."""
    first = suspects[0].title
    places = dict.fromkeys(_place(s) for s in suspects[1:] if s.faults)
    others = [place for place in places if place != _place(suspects[0])]
    sound = "; or sound" if any(not s.faults for s in suspects[1:]) else ""
    if not others:
        return first + sound
    some = ", ".join(others[: _MOST_PLACES - 1])
    more = len(others) - _MOST_PLACES + 1
    return f"{first}; or at {some}{f' and {more} more' if more > 0 else ''}{sound}"


def _place(suspect: RankedSuspect) -> str:
    return listed([fault.at for fault in suspect.faults], "and") or "no place: sound"


def changed(
    before: Session, after: Session, readings: Sequence[Reading], width: int, style: Style
) -> list[str]:
    """Return what an answer changed: how a reading stands, who leads, how many places are left."""
    lines: list[str] = []
    graded = {reading.spot: reading for reading in after.diagnosis.readings}
    for reading in readings:
        one = graded[reading.spot]
        unit = one.expected.unit
        value = amount_in_words(reading.amount, unit)
        stands = (
            "as it should" if one.is_fine else f"not {value_in_words(one.expected.value, unit)}"
        )
        lines += paragraph(f"{spot_in_words(reading.spot)}: {value}, {stands}.", width, "   ")
    were, are = before.places_left(), after.places_left()
    out = [place for place in were if place not in are]
    if out:
        lines += paragraph(f"Out: {_some(out)}.", width, "   ")
    lines += paragraph(standing(after), width, "   ")
    return [style(line, "quiet") for line in lines]


def standing(session: Session) -> str:
    """Return in a sentence who leads, and at how many places a repair may still be due."""
    diagnosis = session.diagnosis
    leader = diagnosis.leading[0]
    places = session.places_left()
    if diagnosis.verdict == "sound":
        return f"Nothing wrong so far; {len(diagnosis.not_read)} places or switch positions unread."
    where = _some(places)
    count = "Left to repair" if len(places) == 1 else f"{len(places)} places left"
    return f"Leads: {leader.title}, {odds(leader.probability)}. {count}: {where}."


def _some(places: Sequence[str]) -> str:
    more = len(places) - _MOST_PLACES
    said = ", ".join(places[:_MOST_PLACES])
    return f"{said} and {more} more" if more > 0 else said


def reasons(session: Session, width: int) -> list[str]:
    """Return what speaks for the leading suspects and against them."""
    lines: list[str] = []
    for suspect in session.diagnosis.leading[:_MOST_NAMED]:
        lines += paragraph(f"{suspect.title}: {odds(suspect.probability)}", width, "   ")
        lines += items(suspect.supported_by, width, "   + ")
        lines += items(suspect.spoken_against_by, width, "   - ")
    if session.diagnosis.alike:
        lines += paragraph(session.diagnosis.alike, width, "   ")
    rivals = [s for s in session.diagnosis.suspects if s.group != 1 and s.probability >= 0.02]
    for suspect in rivals[:_MOST_NAMED]:
        lines += paragraph(f"Or {suspect.title}: {odds(suspect.probability)}", width, "   ")
    return lines


def choices(suspects: Sequence[RankedSuspect], width: int) -> list[str]:
    """Return suspects to choose from, numbered from one."""
    lines = paragraph("Which is it? A number, or the fault as said:", width, "   ")
    for number, suspect in enumerate(suspects, start=1):
        lines += paragraph(suspect.title, width, f"   {number}. ")
    return lines


def repair(mending: Mending, width: int, style: Style) -> list[str]:
    """Return the repair, or the correction of the test, and the tests that it asks for."""
    lines = ["", *(style(line, "good") for line in paragraph(f"FOUND: {mending.title}.", width))]
    said = what_to_do(of_test=mending.of_test, of_wiring=mending.of_wiring)
    lines += ["", *heading(said, width, style)]
    for text in mending.remedy:
        lines += paragraph(text, width, "  ")
    lines += items(mending.cautions, width, "  ! ")
    lines += ["", style("TEST AGAIN" if mending.of_wiring else "READ AGAIN", "heading")]
    for number, retest in enumerate(mending.retests, start=1):
        title = f"{retest.title[:1].lower()}{retest.title[1:]}"
        said = f"{retest.test} at {listed(retest.at, 'and')}: {title}"
        lines += paragraph(said, width, f"  {number}. ")
        lines += items(retest.limits, width, "     - ")
    return lines


def not_explained(why: Why, width: int, style: Style) -> list[str]:
    """Return what to say where the readings rule out what somebody found: there is more to find."""
    text = "NOT ALL EXPLAINED: this by itself does not make the readings. Look for more."
    lines = ["", *(style(line, "doubt") for line in paragraph(text, width))]
    return lines + items([decisive_text(one) for one in why.decisive], width)


def at_an_end(session: Session, width: int, style: Style) -> list[str]:
    """Return what to say where nothing is left to check and nothing was found."""
    diagnosis = session.diagnosis
    if diagnosis.verdict == "sound" and not diagnosis.not_read:
        text = "SOUND: all that was to be read reads as it should."
        return ["", *(style(line, "good") for line in paragraph(text, width))]
    if diagnosis.verdict == "sound":
        text = f"NOTHING WRONG in what was read. Not read: {_some(diagnosis.not_read)}."
        return ["", *(style(line, "doubt") for line in paragraph(text, width))]
    text = "NOTHING LEFT TO CHECK. These cannot be told apart by what can be done here:"
    lines = ["", *(style(line, "doubt") for line in paragraph(text, width))]
    for suspect in diagnosis.leading:
        lines += paragraph(f"{suspect.title}: {odds(suspect.probability)}", width, "  - ")
    return lines


def helped(width: int) -> list[str]:
    """Return what can be typed."""
    return items(HELP, width, "   - ")
