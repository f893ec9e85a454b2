"""What a guided session costs until one place is left, against the optimum and two usual orders.

    python tests/study/guiding.py optimum --cases 40 --outlets 2 6
    python tests/study/guiding.py orders --cases 40 --outlets 20 20

Each case is a random circuit with a random fault (simulator.py) of which one outlet was read, one
that reads wrong. The suspects then left, the checks, their outcomes and minutes make a problem in
which every order can be costed exactly: ``optimum`` holds the planner against the best possible,
by search without any bound on what is tried; ``orders`` against half-split and outlet by outlet.
"""

import argparse
import random
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from math import inf
from pathlib import Path

import numpy as np
from orders import Bill, bill, half_split, outlet_by_outlet, planned
from simulator import Settings, cases, write

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.plan import Plan, plan_of
from faultfinder.planning.choice import Planner
from faultfinder.readings.file import load_case
from faultfinder.rulebook.rulebook import shipped_rulebook

RULEBOOK = shipped_rulebook()
TEST = "terminated"


def plans(number: int, seed: int, outlets: tuple[int, int]) -> Iterator[Plan]:
    """Yield the plans of random cases of which one outlet that reads wrong has been read."""
    settings = Settings(outlets=outlets, draw="hypotheses")
    with tempfile.TemporaryDirectory() as folder:
        for made in cases(number, seed, settings, faulty=True):
            rng = random.Random(f"{seed}/{made.name}")
            case = load_case(write(made, Path(folder)), RULEBOOK.procedures)
            whole = diagnose(case, RULEBOOK)
            wrong = sorted({r.spot.at for r in whole.readings if not r.is_fine})
            if not wrong:
                continue
            first = rng.choice(wrong)
            read = tuple(r for r in case.readings if r.spot.at == first)
            found = diagnose(replace(case, readings=read), RULEBOOK)
            if found.verdict == "fault" and found.prospect is not None:
                yield plan_of(found.prospect)


def bills(plan: Plan) -> dict[str, Bill]:
    """Return what each order costs on a plan."""
    belief, standing = plan.prospect.belief, plan.standing
    orders = {
        "planned": planned(plan),
        "half-split": half_split(plan, TEST),
        "outlet by outlet": outlet_by_outlet(plan, TEST),
    }
    return {name: bill(plan, order, belief, standing) for name, order in orders.items()}


def optimum(plan: Plan, most_states: int) -> float | None:
    """Return the least expected minutes, or None where that takes too long to work out."""
    planner = Planner(plan.problem, inf, most_states)
    step = planner.choose(plan.prospect.belief, plan.standing)
    if planner.states >= most_states:
        return None
    return 0.0 if step is None else step.minutes


def against_optimum(number: int, seed: int, outlets: tuple[int, int], most_states: int) -> str:
    """Return a table of mean minutes against the optimum."""
    rows, left_out = [], 0
    for plan in plans(number, seed, outlets):
        best = optimum(plan, most_states)
        if best is None:
            left_out += 1
            continue
        belief = plan.prospect.belief
        rows.append([best, *(float(one.minutes @ belief) for one in bills(plan).values())])
    table = np.array(rows)
    mean = table.mean(axis=0)
    names = ("optimum", "planned", "half-split", "outlet by outlet")
    lines = [f"{len(rows)} cases, {left_out} left out as too large; minutes to one repair place"]
    for name, minutes in zip(names, mean.tolist(), strict=True):
        lines.append(
            f"  {name:18}{minutes:7.2f}   {minutes / mean[0] - 1:+7.1%} of the optimum"
            f"   planned is {1 - mean[1] / minutes:6.1%} below"
        )
    some = table[:, 0] > 0
    ratio = table[some, 1] / table[some, 0]
    lines.append(f"  planned over optimum: mean {ratio.mean():.3f}, worst {ratio.max():.3f}")
    return "\n".join(lines)


def by_mode(number: int, seed: int, outlets: tuple[int, int]) -> str:
    """Return a table of mean checks and minutes to one repair place by fault mode."""
    sums: dict[str, dict[str, np.ndarray]] = {}
    weights: dict[str, float] = {}
    spent = []
    for plan in plans(number, seed, outlets):
        start = time.process_time()
        plan.planner.choose(plan.prospect.belief, plan.standing)
        spent.append(time.process_time() - start)
        found = bills(plan)
        for i, (contender, share) in enumerate(
            zip(plan.prospect.contenders, plan.prospect.belief.tolist(), strict=True)
        ):
            faults = contender.suspect.faults
            mode = faults[0].mode if faults else "sound"
            for key in (mode, "all"):
                weights[key] = weights.get(key, 0.0) + share
                for name, one in found.items():
                    each = np.array([one.checks[i], one.minutes[i]]) * share
                    kept = sums.setdefault(key, {})
                    kept[name] = kept.get(name, np.zeros(2)) + each
    names = ("planned", "half-split", "outlet by outlet")
    lines = [f"{'mode':18}{'weight':>7}" + "".join(f"{name:>20}" for name in names)]
    lines.append(f"{'':25}" + f"{'checks':>12}{'min':>8}" * len(names))
    for mode in sorted(weights, key=lambda mode: (mode == "all", -weights[mode])):
        line = f"{mode:18}{weights[mode]:7.1f}"
        for name in names:
            checks, minutes = sums[mode][name] / weights[mode]
            line += f"{checks:12.2f}{minutes:8.1f}"
        lines.append(line)
    lines.append(f"choosing the first step: {1e3 * float(np.mean(spent)):.0f} ms on average")
    return "\n".join(lines)


def main() -> None:
    """Simulate, plan, cost, print."""
    p = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    p.add_argument("study", choices=("optimum", "orders"))
    p.add_argument("--cases", type=int, default=40)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--outlets", type=int, nargs=2, default=(2, 6), metavar=("MIN", "MAX"))
    p.add_argument("--most-states", type=int, default=20_000)
    given = p.parse_args()
    outlets = tuple(given.outlets)
    if given.study == "optimum":
        print(against_optimum(given.cases, given.seed, outlets, given.most_states))
    else:
        print(by_mode(given.cases, given.seed, outlets))


if __name__ == "__main__":
    main()
