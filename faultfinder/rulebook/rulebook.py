"""All rules of a diagnosis, read once from the rules folder."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from faultfinder.rulebook.agreement import clashes, refuse_clashes
from faultfinder.rulebook.folder import load_rule, load_rules
from faultfinder.rulebook.inspection import Inspection, Repair, Separation, Walking
from faultfinder.rulebook.modes import FaultMode
from faultfinder.rulebook.procedures import Procedure
from faultfinder.rulebook.setups import SetUp
from faultfinder.rulebook.signs import Pointer, SignFile
from faultfinder.rulebook.tolerances import Tolerances
from faultfinder.source.content import content_folder
from faultfinder.wiring.fault import Fault


@dataclass(frozen=True, slots=True)
class Rulebook:
    """Fault modes, tests and set-up mistakes by id, signs, tolerances, and what is no reading.

    That is looking, parting, mending and walking.
    """

    modes: dict[str, FaultMode]
    procedures: dict[str, Procedure]
    pointers: tuple[Pointer, ...]
    inspection: Inspection
    tolerances: Tolerances
    set_ups: dict[str, SetUp]
    separation: Separation
    repair: Repair
    walking: Walking

    def rule_of(self, fault: Fault) -> FaultMode | SetUp:
        """Return the rule that a fault or a set-up mistake is one of."""
        return self.set_ups[fault.set_up] if fault.set_up else self.modes[fault.mode]


def load_rulebook(folder: Path) -> Rulebook:
    """Read a folder of rules.

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
    inspection = load_rule(folder / "inspect.yaml", Inspection)
    separation = load_rule(folder / "part.yaml", Separation)
    refuse_clashes(folder, clashes(modes, procedures, sign_files, set_ups, separation))
    return Rulebook(
        modes,
        procedures,
        tuple(pointer for file in sign_files.values() for pointer in file.written_out()),
        inspection,
        load_rule(folder / "tolerances.yaml", Tolerances),
        set_ups,
        separation,
        load_rule(folder / "repair.yaml", Repair),
        load_rule(folder / "walk.yaml", Walking),
    )


@cache
def shipped_rulebook() -> Rulebook:
    """Return the rules that come with the program."""
    return load_rulebook(content_folder("rules"))
