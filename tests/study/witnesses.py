"""The two witnesses apart and together: signs alone, the model alone, both; prints a table.

    python tests/study/witnesses.py --cases 200 --outlets 3 8 --seed 1

Single faults by the study's own simulator, all outlets read by the test with terminators. ``named``
is the share of cases in which the right mode is among the modes named; ``modes`` how many modes are
named on average; ``leads`` the share in which the right mode is in the leading group, and for signs
alone among the modes that most signs point to. Signs alone never hear of the model: they see grades
of readings against the sound circuit.
"""

import argparse
import tempfile
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from drawing import MODES
from simulator import Case, Settings, cases, write

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.pointing import signs_met
from faultfinder.diagnosis.result import Diagnosis
from faultfinder.readings.file import load_case
from faultfinder.rulebook.rulebook import shipped_rulebook

WITNESSES = ("signs alone", "model alone", "both")
RULEBOOK = shipped_rulebook()
WITHOUT_SIGNS = replace(RULEBOOK, pointers=(), as_written=None)


@dataclass(frozen=True, slots=True)
class Said:
    """The modes a witness names, and those it puts first."""

    named: frozenset[str]
    first: frozenset[str]


def testify(path: Path) -> dict[str, Said]:
    """Return what each witness says of a case file."""
    case = load_case(path, RULEBOOK.procedures)
    model = diagnose(case, WITHOUT_SIGNS)
    pointed = signs_met(case.circuit, RULEBOOK, model.readings)
    votes = Counter(fault.mode for fault, told in pointed.items() for _ in told)
    most = max(votes.values(), default=0)
    signs = Said(frozenset(votes), frozenset(m for m, n in votes.items() if n == most))
    both = diagnose(case, RULEBOOK)
    return dict(zip(WITNESSES, (signs, _suspected(model), _suspected(both)), strict=True))


def _suspected(diagnosis: Diagnosis) -> Said:
    """Return the modes of single faults among the suspects, and those of the leading group."""
    singles = [s for s in diagnosis.suspects if len(s.faults) == 1]
    named = frozenset(s.faults[0].mode for s in singles)
    return Said(named, frozenset(s.faults[0].mode for s in singles if s.group == 1))


def table(made: Sequence[Case], said: Sequence[dict[str, Said]]) -> str:
    """Return the shares by witness, and for signs alone by mode."""
    lines = [f"{'witness':<12}  {'named':>7}  {'modes':>5}  {'leads':>7}"]
    modes = [case.fault.mode for case in made if case.fault]
    for witness in WITNESSES:
        told = [one[witness] for one in said]
        named = sum(mode in one.named for mode, one in zip(modes, told, strict=True))
        leads = sum(mode in one.first for mode, one in zip(modes, told, strict=True))
        size = sum(len(one.named) for one in told) / len(told)
        share, first = 100 * named / len(told), 100 * leads / len(told)
        lines.append(f"{witness:<12}  {share:>5.1f} %  {size:>5.1f}  {first:>5.1f} %")
    lines += ["", "named by signs alone, by mode:"]
    hits: dict[str, list[bool]] = defaultdict(list)
    for mode, one in zip(modes, said, strict=True):
        hits[mode].append(mode in one["signs alone"].named)
    lines += [f"  {m:<18} {sum(hits[m])} of {len(hits[m])}" for m in MODES if hits[m]]
    return "\n".join(lines)


def main() -> None:
    """Make the cases, ask the witnesses, print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--outlets", type=int, nargs=2, default=(3, 8), metavar=("FEWEST", "MOST"))
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    settings = Settings(outlets=tuple(asked.outlets))
    made = list(cases(asked.cases, asked.seed, settings, faulty=True))
    with tempfile.TemporaryDirectory() as folder:
        said = [testify(write(case, Path(folder))) for case in made]
    print(table(made, said))


if __name__ == "__main__":
    main()
