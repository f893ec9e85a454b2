"""Juries on a few readings, for what can be worked out by hand."""

import math

import numpy as np
from modelled import RULEBOOK

from faultfinder.diagnosis.likelihood import Jury
from faultfinder.evidence.lean import Lean
from faultfinder.evidence.observed import observe
from faultfinder.readings.reading import Accuracy, Instrument, Reading, Spot
from faultfinder.source.quantity import Amount

TOLERANCES = RULEBOOK.tolerances
KNOWN_RANGE = Instrument(
    resistance=Accuracy(0.01, 0.02, 5000.0, stated=True),
    insulation=Accuracy(0.05, 0.05, 900.0, stated=True),
)


def jury(*taken, tests=None, scatter=(1.0,), instrument=KNOWN_RANGE, step=0.01):
    """Return a jury on readings written as numbers, ``open`` or bounds; scatter as given."""
    tests = tests or ["terminated"] * len(taken)
    readings = [
        Reading(Spot(test, f"S{i}", "on", "A-E"), _amount(value), step)
        for i, (test, value) in enumerate(zip(tests, taken, strict=True))
    ]
    observed = observe(readings, RULEBOOK.procedures, instrument)
    tolerances = TOLERANCES.model_copy(update={"scatter": scatter, "stated_scatter": scatter})
    return Jury(observed, tolerances, sound_at(10.0, len(taken)))


def sound_at(read, number):
    """Return a sound circuit that reads the same everywhere and leans on nothing drawn."""
    return Lean(np.full((1, number), read), (), np.zeros((1, number, 0)))


def _amount(value):
    if value == "open":
        return Amount(math.inf, "open")
    text = str(value)
    return Amount(float(text.lstrip("<>")), text[0] if text[0] in "<>" else "=")
