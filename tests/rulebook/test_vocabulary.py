"""The vocabulary of facts, held against the facts that evidence really makes."""

from dataclasses import replace
from functools import cache
from typing import get_args

import numpy as np
import pytest
from modelled import (
    BRANCHED,
    DEAD,
    LINE,
    MODES,
    RING,
    RULEBOOK,
    TERMINATORS,
    UNKNOWN,
    expected,
    readings,
)

from faultfinder.diagnosis.catalogue import hypothesis
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.expectation import of_spots
from faultfinder.evidence.facts import facts
from faultfinder.evidence.grading import grade_readings
from faultfinder.evidence.meter import meter_for
from faultfinder.readings.reading import Reading
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.vocabulary import FIELDS, NOTHING, FactKind
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

OWN = {"kind", "id"}
TESTS = DEAD


@cache
def sound(circuit, tests):
    return of_spots(expected(circuit, tests=tests))


def told(circuit, read, tests=TESTS):
    return facts(circuit, grade_readings(read, sound(circuit, tests)))


def with_each_fault(circuit):
    """Yield the readings of each fault of a circuit, of an ohm where it has ohms."""
    spots = tuple(s for test in TESTS for s in spots_of(RULEBOOK.procedures[test], circuit))
    bench = Bench(circuit, RULEBOOK.procedures, TERMINATORS, spots)
    found = [hypothesis(mode, circuit, fault) for mode in MODES for fault in mode.faults(circuit)]
    read = bench.read([one.ways[0].edit(1.0) for one in found])
    over = meter_for(spots, RULEBOOK.procedures, UNKNOWN).chance_open(read) > 0.5
    for row in np.where(over, np.inf, read).tolist():
        yield [
            Reading(spot, Amount(value, "open" if np.isinf(value) else "="), 0.01)
            for spot, value in zip(spots, row, strict=True)
        ]


def made():
    """Yield the facts of every fault of a circuit, of a ring, two faults and odd switches."""
    for read in with_each_fault(LINE):
        yield from told(LINE, read)
    for fault in (Fault("open", ("E",), "S1..S2"), Fault("transposed", ("A", "E"), "S2")):
        yield from told(RING, readings(RING, [fault], TESTS))
    double = [Fault("open", ("E",), "S1"), Fault("open", ("E",), "S5")]
    yield from told(BRANCHED, readings(BRANCHED, double, TESTS))
    right = {reading.spot: reading for reading in readings(LINE)}
    turned = {"on": "off", "off": "on", "": ""}
    swapped = [
        replace(r, amount=right[replace(spot, switch=turned[spot.switch])].amount)
        for spot, r in right.items()
    ]
    seven = [
        replace(r, amount=Amount(7.0, "=")) if spot.switch == "off" else r
        for spot, r in right.items()
    ]
    for odd in (swapped, seven):
        yield from told(LINE, odd, ("terminated",))


@pytest.fixture(scope="module")
def every():
    return tuple(made())


def test_every_kind_of_fact_has_the_fields_that_are_made_and_no_others(every):
    assert set(FIELDS) == set(get_args(FactKind)) == {fact["kind"] for fact in every}
    for fact in every:
        assert set(fact) - OWN == set(FIELDS[fact["kind"]])


def test_every_word_is_made_and_no_others(every):
    for kind, fields in FIELDS.items():
        for field, words in fields.items():
            if words is not None:
                assert {f[field] for f in every if f["kind"] == kind} == set(words), (kind, field)


def test_tests_places_and_pairs_are_those_of_the_rules_and_the_circuit(every):
    places = {point.name for circuit in (LINE, BRANCHED, RING) for point in circuit.points}
    pairs = {pair for test in TESTS for pair in RULEBOOK.procedures[test].pairs}
    assert {fact["test"] for fact in every} == set(TESTS)
    assert {fact["at"] for fact in every} == {*places, "DB"}
    assert {fact["between"] for fact in every} == pairs
    assert {fact["like"] for fact in every if fact["kind"] == "reading"} <= {*pairs, NOTHING}
