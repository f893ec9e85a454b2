"""What can be done at a place that is no test, by its id: in checks, in answers, in ``cannot``."""

from faultfinder.wiring.fault import SET_UP

LOOK = "inspect"
"""Open it and look."""
PART = "part"
"""Part the cables there."""
EXCHANGE = "exchange"
"""Mend it, or exchange it, and see whether that helps."""

NO_TESTS = (LOOK, PART, EXCHANGE, SET_UP)
"""All of them, a look at how the test is set up included."""
