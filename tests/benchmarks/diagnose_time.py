"""Where the time of a cold ``faultfinder diagnose`` goes; run by hand.

    python tests/benchmarks/diagnose_time.py [CASE]

Prints the best of several cold starts, the share of it that is imports, and ratios against the
start of a bare interpreter on the same machine in the same run.
"""

import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
TRIES = 7
IMPORTS = (
    "import faultfinder.cli.main, faultfinder.diagnosis.diagnose, faultfinder.readings.file, "
    "faultfinder.reporting.as_json, faultfinder.reporting.as_text, faultfinder.engine.engine, "
    "durable.engine"
)


def best_s(*arguments: str) -> float:
    """Return the shortest of several runs of the interpreter with these arguments. [s]"""
    times = []
    for _ in range(TRIES):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], cwd=ROOT, capture_output=True, check=False)
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    """Measure and print."""
    case = sys.argv[1] if len(sys.argv) > 1 else "cases/demo.yaml"
    bare = best_s("-c", "pass")
    imports = best_s("-c", IMPORTS)
    whole = best_s("-m", "faultfinder", "diagnose", case)
    print(f"bare interpreter     {bare:7.3f} s     1.0")
    print(f"with the imports     {imports:7.3f} s  {imports / bare:6.1f} times that")
    print(f"diagnose {case}  {whole:7.3f} s  {whole / bare:6.1f} times that")
    print(f"imports are {(imports - bare) / whole:.0%} of it")


if __name__ == "__main__":
    main()
