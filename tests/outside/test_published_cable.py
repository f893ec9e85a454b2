"""What cable has besides resistance, and the on-site guide's divisor for a cold reading."""

import pytest
from published import published

from faultfinder.network.installation import CableConstants
from faultfinder.standards.regions import region


def test_capacitance_of_building_cable():
    """Electronics magazine, seen: 21 pF a foot between cores; one digit of ours is 0.5 pF/m."""
    row = published("cap-nm14-2")
    per_m = row["value"] / 0.3048
    assert CableConstants().capacitance_f_m * 1e12 == pytest.approx(per_m, abs=0.5)
    assert row["total_nf"] * 1000 / row["length_ft"] == pytest.approx(row["value"], abs=0.1)


@pytest.mark.parametrize("id_", ["lv-al-50-x", "lv-al-150-x"])
def test_reactance_of_low_voltage_cable(id_):
    """An open-source library of power networks, seen: 0.08 to 0.083 ohm/km for our 0.08."""
    ours = CableConstants().reactance_ohm_m * 1000
    assert ours == pytest.approx(published(id_)["value"], abs=0.0031)


def test_the_divisor_for_a_cold_reading_is_the_rule_of_thumb():
    """Electricians' blog on the on-site guide, seen: 1.25, and 0.8 of the table is the same."""
    assert region("uk").measured_loop.value == 1 / published("osg-divisor")["value"]
