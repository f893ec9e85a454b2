"""Settings shared by the whole suite."""

import os

from hypothesis import settings

# No deadline: a shared machine stalls now and then, and time is measured in tests/benchmarks only.
settings.register_profile("default", deadline=None, derandomize=True, max_examples=100)
settings.register_profile("thorough", deadline=None, max_examples=5000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))
