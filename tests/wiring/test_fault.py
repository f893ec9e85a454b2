"""Faults as they are said and as they are written."""

from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from network.two_outlets import CIRCUIT
from strategies import circuits, faults

from faultfinder.source.quantity import parse_amount
from faultfinder.wiring.circuit import CONDUCTORS
from faultfinder.wiring.fault import Fault, FaultSyntaxError, in_order, parse_fault


@pytest.mark.parametrize(
    ("text", "fault", "ohms"),
    [
        ("open E at S1..S2", Fault("open", ("E",), "S1..S2"), ""),
        ("high-resistance A at S2 2.5 ohm", Fault("high-resistance", ("A",), "S2"), "2.5 ohm"),
        ("transposed A-N at S1", Fault("transposed", ("A", "N"), "S1"), ""),
        ("bridged A-E at S2 0.1 ohm", Fault("bridged", ("A", "E"), "S2"), "0.1 ohm"),
        ("switch-stuck-off at S1", Fault("switch-stuck-off", (), "S1"), ""),
        ("  open   e  in  run S2..S1  ", Fault("open", ("E",), "S1..S2"), ""),
        ("bridged n - a in S1 1 Mohm", Fault("bridged", ("A", "N"), "S1"), "1 Mohm"),
        ("transposed E-A-N at S1", Fault("transposed", ("A", "N", "E"), "S1"), ""),
        ("transposed N-A-E at S1", Fault("transposed", ("A", "E", "N"), "S1"), ""),
    ],
)
def test_as_it_is_said(text, fault, ohms):
    assert parse_fault(text, CIRCUIT) == (fault, ohms)


@pytest.mark.parametrize(
    ("text", "found", "expected"),
    [
        ("open E", "open E", "MODE CONDUCTORS at PLACE"),
        ("open E S1", "open E S1", "MODE CONDUCTORS at PLACE"),
        ("open L at S1", '"L"', "one of A, N, E"),
        ("bridged A-A at S1", '"A-A"', ""),
        ("open E at S1..S3", '"S1..S3"', "S1..S2"),
        ("open E at S3", '"S3"', "one of S1, S2, DB..S1"),
        ("open E at DC", '"DC"', "one of S1, S2, DB..S1"),
    ],
)
def test_what_is_not_a_fault(text, found, expected):
    with pytest.raises(FaultSyntaxError) as caught:
        parse_fault(text, CIRCUIT)
    assert found in caught.value.found
    assert expected in caught.value.expected


@given(st.data())
def test_what_is_written_can_be_read(data):
    """Ohms are written with six digits, so half a unit of the sixth is allowed."""
    circuit = data.draw(circuits())
    fault = data.draw(faults(circuit))
    again, ohms = parse_fault(str(fault), circuit)
    assert again == replace(fault, r_ohm=None)
    if fault.r_ohm is None:
        assert ohms == ""
    else:
        assert parse_amount(ohms, "ohm").value == pytest.approx(fault.r_ohm, rel=5e-6)


@pytest.mark.parametrize("given_order", list(permutations(CONDUCTORS)))
def test_a_cyclic_exchange_keeps_its_direction(given_order):
    ordered = in_order(given_order)
    successors = set(zip(given_order, (*given_order[1:], given_order[0]), strict=True))
    assert ordered[0] == "A"
    assert set(zip(ordered, (*ordered[1:], ordered[0]), strict=True)) == successors


@pytest.mark.parametrize("given_order", [p for n in range(3) for p in permutations(CONDUCTORS, n)])
def test_fewer_conductors_are_in_a_n_e_order(given_order):
    assert in_order(given_order) == tuple(c for c in CONDUCTORS if c in given_order)


SET_UPS = ("link-out", "rows-exchanged", "columns-exchanged", "leads-not-nulled")


@pytest.mark.parametrize(
    ("text", "conductors", "at", "ohms"),
    [
        ("link-out", (), "DB", ""),
        ("Link-Out at DB", (), "DB", ""),
        ("rows-exchanged at S1, S2", (), "S1,S2", ""),
        ("columns-exchanged N-A at S1", ("A", "N"), "S1", ""),
        ("leads-not-nulled 0.4 ohm", (), "DB", "0.4 ohm"),
    ],
)
def test_a_set_up_mistake_is_said_by_its_id(text, conductors, at, ohms):
    fault, said = parse_fault(text, CIRCUIT, SET_UPS)
    assert (fault.mode, fault.conductors, fault.at, said) == ("set-up", conductors, at, ohms)
    again, _ = parse_fault(str(fault), CIRCUIT, SET_UPS)
    assert again == fault


@pytest.mark.parametrize(
    "text", ["rows-exchanged at S1,S99", "columns-exchanged A-Q at S1", "link-out to S1"]
)
def test_a_set_up_mistake_names_places_and_conductors_there_are(text):
    with pytest.raises(FaultSyntaxError):
        parse_fault(text, CIRCUIT, SET_UPS)
