"""Two faults at once, simulated, diagnosed and marked; prints a table.

    python tests/study/doubles.py --cases 60 --seed 1

Both faults are at different places, and each shows beside the other: with both, some reading is
three standard deviations or more from what it is with either alone. Which hides behind which is not
a matter of luck then. Columns: ``group`` share of cases with both faults, as one suspect, in the
leading group, ``five`` among the first five suspects, ``size`` the mean size of the leading group.
"""

import argparse
import random
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import baselines
import scoring
from drawing import Fault
from options import parser_of, settings_of
from resistances import readings
from simulator import (
    REDRAWS,
    Case,
    Settings,
    as_built,
    differs,
    draw_fault,
    observed,
    random_circuit,
    write,
)

FIRST = 5


@dataclass(frozen=True, slots=True)
class Double:
    """A case, of which ``case.fault`` is one fault and ``second`` the other."""

    case: Case
    second: Fault

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Both faults."""
        return (self.second,) if self.case.fault is None else (self.case.fault, self.second)


def doubles(number: int, seed: int, settings: Settings) -> Iterator[Double]:
    """Yield cases of two faults that both show."""
    for i in range(number):
        yield make_double(f"double-{i:05d}", random.Random(f"{seed}/double/{i}"), settings)


def make_double(name: str, rng: random.Random, settings: Settings) -> Double:
    """Return one case; faults that hide each other are drawn again, both, circuit kept."""
    drawn = random_circuit(rng, settings)
    true = as_built(drawn, rng, settings)
    keys = drawn.keys()
    for redrawn in range(REDRAWS):
        one, other = draw_fault(drawn, rng, settings), draw_fault(drawn, rng, settings)
        if one.at == other.at:
            continue
        both = readings(true, one, keys, second=other)
        alone = (readings(true, None, keys), readings(true, one, keys), readings(true, other, keys))
        if all(differs(both, less, settings).any() for less in alone):
            values = observed(both, rng, settings)
            case = Case(name, drawn, one, keys, values, redrawn, settings.instrument)
            return Double(case, other)
    raise ValueError(f"{name}: no two faults show in {REDRAWS} draws")


@dataclass(frozen=True, slots=True)
class Mark:
    """How one diagnosis of two faults did."""

    in_group: bool
    in_five: bool
    one_named: bool
    group_size: int
    verdict: str
    leader: str


def mark(diagnosis: scoring.Diagnosis, truth: Sequence[Fault]) -> Mark:
    """Mark a diagnosis; both faults have to be named, by one suspect."""
    suspects = scoring.ranked(diagnosis)
    wanted = frozenset(fault.label for fault in truth)
    group = [suspect.labels for suspect in suspects if suspect.leads]
    leader = " and ".join(" ".join(map(str, label)) for label in sorted(group[0])) or "sound"
    return Mark(
        wanted in group,
        wanted in [suspect.labels for suspect in suspects[:FIRST]],
        any(labels & wanted for labels in group),
        len(group),
        diagnosis["verdict"],
        f"{leader} (p {suspects[0].probability:.2f})",
    )


def kind(double: Double) -> str:
    """Return the modes of a case's two faults."""
    return " + ".join(sorted(fault.mode for fault in double.faults))


def baseline_lines(made: Sequence[Double], marks: Sequence[Mark], settings: Settings) -> list[str]:
    """Return how often the baselines name both faults, a line each.

    ``random`` names as many pairs as the leading group has suspects. The checklist names one fault
    and so never both; how often that one is right is told beside.
    """
    pairs = [len(settings.faults_of(d.case.circuit)) for d in made]
    chance = [m.group_size / (n * (n - 1) / 2) for m, n in zip(marks, pairs, strict=True)]
    named = [baselines.checklist(d.case, settings) for d in made]
    one = [
        n is not None and n.label in {f.label for f in d.faults}
        for n, d in zip(named, made, strict=True)
    ]
    return [
        f"  {'always sound':14} {0:6.1%}",
        f"  {'random':14} {_mean(chance):6.1%}",
        f"  {'checklist':14} {0:6.1%}   one of the two named: {_mean(one):.1%}",
    ]


def _mean(values: Sequence[float]) -> float:
    return sum(values) / max(1, len(values))


def parser() -> argparse.ArgumentParser:
    """Return the command line."""
    p = parser_of(__doc__, 60)
    p.add_argument("--in-process", action="store_true", help="no new interpreter")
    p.add_argument("--keep", type=Path, metavar="DIR", help="keep the case files here")
    return p


def main() -> None:
    """Simulate, diagnose, mark, print."""
    given = parser().parse_args()
    settings = settings_of(given)
    made = list(doubles(given.cases, given.seed, settings))
    run = scoring.in_process if given.in_process else scoring.in_subprocess
    with tempfile.TemporaryDirectory() as temporary:
        folder = given.keep or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        paths = [write(double.case, folder) for double in made]
        began = time.perf_counter()
        said = scoring.diagnose(paths, run)
        spent = time.perf_counter() - began
    marks = [mark(one, double.faults) for one, double in zip(said, made, strict=True)]
    drawn = f"{given.draw}, {given.errors} errors, seed {given.seed}"
    redrawn = sum(d.case.redrawn for d in made)
    print(f"{len(made)} cases of two faults, {drawn}; {redrawn} not both showing drawn again")
    print(f"both in the leading group    {_mean([m.in_group for m in marks]):6.1%}")
    print(f"both among the first {FIRST}       {_mean([m.in_five for m in marks]):6.1%}")
    print(f"one of them at least named   {_mean([m.one_named for m in marks]):6.1%}")
    print(f"mean size of leading group   {_mean([m.group_size for m in marks]):6.2f}")
    print(f"verdict `fault`              {_mean([m.verdict == 'fault' for m in marks]):6.1%}")
    print(f"{1000 * spent / max(1, len(made)):.0f} ms a case")
    print("both named by the baselines:", *baseline_lines(made, marks, settings), sep="\n")
    if given.verbose:
        for double, one in zip(made, marks, strict=True):
            if not one.in_group:
                truth = " and ".join(map(str, double.faults))
                print(f"{double.case.name}: {truth}; {one.verdict}, led by {one.leader}")


if __name__ == "__main__":
    main()
