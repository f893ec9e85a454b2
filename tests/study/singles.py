"""Single faults and sound circuits, simulated, diagnosed and marked; prints a table.

    python tests/study/singles.py --cases 300 --sound 300 --seed 1

Columns: ``hit`` share of faults in the leading group; ``size`` mean size of that group; ``least``
the smallest mean size possible, by the faults that read exactly alike. ``faultfinder`` is the
package, through its command; ``yardstick`` the brute force of yardstick.py. Below the table, what
the package's leading groups hold beside one suspect each.
"""

import argparse
import contextlib
import tempfile
import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import baselines
import scoring
import yardstick
from drawing import MODES
from identical import identical_faults
from options import parser_of, settings_of
from scoring import Diagnosis, Label, Mark
from simulator import Case, Settings, cases, write

WIDTH = 80


@dataclass(frozen=True, slots=True)
class Column:
    """One diagnoser's marks, faults first and then sound circuits, and its time a case."""

    name: str
    faulty: list[Mark]
    sound: list[Mark]
    seconds: float


def by_command(
    made: Sequence[Case], paths: Sequence[Path], *, in_process: bool
) -> tuple[list[Mark], list[Diagnosis]]:
    """Mark what ``faultfinder diagnose`` says of case files; return that too."""
    run = scoring.in_process if in_process else scoring.in_subprocess
    said = scoring.diagnose(paths, run)
    return [scoring.mark(one, case.fault) for one, case in zip(said, made, strict=True)], said


def by_yardstick(made: Iterable[Case], settings: Settings, within_sd: float) -> list[Mark]:
    """Mark what the yardstick says of cases."""
    marks = []
    for case in made:
        faults = settings.faults_of(case.circuit)
        suspects = yardstick.rank(case.circuit, case.keys, case.values, faults)
        group = yardstick.leading_group(suspects, within_sd)
        labels = {s.fault.label if s.fault else None for s in group}
        truth = case.fault.label if case.fault else None
        verdict = "sound" if None in labels else "fault"
        leader = f"{suspects[0].fault or 'sound'} (p {suspects[0].probability:.2f})"
        marks.append(Mark(truth in labels, len(labels), verdict, leader))
    return marks


def alike(made: Iterable[Case], settings: Settings) -> list[set[Label]]:
    """Return for each case the faults that read exactly as its own does, that one among them."""
    found = []
    for case in made:
        if case.fault is not None:
            faults = settings.faults_of(case.circuit)
            same = identical_faults(case.circuit, case.fault, case.keys, faults)
            found.append({fault.label for fault in same})
    return found


def made_of(faulty: Sequence[Case], said: Sequence[Diagnosis], same: Sequence[set[Label]]) -> str:
    """Return what leading groups hold beside the truth, or beside the leader where it is missed."""
    counts = dict.fromkeys(("read exactly alike", "mistakes in the test", "others"), 0)
    for case, diagnosis, labels in zip(faulty, said, same, strict=True):
        group = [one for one in scoring.ranked(diagnosis) if one.leads]
        truth = {case.fault.label} if case.fault else set()
        rest = [one for one in group if one.labels != truth]
        for one in rest[len(rest) == len(group) :]:
            is_alike = len(one.labels) == 1 and one.labels <= labels
            kind = "mistakes in the test" if one.is_set_up else "others"
            counts["read exactly alike" if is_alike else kind] += 1
    shares = ", ".join(f"{n / len(faulty):.3f} {kind}" for kind, n in counts.items())
    return f"groups hold one suspect, and in the mean\n  {shares}"


def table(faulty: Sequence[Case], least: Sequence[int], columns: Sequence[Column]) -> str:
    """Return the figures by mode and over all."""
    top = f"{'':18}{'':>6}{'':>8}" + "".join(f"{column.name:>22}" for column in columns)
    head = f"{'mode':18}{'cases':>6}{'least':>8}" + f"{'hit':>14}{'size':>8}" * len(columns)
    lines = [top.rstrip(), head, "-" * WIDTH]
    for mode in (*MODES, "all"):
        rows = [i for i, c in enumerate(faulty) if c.fault and mode in (c.fault.mode, "all")]
        if not rows:
            continue
        if mode == "all":
            lines.append("-" * WIDTH)
        line = f"{mode:18}{len(rows):>6}" + (f"{_mean(least, rows):8.2f}" if least else f"{'':8}")
        for column in columns:
            hits = _mean([mark.hit for mark in column.faulty], rows)
            size = _mean([mark.group_size for mark in column.faulty], rows)
            line += f"{hits:14.1%}{size:8.2f}"
        lines.append(line)
    for column in columns:
        alarms = sum(mark.verdict != "sound" for mark in column.sound)
        lines.append(
            f"{column.name}: {alarms} false alarms on {len(column.sound)} sound circuits, "
            f"{1000 * column.seconds:.0f} ms a case"
        )
    return "\n".join(lines)


