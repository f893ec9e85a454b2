"""A suspect's name: its faults in words, one after the other."""

from faultfinder.diagnosis.posterior import Suspect
from faultfinder.diagnosis.wording import fault_in_words, ohms_in_words
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.circuit import Circuit


def suspect_in_words(
    suspect: Suspect, rulebook: Rulebook, circuit: Circuit, *, with_ohms: bool = True
) -> str:
    """Name a suspect, with what is known of its ohms or without."""
    if not suspect.faults:
        return "a sound circuit"
    said = [
        fault_in_words(
            rulebook.rule_of(fault),
            circuit,
            fault,
            ohms_in_words(*ohms) if ohms and with_ohms else "",
        )
        for fault, ohms in zip(
            suspect.faults if with_ohms else suspect.hypothesis.faults, suspect.ohms, strict=True
        )
    ]
    return "; and ".join(said)
