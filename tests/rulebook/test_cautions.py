"""Cautions of fault modes: which are said for which conductors."""

import pytest

from faultfinder.rulebook.modes import Caution
from faultfinder.rulebook.rulebook import shipped_rulebook

MODES = shipped_rulebook().modes
SWITCH, METAL, RETURN = "the socket stays live", "exposed metal is live", "through the earth"


@pytest.mark.parametrize(
    ("when", "conductors", "concerned"),
    [
        ("E", "E", True),
        ("E", "A", False),
        ("E", "AE", True),
        ("AE", "AE", True),
        ("EA", "AE", True),
        ("AE", "E", False),
        ("AE", "AEN", True),  # A lands where E belongs
        ("EA", "AEN", False),  # E lands where N does
        ("AE", "ANE", False),
        ("EA", "ANE", True),
        ("NEA", "ANE", True),
        ("AEN", "ANE", False),
        ("A", "", False),
    ],
)
def test_whom_a_caution_concerns(when, conductors, concerned):
    assert Caution(when=tuple(when), say="Mind it.").concerns(tuple(conductors)) is concerned


@pytest.mark.parametrize(
    ("conductors", "said"),
    [
        ("AN", {SWITCH}),
        ("AE", {METAL}),
        ("NE", {RETURN}),
        # A to N, N to E, E to A: metal on the neutral, the active past the switch.
        ("ANE", {SWITCH, RETURN}),
        # A to E, E to N, N to A: metal on the active.
        ("AEN", {METAL}),
    ],
)
def test_an_exchange_says_what_its_own_conductors_do(conductors, said):
    cautions = " ".join(MODES["transposed"].cautions_for(tuple(conductors)))
    assert {words for words in (SWITCH, METAL, RETURN) if words in cautions} == said


def test_an_open_earth_is_warned_of_and_an_open_active_is_not():
    assert any("earth" in caution for caution in MODES["open"].cautions_for(("E",)))
    assert not any("earth" in caution for caution in MODES["open"].cautions_for(("A",)))


def test_every_fault_is_to_be_proved_dead():
    for mode in MODES.values():
        for choice in mode.choices():
            assert "Prove the circuit dead again" in mode.cautions_for(choice)[0]
