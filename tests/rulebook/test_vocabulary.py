"""The vocabulary of facts, held against the facts that evidence really makes."""

from dataclasses import replace
from functools import cache
from typing import get_args

import pytest
from modelled import BRANCHED, DEAD, LINE, MODES, RING, RULEBOOK, expected, readings

from faultfinder.evidence.expectation import of_spots
from faultfinder.evidence.facts import facts
from faultfinder.evidence.grading import grade_readings
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


def made():
    """Yield the facts of every fault of a circuit, of a ring, two faults and odd switches."""
    for mode in MODES:
        for fault in mode.faults(LINE):
            whole = replace(fault, r_ohm=1.0) if mode.ohms else fault
            yield from told(LINE, readings(LINE, [whole], TESTS))
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
