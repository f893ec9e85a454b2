"""What a next check costs, after imports; run by hand.

    python tests/benchmarks/next_check_time.py [--outlets N ...] [--tries N]

Processor time on one core, the best of several, of a row of outlets of which the last that reads
wrong was read: of the whole diagnosis, of the next checks in it, and of the choice alone.
"""

import os

for library in ("OMP", "OPENBLAS", "MKL"):
    os.environ[f"{library}_NUM_THREADS"] = "1"

import argparse
import gc
import time

from diagnose_time import row, truths, with_scatter
from modelled import RULEBOOK, case, readings

from faultfinder.diagnosis.checks import next_checks
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.plan import plan_of
from faultfinder.diagnosis.prospect import Prospect


def spent_ms(work, tries):
    """Return the least processor time of a piece of work, and what it returned. [ms]"""
    times = []
    for _ in range(tries):
        start = time.process_time()
        found = work()
        times.append(time.process_time() - start)
    return 1e3 * min(times), found


def anew(prospect):
    """Return a prospect that remembers nothing."""
    return Prospect(prospect.case, prospect.rulebook, prospect.contenders)


def main():
    """Measure and print."""
    p = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    p.add_argument("--outlets", type=int, nargs="*", default=(6, 20))
    p.add_argument("--tries", type=int, default=3)
    given = p.parse_args()
    gc.freeze()
    print(f"{'outlets':7}  {'truth':14}{'whole':>8}{'checks':>8}{'choice':>8}  [ms]  first")
    for outlets in given.outlets:
        circuit = row(outlets)
        for name, faults in truths(circuit).items():
            taken = with_scatter(readings(circuit, faults))
            whole = diagnose(case(circuit, taken=taken), RULEBOOK)
            wrong = [r.spot.at for r in whole.readings if not r.is_fine]
            last = wrong[-1] if wrong else circuit.points[-1].name
            few = case(circuit, taken=[r for r in taken if r.spot.at == last])
            all_ms, found = spent_ms(lambda few=few: diagnose(few, RULEBOOK), given.tries)
            prospect = found.prospect
            checks_ms, checks = spent_ms(
                lambda prospect=prospect: next_checks(anew(prospect)), given.tries
            )
            plan = plan_of(prospect)
            choice_ms, _ = spent_ms(
                lambda prospect=prospect, plan=plan: type(plan)(
                    prospect, plan.offers
                ).planner.choose(prospect.belief, plan.standing),
                given.tries,
            )
            first = f"{checks[0].test} {checks[0].spot}" if checks else "none"
            spent = f"{all_ms:8.0f}{checks_ms:8.0f}{choice_ms:8.0f}"
            print(f"{outlets:7}  {name:14}{spent}        {first}")


if __name__ == "__main__":
    main()
