"""All rules of a diagnosis, read once from the rules folder."""

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from faultfinder.rulebook.agreement import clashes, refuse_clashes
from faultfinder.rulebook.folder import load_rule, load_rules
from faultfinder.rulebook.inspection import Inspection
from faultfinder.rulebook.modes import FaultMode
from faultfinder.rulebook.procedures import Procedure
from faultfinder.rulebook.setups import SetUp
from faultfinder.rulebook.signs import Pointer, SignFile
from faultfinder.rulebook.spoken import spoken
from faultfinder.rulebook.tolerances import Tolerances
from faultfinder.source.content import content_folder
from faultfinder.standards.regions import Words, region
from faultfinder.wiring.fault import Fault


@dataclass(frozen=True, slots=True)
class Rulebook:
    """Fault modes, tests and set-up mistakes by id, signs, the inspection, and the tolerances.

    Its texts are in the words of a region. ``as_written`` is the same with blanks for those words,
    as the files have it; None in that one itself.
    """

    modes: dict[str, FaultMode]
    procedures: dict[str, Procedure]
    pointers: tuple[Pointer, ...]
    inspection: Inspection
    tolerances: Tolerances
    set_ups: dict[str, SetUp]
    as_written: "Rulebook | None" = None

    def in_words(self, words: Words) -> "Rulebook":
        """Return the same rules in the words of another region."""
        written = self.as_written or self
        return replace(spoken(written, words), as_written=written)

    def rule_of(self, fault: Fault) -> FaultMode | SetUp:
        """Return the rule that a fault or a set-up mistake is one of."""
        return self.set_ups[fault.set_up] if fault.set_up else self.modes[fault.mode]


def load_rulebook(folder: Path) -> Rulebook:
    """Read a folder of rules; its texts are in the words of the usual region.

    Raises
    ------
    BadInput
        With the problems of the first kind of rule that has any, or else with everything that
        rules name and no rule has.
    """
    sign_files = load_rules(folder / "signs", SignFile)
    modes = load_rules(folder / "faults", FaultMode)
    procedures = load_rules(folder / "tests", Procedure)
    set_ups = load_rules(folder / "set-ups", SetUp)
    refuse_clashes(folder, clashes(modes, procedures, sign_files, set_ups))
    written = Rulebook(
        modes,
        procedures,
        tuple(pointer for file in sign_files.values() for pointer in file.written_out()),
        load_rule(folder / "inspect.yaml", Inspection),
        load_rule(folder / "tolerances.yaml", Tolerances),
        set_ups,
    )
    return written.in_words(region().words)


@cache
def shipped_rulebook() -> Rulebook:
    """Return the rules that come with the program."""
    return load_rulebook(content_folder("rules"))
