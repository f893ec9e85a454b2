"""How long ``cover`` takes, and how many diagnoses a study makes a second and core.

    python tests/benchmarks/cover_time.py [--outlets 6 12 20 40] [--studies 3-8 12] [--cases 100]

Time of one core [s], without imports, best of three; a chain of switched outlets, the terminated
test at all of them. The goal for 20 outlets is 2 s with everything.
"""

import os

for library in ("OMP", "OPENBLAS", "MKL"):
    os.environ[f"{library}_NUM_THREADS"] = "1"

import argparse
import subprocess
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT)]

from faultfinder.coverage.by_model import by_model
from faultfinder.coverage.lineup import line_up
from faultfinder.coverage.plan import plan_of
from faultfinder.coverage.study.family import load_family
from faultfinder.coverage.study.marking import marks_of
from faultfinder.readings.file import load_circuit
from faultfinder.readings.reading import Instrument
from faultfinder.readings.setting import USUAL_TERMINATORS
from faultfinder.rulebook.rulebook import shipped_rulebook

RULEBOOK = shipped_rulebook()


def chain(outlets: int) -> str:
    """Return a circuit file of outlets in a row."""
    names = ["DB", *(f"S{number}" for number in range(1, outlets + 1))]
    points = "\n".join(f"  {name}: {{kind: outlet, switched: true}}" for name in names[1:])
    runs = "\n".join(f"  - {{from: {a}, to: {b}, length: 6}}" for a, b in pairwise(names))
    return (
        "board: DB\ndevice: {curve: C, rating: 20}\ncable: {active: 2.5, earth: 2.5}\n"
        f"points:\n{points}\nruns:\n{runs}\n"
    )


def seconds_of(path: Path) -> float:
    """Return the time of one core that a coverage takes, from the circuit on."""
    circuit = load_circuit(path)
    plan = plan_of(("terminated",), circuit, RULEBOOK.procedures)
    began = time.process_time()
    lineup = line_up(circuit, RULEBOOK, plan.spots, USUAL_TERMINATORS, Instrument())
    by_model(lineup, plan)
    return time.process_time() - began


def main() -> None:
    """Measure and print."""
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("--outlets", type=int, nargs="*", default=[6, 12, 20, 40])
    p.add_argument("--studies", type=outlets_of, nargs="*", default=[(3, 8), (12, 12), (20, 20)])
    p.add_argument("--cases", type=int, default=60)
    given = p.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "chain.yaml"
        for outlets in given.outlets:
            path.write_text(chain(outlets), "utf-8")
            inside = min(seconds_of(path) for _ in range(3))
            began = time.perf_counter()
            command = [sys.executable, "-m", "faultfinder", "cover", str(path)]
            subprocess.run(command, check=True, cwd=ROOT, stdout=subprocess.DEVNULL)
            whole = time.perf_counter() - began
            print(f"{outlets:3} outlets: {inside:5.2f} s of a core; the command {whole:5.2f} s")
        for least, most in given.studies:
            study(Path(folder) / "family.yaml", least, most, given.cases)


def study(path: Path, least: int, most: int, cases: int) -> None:
    """Measure and print what a study of circuits of so many outlets takes a case."""
    path.write_text(f"outlets: [{least}, {most}]\n", "utf-8")
    family = load_family(path, RULEBOOK.procedures)
    began = time.process_time()
    marks = list(marks_of(family, RULEBOOK, 1, range(cases)))
    whole = (time.process_time() - began) / cases
    each = sorted(one.seconds for one in marks)
    mean = sum(each) / cases
    print(
        f"study, {cases} cases of {least} to {most} outlets: {mean:.3f} s a diagnosis (median "
        f"{each[cases // 2]:.3f}, nine in ten {each[9 * cases // 10]:.3f}, most {each[-1]:.2f}), "
        f"{whole:.3f} s with making the case: {1 / whole:.1f} a second and core"
    )


def outlets_of(text: str) -> tuple[int, int]:
    """Return least and most outlets of a study from ``3-8``."""
    least, _, most = text.partition("-")
    return int(least), int(most or least)


if __name__ == "__main__":
    main()
