"""What arrays leave free is kept for the next ones: counted in page faults, not in time."""

import gc
import os
import platform
import subprocess
import sys

import pytest

from faultfinder.evidence.memory import seldom_collected

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


def collections():
    return sum(generation["collections"] for generation in gc.get_stats())


def collections_over(objects):
    """Return how often garbage is looked for while so many objects come, and stay."""
    before = collections()
    kept = [[] for _ in range(objects)]
    return collections() - before, kept


def test_garbage_is_seldom_looked_for_within_and_as_before_after():
    usual = gc.get_threshold()
    gc.set_threshold(700, 10, 10)
    before = gc.get_threshold()
    often, _ = collections_over(15_000)
    with seldom_collected():
        seldom, _ = collections_over(15_000)
    assert often >= 15
    assert seldom <= 1
    with pytest.raises(ZeroDivisionError), seldom_collected():
        raise ZeroDivisionError
    assert gc.get_threshold() == before
    gc.set_threshold(*usual)


def test_where_garbage_is_not_looked_for_it_stays_so():
    gc.disable()
    before = gc.get_threshold()
    try:
        gc.set_threshold(0)
        with seldom_collected():
            assert gc.get_threshold()[0] == 0
    finally:
        gc.set_threshold(*before)
        gc.enable()
