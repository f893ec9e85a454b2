"""How fast readings of many faults are predicted: the screen, the exact pass, ngspice; run by hand.

    python tests/benchmarks/network_speed.py [--quick]

All of one run on one core, in seconds of processor time, so that other work on the machine counts
for little. The circuit is outlets in a row, each switched in the active, read at every outlet with
terminators at the board, switch on and off. What is predicted is every way of every single fault
of the catalogue, at 32 ohms where it has any.
"""

import os

for library in ("OMP", "OPENBLAS", "MKL"):
    os.environ[f"{library}_NUM_THREADS"] = "1"

import argparse
import math
import resource
import subprocess
import sys
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from network.spice import NGSPICE, Deck

from faultfinder.diagnosis import curves as curving
from faultfinder.diagnosis.catalogue import catalogue
from faultfinder.network.branch import edited
from faultfinder.network.lowrank import screened
from faultfinder.network.pairs import PairScreen
from faultfinder.network.solve import resistances
from faultfinder.network.wiring import network_of
from faultfinder.readings.reading import Terminators
from faultfinder.rulebook.arrangement import probe_for, spots_of
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.standards.regions import region
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run

RULEBOOK = shipped_rulebook()
GRID = 32
AT_ONCE = 2000  # edits, so that their readings take little memory
PAIRS_AT_ONCE = 50_000
ENDS_OHM = (0.0, curving.MIDDLE_OHM, math.inf)  # what the screen asks for


