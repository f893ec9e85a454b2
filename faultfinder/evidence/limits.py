"""Which published limit a reading is held to."""

from dataclasses import replace

from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.procedures import LimitRule, Procedure
from faultfinder.standards.insulation import insulation_minimum_mohm
from faultfinder.standards.limit import Limit
from faultfinder.standards.limits import earth_limit_ohm, internal_loop_limit_ohm
from faultfinder.wiring.circuit import Circuit


def limit_for(
    procedure: Procedure, circuit: Circuit, terminators: Terminators | None, spot: Spot
) -> Limit | None:
    """Return the limit of a reading in the test's unit, or None where no standard sets one.

    What the test itself puts in the reading's way (a terminator) is added to the limit. The cable
    that feeds the point stands for the whole way to it.
    """
    rule = next((rule for rule in procedure.limits if rule.between == spot.between), None)
    if rule is None:
        return None
    limit = _limit(rule, circuit, spot)
    added = sum(terminators.ohms(name) for name in rule.plus) if terminators else 0.0
    if not added:
        return limit
    says = f"{limit.says} The terminator adds {added:g} ohm to the reading."
    return replace(limit, value=limit.value + added, says=says)


def _limit(rule: LimitRule, circuit: Circuit, spot: Spot) -> Limit:
    if rule.limit == "insulation":
        return insulation_minimum_mohm(circuit.region, circuit.region.nominal_voltage_v)
    device = circuit.device
    at_board = spot.at == circuit.board
    cable = circuit.runs[0].cable if at_board else circuit.feeding_run(spot.at).cable
    if rule.limit == "earth-loop":
        return internal_loop_limit_ohm(
            circuit.region,
            device.curve,
            device.rating_a,
            table=cable.table,
            test_temperature_c=circuit.temperature_c,
        )
    return earth_limit_ohm(
        circuit.region,
        device.curve,
        device.rating_a,
        cable.active_mm2,
        cable.earth_mm2,
        table=cable.table,
        test_temperature_c=circuit.temperature_c,
    )
