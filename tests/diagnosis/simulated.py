"""Cases as they come from the field: a fault, lengths and terminators off, and a meter's errors.

Errors are drawn from what ``rules/tolerances.yaml`` says they are, with scatter of one accuracy.
"""

import math
from dataclasses import replace

import numpy as np
from modelled import RULEBOOK, TERMINATORS, UNKNOWN

from faultfinder.diagnosis.catalogue import no_edit
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.observed import observe
from faultfinder.readings.reading import Reading, Terminators
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.source.quantity import Amount

T = RULEBOOK.tolerances
USUAL_TOP_OHM = 1e5


def seeded(seed):
    return np.random.default_rng(seed)


def as_built(circuit, rng):
    """Return the circuit with its true lengths."""
    cable = 1 + T.cable * rng.normal()
    return replace(
        circuit,
        runs=tuple(
            replace(run, length_m=run.length_m * cable * (1 + T.run_length * rng.normal()))
            for run in circuit.runs
        ),
    )


def taken(circuit, edit, rng, tests=("terminated",), instrument=UNKNOWN):
    """Return readings of an edited circuit, to a hundredth, in ohm."""
    spots = tuple(s for test in tests for s in spots_of(RULEBOOK.procedures[test], circuit))
    fitted = Terminators(
        TERMINATORS.active_ohm * (1 + T.terminator * rng.normal()),
        TERMINATORS.neutral_ohm * (1 + T.terminator * rng.normal()),
    )
    (true,) = Bench(as_built(circuit, rng), RULEBOOK.procedures, fitted, spots).read([edit])
    accuracy = instrument.resistance
    gain, leads = T.gain * accuracy.share * rng.normal(), T.leads * rng.normal()
    found = []
    for spot, value in zip(spots, true.tolist(), strict=True):
        if value > (accuracy.range_top or USUAL_TOP_OHM):
            amount = Amount(math.inf, "open")
        else:
            sd = accuracy.share * value + accuracy.fixed
            shown = value * (1 + gain) + leads + sd * rng.normal()
            amount = Amount(max(0.0, round(shown, 2)), "=")
        found.append(Reading(spot, amount, 0.01))
    return tuple(found)


def bench_and_jury(circuit, readings, instrument=UNKNOWN):
    """Return what judges readings, as ``diagnose`` sets it up."""
    spots = tuple(reading.spot for reading in readings)
    bench = Bench(circuit, RULEBOOK.procedures, TERMINATORS, spots)
    observed = observe(readings, RULEBOOK.procedures, instrument)
    return bench, Jury(observed, T, bench.lean([no_edit]))
