"""Tables of readings: names in their places, values as the solver gives them."""

import math

import numpy as np
import pytest

from faultfinder.network.branch import Branch, Node, Probe
from faultfinder.network.solve import impedances, resistances, voltages
from faultfinder.network.table import impedance_table, resistance_table, voltage_table

A, B, C = (Node(place, "A") for place in "ABC")
NETWORK = {("1",): Branch(A, B, 3.0, x_ohm=4.0), ("2",): Branch(B, C, 2.0)}
EDITS = {"as drawn": {}, "open": {("1",): None}, "poor joint": {("1",): Branch(A, B, 5.0)}}
PROBES = {"A to B": Probe((A,), (B,)), "A to C": Probe((A,), (C,))}
POTENTIALS = {A: 12 + 0j, C: 0j}
PLAIN = (list(PROBES.values()), list(EDITS.values()))


def test_a_reading_is_found_by_its_names():
    table = resistance_table(NETWORK, PROBES, EDITS)
    assert table.at("as drawn", "A to C") == pytest.approx(5.0)
    assert table.at("open", "A to B") == math.inf
    assert table.at("poor joint", "A to B") == pytest.approx(5.0)


def test_rows_are_the_edits_in_order():
    rows = dict(resistance_table(NETWORK, PROBES, EDITS).rows())
    assert list(rows) == list(EDITS)
    assert rows["poor joint"] == pytest.approx({"A to B": 5.0, "A to C": 7.0})


def test_values_are_the_solver_s():
    probes, edits = PLAIN
    resistance = resistance_table(NETWORK, PROBES, EDITS)
    impedance = impedance_table(NETWORK, PROBES, EDITS)
    voltage = voltage_table(NETWORK, PROBES, EDITS, POTENTIALS)
    np.testing.assert_array_equal(resistance.values, resistances(NETWORK, probes, edits))
    np.testing.assert_array_equal(impedance.values, impedances(NETWORK, probes, edits))
    np.testing.assert_array_equal(voltage.values, voltages(NETWORK, probes, POTENTIALS, edits))
    assert impedance.at("as drawn", "A to B") == pytest.approx(3 + 4j)
    assert voltage.at("poor joint", "A to B") == pytest.approx(12 * 5 / 7)
    assert {table.edits for table in (resistance, impedance, voltage)} == {tuple(EDITS)}
    assert {table.probes for table in (resistance, impedance, voltage)} == {tuple(PROBES)}


def test_an_unknown_name_is_told_which_there_are():
    table = resistance_table(NETWORK, PROBES, EDITS)
    with pytest.raises(KeyError, match="'opne' is none of as drawn, open, poor joint"):
        table.at("opne", "A to B")
    with pytest.raises(KeyError, match="'A' is none of A to B, A to C"):
        table.at("open", "A")


def test_a_table_cannot_be_written_to():
    table = resistance_table(NETWORK, PROBES, EDITS)
    with pytest.raises(ValueError, match="read-only"):
        table.values[0, 0] = 1.0


def test_nothing_asked_for():
    assert list(resistance_table(NETWORK, {}, EDITS).rows()) == [(edit, {}) for edit in EDITS]
    assert list(resistance_table(NETWORK, PROBES, {}).rows()) == []
