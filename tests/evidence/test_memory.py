"""What arrays leave free is kept for the next ones: counted in page faults, not in time."""

import os
import platform
import subprocess
import sys

import pytest

COUNT = """
import resource, sys
import numpy as np
from faultfinder.evidence.memory import keep_memory

def faults():
    began = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(50):
        arrays = [np.ones(100_000) for _ in range(6)]
        del arrays
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - began

before = faults()
keep_memory()
faults()  # the pages are fetched once
print(before, faults())
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="memory is managed in another way")
def test_arrays_that_come_and_go_need_no_fresh_pages():
    command = [sys.executable, "-c", COUNT]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    run = subprocess.run(command, check=True, capture_output=True, text=True, env=env)  # noqa: S603, ours
    before, after = map(int, run.stdout.split())
    assert after < before / 20
