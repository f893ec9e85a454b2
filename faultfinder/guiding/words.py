"""Words that answer a look, a repair tried, or a check of the set-up; faults said instead."""

from faultfinder.diagnosis.foretell import ImpossibleFault, must_fit
from faultfinder.guiding.session import Session
from faultfinder.readings.doing import EXCHANGE, LOOK
from faultfinder.source.problem import listed, shown
from faultfinder.source.spelling import nearest
from faultfinder.wiring.fault import SET_UP, Fault, FaultSyntaxError, parse_fault

_YES, _NO = ("yes", "y"), ("no", "n")

GONE = {
    LOOK: ("seen", "found", *_YES),
    EXCHANGE: ("right", "fixed", *_YES),
    SET_UP: ("so", "wrong", *_YES),
}
"""Answers that say the fault was there."""

NOT_GONE = {
    LOOK: ("nothing", "none", "sound", "not seen", "nothing to see", *_NO),
    EXCHANGE: ("still", "same", "still off", *_NO),
    SET_UP: ("ok", "in order", "fine", "right", *_NO),
}
"""Answers that say it was not."""


def said_fault(typed: str, session: Session) -> Fault | None:
    """Return the fault that an answer names, or None where it begins like none.

    Raises
    ------
    FaultSyntaxError
        If it names a fault that the circuit has no room for.
    """
    rulebook, circuit = session.rulebook, session.case.circuit
    first = typed.partition(" ")[0].lower()
    if " at " not in typed and " in " not in typed:
        return None
    known = [*rulebook.modes, *rulebook.set_ups]
    if first not in known:
        near = nearest(first, known)
        raise FaultSyntaxError(f"unknown fault {shown(first)}", near or listed(known), near)
    fault, _ = parse_fault(typed, circuit, rulebook.set_ups)
    if not fault.set_up:
        try:
            must_fit(rulebook.modes[fault.mode], circuit, fault)
        except ImpossibleFault as error:
            raise FaultSyntaxError(error.found, error.expected) from error
    return fault
