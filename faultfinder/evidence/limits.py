"""Which published limit a reading is held to."""

from dataclasses import replace

from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.procedures import LimitRule, Procedure
from faultfinder.standards.insulation import insulation_minimum_at, insulation_test_v
from faultfinder.standards.limit import Limit
from faultfinder.standards.limits import earth_limit_ohm, internal_loop_limit_ohm
from faultfinder.standards.live_limits import (
    fault_current_limit_a,
    measured_loop_limit_ohm,
    residual_loop_limit_ohm,
    trip_time_limit_ms,
    voltage_drop_limit_v,
)
from faultfinder.standards.regions import Region
from faultfinder.wiring.circuit import Circuit, Run
from faultfinder.wiring.installation import Installation

# A supply so near the nominal voltage is one of that voltage: IEC 60038, 230 V within 10 % (from
# memory).
_ABOUT = 0.1


def limit_for(
    procedure: Procedure,
    circuit: Circuit,
    terminators: Terminators | None,
    spot: Spot,
    installation: Installation | None = None,
) -> Limit | None:
    """Return the limit of a reading in the test's unit, or None where no standard sets one.

    What is in the reading, but not in what the limit is of, is added to it: a terminator, or the
    supply's own part of a voltage drop. Where the way to a point is of several sizes, the strictest
    of their limits is taken for all of it. An installation says how its supply is earthed, and
    whether its voltage is the region's.
    """
    rule = procedure.limit_rule(spot.between, circuit.actives_at(spot.at))
    if rule is None:
        return None
    limit = _limit(rule, procedure, circuit, spot, installation)
    if limit is None:
        return None
    if added := added_ohm(procedure, circuit, terminators, spot):
        says = f"{limit.says} The terminator adds {added:g} ohm to the reading."
        return replace(limit, value=limit.value + added, says=says)
    if added := supply_drop_v(procedure, circuit, spot, installation):
        says = f"{limit.says} The supply itself adds {added:.3g} V to the reading."
        return replace(limit, value=limit.value + added, says=says)
    return limit


def added_ohm(
    procedure: Procedure, circuit: Circuit, terminators: Terminators | None, spot: Spot
) -> float:
    """Return what the test's own resistors add to a reading that is held to a limit. [ohm]"""
    rule = procedure.limit_rule(spot.between, circuit.actives_at(spot.at))
    if rule is None or terminators is None:
        return 0.0
    return sum(terminators.ohms(name) for name in rule.plus)


def supply_drop_v(
    procedure: Procedure, circuit: Circuit, spot: Spot, installation: Installation | None
) -> float:
    """Return what the supply's own conductors add to a voltage drop that is held to a limit. [V]

    The rated current through their resistances: with a load that is all resistance the reactances
    hardly change the size of a voltage (circuit theory).
    """
    rule = procedure.limit_rule(spot.between, circuit.actives_at(spot.at))
    if rule is None or rule.limit != "voltage-drop" or installation is None:
        return 0.0
    supply = installation.supply
    return circuit.device.rating_a * (supply.line.r_ohm + supply.neutral.r_ohm)


def is_usual(
    procedure: Procedure, circuit: Circuit, installation: Installation | None = None
) -> bool:
    """Return whether a test is one to take unasked.

    All are, but for insulation at another voltage than that for the circuit's nominal one, and for
    the rated residual current of a device that is not there.
    """
    if procedure.load == "rated residual current" and not _has_residual_device(
        circuit, installation
    ):
        return False
    rules = _rules(circuit, installation)
    return procedure.volts is None or procedure.volts == insulation_test_v(
        rules, rules.nominal_voltage_v
    )


def _has_residual_device(circuit: Circuit, installation: Installation | None) -> bool:
    board = installation.board(circuit.board) if installation else None
    rated_ma = board.residual_ma if board else None
    return (circuit.device.residual_ma or rated_ma) is not None


def _rules(circuit: Circuit, installation: Installation | None) -> Region:
    """Return the circuit's region, its nominal voltage that of the supply if that is another."""
    region = circuit.region
    if installation is None:
        return region
    voltage_v = installation.supply.voltage_v
    if abs(voltage_v / region.nominal_voltage_v - 1.0) <= _ABOUT:
        return region
    return replace(region, nominal_voltage_v=voltage_v)


def _limit(
    rule: LimitRule,
    procedure: Procedure,
    circuit: Circuit,
    spot: Spot,
    installation: Installation | None,
) -> Limit | None:
    region, device = _rules(circuit, installation), circuit.device
    if rule.limit in region.unlimited:
        return None
    match rule.limit:
        case "insulation":
            return insulation_minimum_at(region, region.nominal_voltage_v, procedure.volts or 0.0)
        case "trip-time":
            return _trip_time(region, circuit, installation, procedure.times)
        case "voltage-drop":
            point = circuit.point(spot.at)
            is_light = point is not None and point.kind == "light"
            return voltage_drop_limit_v(region, "lighting" if is_light else "other")
        case "loop" | "fault-current":
            residual_ma = _residual_ma(circuit, installation)
            if residual_ma is not None:
                loop = residual_loop_limit_ohm(residual_ma, region.shelf)
            else:
                loop = measured_loop_limit_ohm(region, device.curve, device.rating_a)
            return loop if rule.limit == "loop" else fault_current_limit_a(region, loop)
        case "earth-loop":
            limits = [
                internal_loop_limit_ohm(
                    region,
                    device.curve,
                    device.rating_a,
                    table=run.cable.table,
                    test_temperature_c=circuit.temperature_c,
                )
                for run in _way(circuit, spot)
            ]
        case "earth":
            limits = [
                earth_limit_ohm(
                    region,
                    device.curve,
                    device.rating_a,
                    run.cable.active_mm2,
                    run.cable.earth_mm2,
                    table=run.cable.table,
                    test_temperature_c=circuit.temperature_c,
                )
                for run in _way(circuit, spot)
            ]
    return min(limits, key=lambda limit: limit.value)


def _trip_time(
    region: Region, circuit: Circuit, installation: Installation | None, times: float
) -> Limit | None:
    """Return the longest trip time of the circuit's own device, or else its board's."""
    own, board = circuit.device, installation.board(circuit.board) if installation else None
    if own.residual_ma is not None:
        rated_ma, selective = own.residual_ma, own.selective
    elif board is not None and board.residual_ma is not None:
        rated_ma, selective = board.residual_ma, board.selective
    else:
        return None
    return trip_time_limit_ms(region, "selective" if selective else "general", rated_ma, times)


def _way(circuit: Circuit, spot: Spot) -> tuple[Run, ...]:
    return circuit.path(spot.at) or circuit.runs[:1]


def _residual_ma(circuit: Circuit, installation: Installation | None) -> float | None:
    """Return the rated residual current that a TT circuit's earth is held to, if there is one.

    Its own device's, or that of the nearest board or feeder on the way to the supply. [mA]
    """
    if installation is None or installation.supply.system != "TT":
        return None
    rated_ma = circuit.device.residual_ma
    for board in reversed(tuple(installation.boards_down_to(circuit.board))):
        feeding = board.feeder.device if board.feeder else None
        rated_ma = rated_ma or board.residual_ma or (feeding.residual_ma if feeding else None)
    return rated_ma