def _mean(values: Sequence[float], rows: Sequence[int]) -> float:
    return sum(values[i] for i in rows) / len(rows)


def misses(faulty: Sequence[Case], sound: Sequence[Case], column: Column) -> Iterator[str]:
    """Yield a line for each fault not in the leading group and each false alarm."""
    for case, mark in zip(faulty, column.faulty, strict=True):
        if not mark.hit:
            yield f"{column.name} {case.name}: {case.fault}; led by {mark.leader}"
    for case, mark in zip(sound, column.sound, strict=True):
        if mark.verdict != "sound":
            yield f"{column.name} {case.name}: sound; {mark.verdict}, led by {mark.leader}"


def timed(name: str, marks: list[Mark], began: float, split: int) -> Column:
    """Return a column of marks made since a moment, the faulty cases before ``split``."""
    spent = (time.perf_counter() - began) / max(1, len(marks))
    return Column(name, marks[:split], marks[split:], spent)


def baseline_lines(made: Sequence[Case], marks: Sequence[Mark], settings: Settings) -> list[str]:
    """Return the share of hits of the three baselines on the same cases, a line each."""
    scores = [
        baselines.hits(case, settings, mark.group_size)
        for case, mark in zip(made, marks, strict=True)
    ]
    means = [sum(column) / max(1, len(scores)) for column in zip(*scores, strict=True)]
    return [f"  {name:14} {mean:6.1%}" for name, mean in zip(baselines.NAMES, means, strict=False)]


def parser() -> argparse.ArgumentParser:
    """Return the command line."""
    p = parser_of(__doc__, 300)
    p.add_argument("--sound", type=int, default=300, help="circuits without a fault")
    p.add_argument("--yardstick", action="store_true", help="mark the yardstick too")
    p.add_argument("--yardstick-only", action="store_true", help="leave the package out")
    p.add_argument("--within-sd", type=float, default=2.0, help="the yardstick's groups")
    p.add_argument("--no-least", action="store_true", help="leave out the smallest group (slow)")
    p.add_argument("--in-process", action="store_true", help="no new interpreter")
    p.add_argument("--keep", type=Path, metavar="DIR", help="keep the case files here")
    return p


def main() -> None:
    """Simulate, diagnose, mark, print."""
    given = parser().parse_args()
    settings = settings_of(given)
    faulty = list(cases(given.cases, given.seed, settings, faulty=True))
    sound = list(cases(given.sound, given.seed, settings, faulty=False))
    made = [*faulty, *sound]
    columns: list[Column] = []
    said: list[Diagnosis] = []
    with contextlib.ExitStack() as stack:
        folder = given.keep or Path(stack.enter_context(tempfile.TemporaryDirectory()))
        folder.mkdir(parents=True, exist_ok=True)
        paths = [write(case, folder) for case in made]
        if given.keep:
            truths = (f"{case.name}: {case.fault or 'sound'}" for case in made)
            (folder / "truth.txt").write_text("\n".join(truths) + "\n", encoding="utf-8")
        if not given.yardstick_only:
            began = time.perf_counter()
            marks, said = by_command(made, paths, in_process=given.in_process)
            columns.append(timed("faultfinder", marks, began, len(faulty)))
    if given.yardstick or given.yardstick_only:
        began = time.perf_counter()
        marks = by_yardstick(made, settings, given.within_sd)
        columns.append(timed("yardstick", marks, began, len(faulty)))
    same = [] if given.no_least else alike(faulty, settings)
    least = [len(labels) for labels in same]
    redrawn = sum(case.redrawn for case in faulty)
    print(f"{given.draw}, {given.errors} errors, {given.read} read, seed {given.seed}; ", end="")
    print(f"{redrawn} undetectable faults drawn again")
    print(table(faulty, least, columns))
    if said and same:
        print(made_of(faulty, said[: len(faulty)], same))
    for column in columns:
        print(f"hits of the baselines beside {column.name}, on the faults:")
        print(*baseline_lines(faulty, column.faulty, settings), sep="\n")
    if given.verbose:
        for column in columns:
            print(*misses(faulty, sound, column), sep="\n")


if __name__ == "__main__":
    main()
