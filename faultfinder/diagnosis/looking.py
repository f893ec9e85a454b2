"""What a look shows, and what one that showed nothing, or a repair that did not help, leaves."""

from collections.abc import Sequence
from dataclasses import replace
from math import log

from faultfinder.diagnosis.catalogue import Hypothesis
from faultfinder.readings.case import Case
from faultfinder.rulebook.inspection import Inspection
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault

_SAME_AGAIN = 0.01  # chance that what was exchanged or remade has the fault still; judgement


def chance_seen(
    circuit: Circuit, inspection: Inspection, faults: Sequence[Fault], at: str
) -> float:
    """Return the chance that opening a place, the board too, shows one of the faults."""
    missed = 1.0
    for fault in faults:
        run = None if fault.set_up else circuit.run(fault.at)
        if run is not None and at in circuit.ends_to_open(run):
            missed *= 1.0 - inspection.seen.run
        elif not fault.set_up and fault.at == at:
            missed *= 1.0 - inspection.seen.here
    return 1.0 - missed


def after_looking(
    case: Case, rulebook: Rulebook, hypotheses: tuple[Hypothesis, ...]
) -> tuple[Hypothesis, ...]:
    """Return hypotheses with their priors as looks with nothing to see and vain repairs left them.

    A set-up mistake that was looked for and not found is out.
    """
    if not (case.looked or case.exchanged or case.in_order):
        return hypotheses
    left = []
    for one in hypotheses:
        if any((fault.set_up, fault.at) in case.in_order for fault in one.faults):
            continue
        lost = sum(
            log(1.0 - chance_seen(case.circuit, rulebook.inspection, one.faults, at))
            for at in case.looked
        )
        same = sum(not fault.set_up and fault.at in case.exchanged for fault in one.faults)
        lost += same * log(_SAME_AGAIN)
        left.append(replace(one, log_prior=one.log_prior + lost))
    return tuple(left)
