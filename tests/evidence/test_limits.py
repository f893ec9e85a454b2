"""Which published limit a reading is held to; the limits themselves are tested in standards/."""

from dataclasses import replace

import pytest
from modelled import LINE, RULEBOOK, TERMINATORS

from faultfinder.evidence.limits import limit_for
from faultfinder.readings.reading import Spot
from faultfinder.standards.insulation import insulation_minimum_mohm
from faultfinder.standards.limits import earth_limit_ohm, internal_loop_limit_ohm
from faultfinder.standards.regions import region

COPPER = LINE.runs[0].cable.table
MADE_AT_20 = {"table": COPPER, "test_temperature_c": 20.0}


def limit(test, at, between, circuit=LINE, terminators=TERMINATORS):
    spot = Spot(test, at, "", between)
    return limit_for(RULEBOOK.procedures[test], circuit, terminators, spot)


@pytest.mark.parametrize(
    ("test", "between"),
    [("terminated", "A-N"), ("terminated", "N-E"), ("linked-out", "A-N"), ("long-lead", "A")],
)
def test_what_no_standard_limits_has_none(test, between):
    assert limit(test, "S3", between) is None


def test_a_linked_out_loop_is_held_to_the_internal_loop_limit():
    assert limit("linked-out", "S2", "A-E") == internal_loop_limit_ohm(
        LINE.region, "C", 20.0, **MADE_AT_20
    )


def test_a_terminator_is_added_to_the_limit_and_the_sentence_says_so():
    loop, terminated = limit("linked-out", "S2", "A-E"), limit("terminated", "S2", "A-E")
    assert terminated.value == loop.value + 10.0
    assert terminated.says == f"{loop.says} The terminator adds 10 ohm to the reading."
    assert (terminated.bound, terminated.source) == (loop.bound, loop.source)


@pytest.mark.parametrize("odd", [0, 1, 2])
@pytest.mark.parametrize(
    ("sizes", "stricter_there"), [((1.5, 2.5), True), ((4.0, 1.5), False)], ids=["strict", "mild"]
)
def test_an_earth_is_held_to_the_strictest_limit_on_its_way(odd, sizes, stricter_there):
    """One run of other sizes: it makes the limit stricter from there on, but never milder."""
    other = replace(LINE.runs[odd].cable, active_mm2=sizes[0], earth_mm2=sizes[1])
    runs = tuple(
        replace(run, cable=other) if index == odd else run for index, run in enumerate(LINE.runs)
    )
    usual, there = (
        earth_limit_ohm(LINE.region, "C", 20.0, *two, **MADE_AT_20) for two in ((2.5, 2.5), sizes)
    )
    assert (there.value < usual.value) is stricter_there
    for index, at in enumerate(("S1", "S2", "S3")):
        only_it = odd == index == 0
        held_to = there if only_it or (stricter_there and index >= odd) else usual
        assert limit("long-lead", at, "E", replace(LINE, runs=runs)) == held_to, at


@pytest.mark.parametrize("between", ["A-N", "A-E", "N-E", "A+N-E"])
@pytest.mark.parametrize("at", ["DB", "S3"])
def test_insulation_is_held_to_the_least_of_the_regions_voltage(at, between):
    found = limit("insulation", at, between)
    assert found == insulation_minimum_mohm(LINE.region, LINE.region.nominal_voltage_v)
    assert (found.bound, found.unit) == ("at least", "Mohm")


@pytest.mark.parametrize("name", ["au-nz", "uk", "iec"])
def test_every_region_has_limits_for_every_test(name):
    there = region(name)
    table = there.conductor_table()
    runs = tuple(replace(run, cable=replace(run.cable, table=table)) for run in LINE.runs)
    circuit = replace(LINE, region=there, runs=runs)
    for test, procedure in RULEBOOK.procedures.items():
        for rule in procedure.limits:
            assert limit(test, "S3", rule.between, circuit).value > 0
