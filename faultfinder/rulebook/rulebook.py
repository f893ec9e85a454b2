"""All rules of a diagnosis, read once from a shelf of rule files."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import TypeVar

from faultfinder.rulebook.agreement import clashes, refuse_clashes
from faultfinder.rulebook.folder import load_rule, load_rules
from faultfinder.rulebook.inspection import Inspection, Repair, Separation, Walking
from faultfinder.rulebook.modes import FaultMode
from faultfinder.rulebook.procedures import Procedure
from faultfinder.rulebook.setups import SetUp
from faultfinder.rulebook.signs import Pointer, SignBearer, SignFile, SignRule
from faultfinder.rulebook.spoken import spoken
from faultfinder.rulebook.tolerances import Tolerances
from faultfinder.source.problem import BadInput, Problem, shown
from faultfinder.source.shelf import Shelf, open_shelf, shipped_shelf
from faultfinder.source.spelling import nearest
from faultfinder.source.trees import trees_of
from faultfinder.standards.regions import Words, region
from faultfinder.wiring.fault import Fault

Bearer = TypeVar("Bearer", bound=SignBearer)


@dataclass(frozen=True, slots=True, eq=False)
class Rulebook:
    """Fault modes, tests and set-up mistakes by id, signs, tolerances, and what is no reading.

    That is looking, parting, mending and walking. ``bearers`` are the files that hold signs, by
    name: ``signs/open``, ``faults/swollen``. The texts of the rest are in the words of a region.
    ``as_written`` is the same with blanks for those words, as the files have it; None in that one
    itself.
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
    bearers: Mapping[str, SignBearer]
    shelf: Shelf
    as_written: "Rulebook | None" = None
    _said: dict[Words, "Rulebook"] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def in_words(self, words: Words) -> "Rulebook":
        """Return the same rules in the words of another region, worked out once for each."""
        if self.as_written is not None:
            return self.as_written.in_words(words)
        if words not in self._said:
            self._said[words] = replace(
                self,
                as_written=self,
                modes=spoken(self.modes, words),
                procedures=spoken(self.procedures, words),
                pointers=spoken(self.pointers, words),
                inspection=spoken(self.inspection, words),
                set_ups=spoken(self.set_ups, words),
                separation=spoken(self.separation, words),
                repair=spoken(self.repair, words),
            )
        return self._said[words]

    def rule_of(self, fault: Fault) -> FaultMode | SetUp:
        """Return the rule that a fault or a set-up mistake is one of."""
        return self.set_ups[fault.set_up] if fault.set_up else self.modes[fault.mode]


def load_rulebook(rules: Shelf | Path) -> Rulebook:
    """Read the rules on a shelf, or those of one folder, in the words of the usual region.

    What other rules say of one that is switched off is left out with it: signs of a mode or a test,
    a test to repeat.

    Raises
    ------
    BadInput
        With the problems of the first kind of rule that has any, or else with everything that
        rules name and no rule has.
    """
    shelf = open_shelf([rules]) if isinstance(rules, Path) else rules
    trees = trees_of(shelf)
    sign_files = load_rules(shelf.of("signs"), SignFile, trees)
    modes = load_rules(shelf.of("faults"), FaultMode, trees)
    procedures = load_rules(shelf.of("tests"), Procedure, trees)
    set_ups = load_rules(shelf.of("set-ups"), SetUp, trees)
    if shelf.off:
        _refuse_unknown_signs(shelf, {"signs": sign_files, "faults": modes})
        sign_files = {i: _without(f, f"signs/{i}", shelf) for i, f in sign_files.items()}
        modes = {i: _mode_without(m, shelf) for i, m in modes.items()}
        set_ups = {
            i: s.model_copy(update={"tests": _left(s.tests, "tests", shelf)})
            for i, s in set_ups.items()
        }
    bearers: dict[str, SignBearer] = {f"signs/{i}": file for i, file in sign_files.items()}
    bearers |= {f"faults/{id_}": mode for id_, mode in modes.items()}
    singles = {name: trees.get(file.digest) for name, file in shelf.files.items()}
    inspection = load_rule(shelf.path("inspect"), Inspection, singles.get("inspect"))
    separation = load_rule(shelf.path("part"), Separation, singles.get("part"))
    if shelf.off:
        left = _left(separation.tests, "tests", shelf)
        separation = separation.model_copy(update={"tests": left})
    refuse_clashes(shelf, clashes(modes, procedures, bearers, set_ups, separation))
    written = Rulebook(
        modes,
        procedures,
        tuple(pointer for bearer in bearers.values() for pointer in bearer.pointers),
        inspection,
        load_rule(shelf.path("tolerances"), Tolerances, singles.get("tolerances")),
        set_ups,
        separation,
        load_rule(shelf.path("repair"), Repair, singles.get("repair")),
        load_rule(shelf.path("walk"), Walking, singles.get("walk")),
        bearers,
        shelf,
    )
    return written.in_words(region().words)


def shipped_rulebook() -> Rulebook:
    """Return the rules that come with the program."""
    return rulebook_of(shipped_shelf())


@cache
def rulebook_of(shelf: Shelf) -> Rulebook:
    """Return the rules on a shelf, read once for all shelves of the same content."""
    return load_rulebook(shelf)


def _left(ids: Iterable[str], folder: str, shelf: Shelf) -> tuple[str, ...]:
    """Return the ids of those that are not switched off; all of them, if all are."""
    names = tuple(ids)
    return tuple(id_ for id_ in names if f"{folder}/{id_}" not in shelf.off) or names


def _without(bearer: Bearer, name: str, shelf: Shelf) -> Bearer:
    """Return a file without its signs that are switched off, or whose mode or test is."""

    def names(rule: SignRule) -> set[str]:
        tests = [test for pattern in rule.when for test in pattern.where.get("test", ())]
        mode = rule.points_to.mode or bearer.id
        return {f"{name}/{rule.id}", f"faults/{mode}", *(f"tests/{test}" for test in tests)}

    kept = tuple(rule for rule in bearer.signs if not names(rule) & set(shelf.off))
    if kept == bearer.signs:
        return bearer
    return bearer.model_copy(update={"signs": kept, "examples": ()})


def _mode_without(mode: FaultMode, shelf: Shelf) -> FaultMode:
    return _without(mode, f"faults/{mode.id}", shelf).model_copy(
        update={
            "retest": _left(mode.retest, "tests", shelf),
            "reads_like": tuple(m for m in mode.reads_like if f"faults/{m}" not in shelf.off),
        }
    )


def _refuse_unknown_signs(shelf: Shelf, by_folder: Mapping[str, Mapping[str, SignBearer]]) -> None:
    known = [
        f"{folder}/{id_}/{rule.id}"
        for folder, files in by_folder.items()
        for id_, file in files.items()
        for rule in file.signs
    ]
    problems = [
        Problem(
            where,
            "unknown-rule",
            f"no sign {shown(name)} to switch off",
            "a sign of that file",
            nearest(name, known),
        )
        for name, where in shelf.off.items()
        if name.count("/") > 1 and name not in known
    ]
    if problems:
        raise BadInput(problems)