@dataclass(frozen=True)
class Job:
    """A row of outlets, with every way of every fault of the catalogue."""

    outlets: int

    @cached_property
    def circuit(self):
        """Runs of 5 m after a first of 14 m, 2.5 mm²; lengths are invented."""
        rules = region("au-nz")
        cable = Cable(2.5, 2.5, 2.5, rules.conductor_table())
        places = ["DB", *(f"S{number}" for number in range(1, self.outlets + 1))]
        runs = tuple(
            Run(near, far, 14.0 if near == "DB" else 5.0, cable) for near, far in pairwise(places)
        )
        points = tuple(Point(name, "outlet", ("A",)) for name in places[1:])
        return Circuit("DB", Device("C", 20.0), points, runs, rules)

    @cached_property
    def network(self):
        """As drawn."""
        return network_of(self.circuit)

    @cached_property
    def probes(self):
        """Of all dead readings with terminators."""
        procedure = RULEBOOK.procedures["terminated"]
        return [
            probe_for(procedure, self.circuit, Terminators(10.0, 5.0), spot)
            for spot in spots_of(procedure, self.circuit)
        ]

    @cached_property
    def hypotheses(self):
        """The catalogue, without the sound circuit."""
        return catalogue(self.circuit, tuple(RULEBOOK.modes.values()))[1:]

    @cached_property
    def families(self):
        """Ways with ohms, and the range of those."""
        return [(way, h.ohms) for h in self.hypotheses if h.ohms for way in h.ways]

    @cached_property
    def others(self):
        """Ways without."""
        return [way for h in self.hypotheses if not h.ohms for way in h.ways]

    @property
    def nodes(self):
        """Number of nodes, what is fitted included."""
        ends = {n for b in self.network.values() for n in (b.start, b.end)}
        return len(ends | {n for b in self.probes[0].fitted for n in (b.start, b.end)})

    def screen_all(self):
        """Predict everything by the screen; return how many readings that was."""
        count = 0
        for i in range(0, len(self.others), AT_ONCE):
            edits = [way.edit()(self.network) for way in self.others[i : i + AT_ONCE]]
            count += screened(self.network, self.probes, edits).read.size
        step = AT_ONCE // len(ENDS_OHM)
        for i in range(0, len(self.families), step):
            some = self.families[i : i + step]
            edits = [way.edit(r)(self.network) for way, _ in some for r in ENDS_OHM]
            read = screened(self.network, self.probes, edits).read
            ends = read.reshape(len(some), len(ENDS_OHM), -1)
            few = max(1, 100_000 // (GRID * len(self.probes)))
            for j in range(0, len(some), few):
                ohms = np.array([np.geomspace(*between, GRID) for _, between in some[j : j + few]])
                count += curving.Curves(ends[j : j + few]).at(ohms).size
        return count

    def exact_all(self):
        """Predict everything by the exact pass; return how many hypotheses that was."""
        made = [way.edit() for way in self.others]
        made += [way.edit(r) for way, ends in self.families for r in np.geomspace(*ends, GRID)]
        for i in range(0, len(made), AT_ONCE):
            edits = [make(self.network) for make in made[i : i + AT_ONCE]]
            resistances(self.network, self.probes, edits)
        return len(made)

    def pairs_all(self):
        """Predict all pairs of faults, at 1 ohm where they have any; return how many pairs."""
        makes = [hypothesis.ways[0].edit(1.0) for hypothesis in self.hypotheses]
        edits = [make(self.network) for make in makes]

        def composed(i, j):
            return {**edits[i], **makes[j](edited(self.network, edits[i]))}

        screen = PairScreen(self.network, self.probes, edits, composed)
        pairs = np.stack(np.triu_indices(len(edits), 1), axis=1)
        for i in range(0, len(pairs), PAIRS_AT_ONCE):
            screen.read(pairs[i : i + PAIRS_AT_ONCE])
        return len(pairs)

    def decks(self, hypotheses):
        """Return the netlists of some hypotheses, all readings of one in one file."""
        for way in self.others[:: max(1, len(self.others) // hypotheses)][:hypotheses]:
            deck = Deck()
            network = edited(self.network, way.edit()(self.network))
            for probe in self.probes:
                deck.add_impedance(network, probe)
            yield deck


def by_spice(deck):
    """Solve a deck in batch mode, at direct current; every reading must be answered."""
    lines = [line.replace("DC 0 AC 1", "DC 1").replace("DC 0 AC 0", "DC 0") for line in deck.lines]
    wanted = [pair[0] for pair in deck.wanted if pair]
    control = [".control", "op", *(f"print v({node})" for node in wanted), "quit", ".endc", ".end"]
    ran = subprocess.run(
        [NGSPICE, "-b", "/dev/stdin"],
        input="\n".join(["networks of one hypothesis", *lines, *control, ""]),
        capture_output=True,
        text=True,
        check=False,  # it says less of itself than what is missing from its answer
    )
    answered = sum(line.startswith("v(") for line in ran.stdout.splitlines())
    if answered < len(wanted):
        raise RuntimeError(ran.stdout[-2000:] + ran.stderr[-2000:])


def took_s(work, *arguments, tries=3):
    """Return the least processor time of several tries, children's too, and what came of it. [s]"""
    best, result = math.inf, None
    for _ in range(tries):
        start = sum(os.times()[:4])
        result = work(*arguments)
        best = min(best, sum(os.times()[:4]) - start)
    return best, result


def exponent(sizes, costs_s):
    """Return the power of the size that costs grow with, by least squares of the logarithms."""
    slope, _ = np.polyfit(np.log(sizes), np.log(costs_s), 1)
    return float(slope)


def steadily_s(work, at_least_s=0.3):
    """Return the processor time of work, done over and over where it is short. [s]"""
    times = 1
    while True:
        spent, _ = took_s(lambda: [work() for _ in range(times)], tries=1)  # noqa: B023
        if spent >= at_least_s:
            return spent / times
        times *= 4


def peak_mb(outlets):
    """Return the most memory that screening so many outlets takes, in a process of its own."""
    ran = subprocess.run(
        [sys.executable, __file__, "--memory", str(outlets)],
        capture_output=True,
        text=True,
        check=True,
    )
    return float(ran.stdout)


def main():
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="fewer outlets, fewer tries")
    parser.add_argument("--memory", type=int, help="screen so many outlets, print the peak in MB")
    chosen = parser.parse_args()
    if chosen.memory:
        Job(chosen.memory).screen_all()
        print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
        return
    measure(quick=chosen.quick)


def measure(*, quick):
    """Print all figures."""
    tries = 1 if quick else 3
    sizes = (5, 10, 20) if quick else (10, 20, 40, 80, 160)
    # First: a child's peak counts what its parent held when it began.
    print(f"peak memory, {sizes[-1]} outlets: {peak_mb(sizes[-1]):.0f} MB")
    job, small = Job(20), Job(5)
    spent_s, readings = took_s(job.screen_all, tries=tries)
    screen_rate = readings / spent_s
    print(f"screen, 20 outlets, {readings} readings: {screen_rate:.3g} a second")
    if NGSPICE:
        decks = list(job.decks(2 if quick else 20))
        spent_s, _ = took_s(lambda: [by_spice(deck) for deck in decks], tries=1)
        rate = len(decks) * len(job.probes) / spent_s
        print(f"ngspice, a file a hypothesis: {rate:.3g} readings a second")
        print(f"    the screen makes {screen_rate / rate:.0f} times as many")
    spent_s, hypotheses = took_s(small.exact_all, tries=tries)
    print(f"exact pass, {small.nodes} nodes: {hypotheses / spent_s:.3g} hypotheses a second")
    spent_s, hypotheses = took_s(job.exact_all, tries=1)
    rate = hypotheses * len(job.probes) / spent_s
    print(f"exact pass, 20 outlets: {rate:.3g} readings a second")
    print(f"    the screen makes {screen_rate / rate:.1f} times as many")
    spent_s, pairs = took_s(job.pairs_all, tries=tries)
    rate = pairs * len(job.probes) / spent_s
    print(f"all {pairs} pairs of faults, 20 outlets: {spent_s:.2f} s, {rate:.3g} readings a second")
    jobs = [Job(size) for size in sizes]
    tables = [steadily_s(lambda j=j: resistances(j.network, j.probes)) for j in jobs]
    singles = [took_s(j.screen_all, tries=1)[0] for j in jobs]
    for name, costs in (("sound circuit's tables", tables), ("all single faults", singles)):
        said = ", ".join(f"{cost / costs[0]:.3g}" for cost in costs)
        print(f"{name}, {sizes} outlets: {said} times the first")
        print(f"    exponent {exponent(sizes, costs):.2f}")


if __name__ == "__main__":
    main()
