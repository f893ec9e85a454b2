"""Settings shared by the whole suite."""

import atexit
import os
import shutil
import tempfile

# Each process of the suite has a core to itself; threads of the linear algebra would share it.
os.environ |= dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")

import pytest
from examples import THOROUGH, USUAL
from hypothesis import is_hypothesis_test, settings
from tracing import untraced

# Neither a user's own rules nor what was kept of an earlier run may decide a test.
_OWN = tempfile.mkdtemp(prefix="faultfinder-tests-")
os.environ |= {"XDG_CACHE_HOME": f"{_OWN}/cache", "XDG_CONFIG_HOME": f"{_OWN}/config"}
atexit.register(shutil.rmtree, _OWN, ignore_errors=True)

# No deadline: a shared machine stalls now and then, and time is measured in tests/benchmarks only.
settings.register_profile("default", deadline=None, derandomize=True, max_examples=USUAL)
settings.register_profile("thorough", deadline=None, max_examples=THOROUGH)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item):
    """Trace neither drawn examples nor what is marked ``untraced``."""
    drawn = is_hypothesis_test(getattr(item, "obj", None))
    if not (drawn or item.get_closest_marker("untraced")):
        return (yield)
    with untraced():
        return (yield)
