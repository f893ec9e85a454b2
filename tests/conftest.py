"""Settings shared by the whole suite."""

import atexit
import os
import shutil
import tempfile

from hypothesis import settings

# Neither a user's own rules nor what was kept of an earlier run may decide a test.
_OWN = tempfile.mkdtemp(prefix="faultfinder-tests-")
os.environ |= {"XDG_CACHE_HOME": f"{_OWN}/cache", "XDG_CONFIG_HOME": f"{_OWN}/config"}
atexit.register(shutil.rmtree, _OWN, ignore_errors=True)

# No deadline: a shared machine stalls now and then, and time is measured in tests/benchmarks only.
settings.register_profile("default", deadline=None, derandomize=True, max_examples=40)
settings.register_profile("thorough", deadline=None, max_examples=5000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))
