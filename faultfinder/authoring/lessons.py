"""Lessons: cases with what was found in them, which the rules must come to by themselves."""

from collections.abc import Iterator
from dataclasses import replace

from faultfinder.authoring.finding import Finding, found, of_bad_input
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.readings.file import load_case
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.source.problem import BadInput, listed
from faultfinder.wiring.fault import Fault


def lessons_checked(rulebook: Rulebook) -> Iterator[Finding]:
    """Yield what is wrong with lessons: no answer, or one that the readings do not lead to."""
    shelf = rulebook.shelf
    for file in shelf.of("lessons"):
        known = rulebook.procedures, rulebook.modes, rulebook.set_ups
        try:
            case = load_case(file.path, *known, shelf=shelf)
        except BadInput as bad:
            yield from of_bad_input(shelf, bad)
            continue
        if case.found is None:
            said = "no answer; a lesson says what was found, or found: [] where nothing was"
            yield found(shelf, file.name, (), said)
            continue
        answer = _bare(case.found.faults)
        leading = [_bare(suspect.faults) for suspect in diagnose(case, rulebook).leading]
        if answer not in leading:
            led = listed((_said(faults) for faults in leading), "or")
            said = f"the readings lead to {led}, and not to {_said(answer)}"
            yield found(shelf, file.name, ("found",), said)


def _bare(faults: tuple[Fault, ...]) -> frozenset[Fault]:
    return frozenset(replace(fault, r_ohm=None) for fault in faults)


def _said(faults: frozenset[Fault]) -> str:
    return listed(sorted(f'"{fault}"' for fault in faults), "with") or "a sound circuit"
