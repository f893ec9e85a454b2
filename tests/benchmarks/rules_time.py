"""How long it takes to load all rules, after imports: with their trees kept, and without.

    python tests/benchmarks/rules_time.py

Processor time of fresh processes, the median of several. The target is 100 ms with trees kept.
"""

import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
RUNS = 7
LOAD = """
import time
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.source.shelf import shipped_shelf
from faultfinder.standards.conductors import conductor_table, tables
from faultfinder.standards.kinds import standard_model
from faultfinder.standards.regions import region, regions
began = time.process_time()
shipped_shelf()
shipped_rulebook()
print(time.process_time() - began)
for one in regions():
    region(one)
for one in tables():
    conductor_table(one)
print(time.process_time() - began)
"""


def loaded(cache: str) -> tuple[float, float]:
    """Return how long the rules took, and all regions and conductor tables besides. [s]"""
    done = subprocess.run(
        [sys.executable, "-c", LOAD],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": cache},
    )
    rules, everything = map(float, done.stdout.split())
    return rules, everything


def main() -> None:
    """Print both, with trees kept and without."""
    fresh, kept = [], []
    for _ in range(RUNS):
        with tempfile.TemporaryDirectory() as cache:
            fresh.append(loaded(cache))
            kept.append(loaded(cache))
    for name, took in (("without", fresh), ("with trees kept", kept)):
        rules, everything = (statistics.median(column) * 1e3 for column in zip(*took, strict=True))
        print(f"{name}: rules {rules:.0f} ms, standards too {everything:.0f} ms")


if __name__ == "__main__":
    main()
