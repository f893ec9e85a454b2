"""What holds for a circuit whatever is read on it is kept, and changes no answer."""

from dataclasses import replace

import pytest
from modelled import BRANCHED, LINE, RULEBOOK, case, readings

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.prepared import KEPT, prepared
from faultfinder.wiring.fault import Fault

POOR = Fault("high-resistance", ("N",), "S2", r_ohm=2.5)


def ready(circuit, taken):
    spots = tuple(reading.spot for reading in taken)
    asked = case(circuit, taken=taken)
    return prepared(circuit, asked.terminators, asked.installation, spots, RULEBOOK)


def test_other_values_of_the_same_readings_find_it_ready():
    assert ready(LINE, readings(LINE, [])) is ready(LINE, readings(LINE, [POOR]))
    assert ready(LINE, readings(LINE, [])) is not ready(LINE, readings(LINE, [])[:-1])


@pytest.mark.parametrize("circuit", [LINE, BRANCHED], ids=["line", "branched"])
def test_a_circuit_met_before_is_judged_as_one_met_first(circuit):
    asked = case(circuit, taken=readings(circuit, [POOR]))
    prepared.cache_clear()
    first = diagnose(asked, RULEBOOK)
    diagnose(case(circuit, taken=readings(circuit, [])), RULEBOOK)
    again = diagnose(asked, RULEBOOK)
    assert prepared.cache_info().hits >= 2
    both = zip(first.suspects, again.suspects, strict=True)
    assert all(one.title == other.title for one, other in both)
    assert [s.probability for s in first.suspects] == [s.probability for s in again.suspects]


def test_no_more_than_a_few_circuits_are_kept():
    for number in range(KEPT + 2):
        device = replace(LINE.device, rating_a=10.0 + number)
        other = replace(LINE, device=device)
        ready(other, readings(other, []))
    assert prepared.cache_info().currsize == KEPT


def test_signs_that_point_to_what_is_there_add_nothing():
    found = ready(LINE, readings(LINE, []))
    known = found.hypotheses[1].faults[0]
    assert found.with_faults([known]) is found.hypotheses
