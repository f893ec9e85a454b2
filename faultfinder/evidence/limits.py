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

    What the test itself puts in the reading's way (a terminator) is added to the limit. Where the
    way to a point is of several sizes, the strictest of their limits is taken for all of it.
    """
    rule = _rule(procedure, spot)
    if rule is None:
        return None
    limit = _limit(rule, circuit, spot)
    added = added_ohm(procedure, terminators, spot)
    if not added:
        return limit
    says = f"{limit.says} The terminator adds {added:g} ohm to the reading."
    return replace(limit, value=limit.value + added, says=says)


def added_ohm(procedure: Procedure, terminators: Terminators | None, spot: Spot) -> float:
    """Return what the test's own resistors add to a reading that is held to a limit. [ohm]"""
    rule = _rule(procedure, spot)
    if rule is None or terminators is None:
        return 0.0
    return sum(terminators.ohms(name) for name in rule.plus)


def _rule(procedure: Procedure, spot: Spot) -> LimitRule | None:
    return next((rule for rule in procedure.limits if rule.between == spot.between), None)


def _limit(rule: LimitRule, circuit: Circuit, spot: Spot) -> Limit:
    if rule.limit == "insulation":
        return insulation_minimum_mohm(circuit.region, circuit.region.nominal_voltage_v)
    device, runs = circuit.device, circuit.path(spot.at) or circuit.runs[:1]
    if rule.limit == "earth-loop":
        limits = [
            internal_loop_limit_ohm(
                circuit.region,
                device.curve,
                device.rating_a,
                table=run.cable.table,
                test_temperature_c=circuit.temperature_c,
            )
            for run in runs
        ]
    else:
        limits = [
            earth_limit_ohm(
                circuit.region,
                device.curve,
                device.rating_a,
                run.cable.active_mm2,
                run.cable.earth_mm2,
                table=run.cable.table,
                test_temperature_c=circuit.temperature_c,
            )
            for run in runs
        ]
    return min(limits, key=lambda limit: limit.value)
