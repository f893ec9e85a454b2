"""Where the time of ``faultfinder diagnose`` goes; run by hand.

    python tests/benchmarks/diagnose_time.py [--cold [CASE]] [--outlets N ...] [--profile]

Two tables. Cold: the best of several cold starts, the share of it that is imports, and ratios
against the start of a bare interpreter on the same machine in the same run. Warm, after imports
and a first diagnosis: processor time on one core of a row of outlets, each switched in the active,
read at every outlet with terminators at the board, switch on and off, with errors of scatter; best
of several. ``first`` is of a circuit that was not met before, ``again`` of one whose predictions
are kept, ``weighing`` of that again as far as the suspects' probabilities. Ratios there are against
one exact table of the sound circuit, taken between the others, so that a busy machine counts for
little; they compare runs of one version only, since a quicker table makes them larger.
"""

import os

for library in ("OMP", "OPENBLAS", "MKL"):
    os.environ[f"{library}_NUM_THREADS"] = "1"

import argparse
import cProfile
import gc
import pstats
import subprocess
import sys
import time
from itertools import pairwise
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from modelled import RULEBOOK, TERMINATORS, UNKNOWN, case, readings

from faultfinder.diagnosis.catalogue import no_edit
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.prepared import prepared
from faultfinder.diagnosis.weighing import weigh_case
from faultfinder.evidence.bench import Bench
from faultfinder.readings.reading import Reading
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.source.quantity import Amount
from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run
from faultfinder.wiring.fault import Fault

TRIES = 7
IMPORTS = (
    "import faultfinder.cli.main, faultfinder.diagnosis.diagnose, faultfinder.readings.file, "
    "faultfinder.reporting.as_json, faultfinder.reporting.as_text, faultfinder.engine.engine, "
    "durable.engine"
)


def row(outlets):
    """Return outlets in a row: runs of 5 m after a first of 14 m, 2.5 mm²; lengths invented."""
    rules = region("au-nz")
    cable = Cable(2.5, 2.5, 2.5, rules.conductor_table())
    places = ["DB", *(f"S{number}" for number in range(1, outlets + 1))]
    runs = tuple(
        Run(near, far, 14.0 if near == "DB" else 5.0, cable) for near, far in pairwise(places)
    )
    points = tuple(Point(name, "outlet", ("A",)) for name in places[1:])
    return Circuit("DB", Device("C", 20.0), points, runs, rules)


def truths(circuit):
    """Return the faults that are timed, in the middle of the circuit, by what they are called."""
    middle = circuit.points[len(circuit.points) // 2].name
    run = circuit.runs[len(circuit.runs) // 2].name
    return {
        "sound": (),
        "open E": (Fault("open", ("E",), run),),
        "transposed": (Fault("transposed", ("A", "N"), middle),),
        "joint 2.5 ohm": (Fault("high-resistance", ("N",), run, r_ohm=2.5),),
        "bridge 8 ohm": (Fault("bridged", ("A", "E"), middle, r_ohm=8.0),),
    }


def with_scatter(plain):
    """Return a case with readings off by what the meter may be off by, always the same."""
    rng = np.random.default_rng(7)
    accuracy = UNKNOWN.resistance

    def off(reading):
        value = reading.amount.value
        if reading.amount.bound != "=":
            return reading
        shown = value + (accuracy.share * value + accuracy.fixed) * rng.normal() / 2
        return Reading(reading.spot, Amount(max(0.0, round(shown, 2)), "="), reading.resolution)

    return [off(reading) for reading in plain]


def spent_s(work):
    """Return the processor time of a piece of work. [s]"""
    start = time.process_time()
    work()
    return time.process_time() - start


def reference(circuit):
    """Return the work all else is measured by: one exact table of the sound circuit."""
    spots = spots_of(RULEBOOK.procedures["terminated"], circuit)

    def work():
        Bench(circuit, RULEBOOK.procedures, TERMINATORS, spots).read([no_edit])

    return work


def warm(outlets, tries):
    """Print a line for each truth on a row of outlets."""
    circuit = row(outlets)
    table = reference(circuit)
    for name, faults in truths(circuit).items():
        taken = with_scatter(readings(circuit, faults))
        asked = case(circuit, taken=taken)
        found = diagnose(asked, RULEBOOK)
        first, again, weighing, tables = [], [], [], []
        for _ in range(tries):
            tables += [spent_s(table) for _ in range(3)]
            prepared.cache_clear()
            first.append(spent_s(lambda asked=asked: diagnose(asked, RULEBOOK)))
            again.append(spent_s(lambda asked=asked: diagnose(asked, RULEBOOK)))
            weighing.append(spent_s(lambda asked=asked: weigh_case(asked, RULEBOOK, telling=False)))
        led = found.suspects[0].title
        best = [min(each) for each in (first, again, weighing)]
        figures = "".join(f"{1e3 * each:8.1f}{each / min(tables):6.1f}" for each in best)
        print(f"{outlets:7}  {name:14}{figures}  {led}")


def profile(outlets):
    """Print where the time goes, by function."""
    circuit = row(outlets)
    for name, faults in truths(circuit).items():
        asked = case(circuit, taken=with_scatter(readings(circuit, faults)))
        diagnose(asked, RULEBOOK)
        with cProfile.Profile() as watched:
            diagnose(asked, RULEBOOK)
        print(f"{outlets} outlets, {name}")
        pstats.Stats(watched).sort_stats("cumulative").print_stats(45)


def best_s(*arguments):
    """Return the shortest of several runs of the interpreter with these arguments. [s]"""
    times = []
    for _ in range(TRIES):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], cwd=ROOT, capture_output=True, check=False)
        times.append(time.perf_counter() - start)
    return min(times)


def cold(path):
    """Print what a cold start on a case file costs."""
    bare = best_s("-c", "pass")
    imports = best_s("-c", IMPORTS)
    whole = best_s("-m", "faultfinder", "diagnose", path)
    print(f"bare interpreter     {bare:7.3f} s     1.0")
    print(f"with the imports     {imports:7.3f} s  {imports / bare:6.1f} times that")
    print(f"diagnose {path}  {whole:7.3f} s  {whole / bare:6.1f} times that")
    print(f"imports are {(imports - bare) / whole:.0%} of it")


def main():
    """Measure and print."""
    p = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    p.add_argument("--cold", nargs="?", const="cases/demo.yaml", metavar="CASE")
    p.add_argument("--outlets", type=int, nargs="*", default=(6, 20, 60))
    p.add_argument("--tries", type=int, default=3)
    p.add_argument("--profile", action="store_true")
    given = p.parse_args()
    if given.cold:
        cold(given.cold)
        return
    gc.freeze()  # as the command does after its imports
    if not given.profile:
        heads = "".join(f"{head:>8}{'ratio':>6}" for head in ("first", "again", "weighing"))
        print(f"{'outlets':7}  {'truth':14}{heads}  led by (times in ms)")
    for outlets in given.outlets:
        if given.profile:
            profile(outlets)
        else:
            warm(outlets, given.tries)


if __name__ == "__main__":
    main()
