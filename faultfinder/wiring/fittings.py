"""What hangs on a circuit: its device, points with their switches, and loads."""

from collections.abc import Iterator
from dataclasses import replace

import networkx as nx

from faultfinder.source.document import KeyPath
from faultfinder.source.problem import listed, shown
from faultfinder.source.spelling import nearest
from faultfinder.standards.limits import tripping_current_a
from faultfinder.standards.regions import Region
from faultfinder.standards.unknown import UnknownStandard
from faultfinder.wiring.circuit import TRAVELLERS, Circuit, Device, Load, Point, pairs_of
from faultfinder.wiring.installation_schema import BoardFile
from faultfinder.wiring.report import Report
from faultfinder.wiring.schema import CircuitFile, DeviceFile


def device_of(report: Report, file: DeviceFile, rules: Region, path: KeyPath) -> Device:
    """Return a protective device, its curve reported if the region has none such."""
    curves = [curve.name for curve in rules.curves]
    if file.curve is None and curves:
        report.say(path, "missing-key", 'the key "curve" is missing', listed(curves))
    elif file.curve is not None and not curves:
        found = f"a curve, and region {rules.id} has none"
        report.say((*path, "curve"), "impossible-value", found, "the device's rating alone")
    elif file.curve is not None:
        try:
            tripping_current_a(rules, file.curve, file.rating)
        except UnknownStandard as error:
            report.unknown((*path, "curve"), error)
    check_selective(report, file, path)
    return Device(file.curve or "", file.rating, file.rcd, file.selective)


def check_selective(report: Report, file: DeviceFile | BoardFile, path: KeyPath) -> None:
    """Report what is selective without a residual current."""
    if file.selective and file.rcd is None:
        found = "selective, and no residual current device"
        report.say((*path, "selective"), "impossible-value", found, "rcd: 300 mA beside it")


def fitted(circuit: Circuit, point: Point) -> Point:
    """Return a point with the conductors that its switch breaks, by its kind and the actives."""
    if point.kind == "switch":
        return replace(point, switched=("S",))
    if point.kind == "two-way":
        return replace(point, switched=TRAVELLERS)
    if "A" in point.switched and circuit.actives != ("A",):
        poles = tuple(c for c in point.switched if c != "A")
        return replace(point, switched=(*circuit.actives_at(point.name), *poles))
    return point


def check_supplied(report: Report, file: CircuitFile, circuit: Circuit) -> None:
    """Report conductors that a run carries and nothing brings, and points that lack theirs."""
    if file.phase and file.actives:
        found = "a circuit of several actives is on no single phase"
        report.say(("phase",), "impossible-value", found, "phase or actives, not both")
    lights = [point for point in circuit.points if point.kind == "light" or point.is_wall_switch]
    if lights and circuit.actives != ("A",):
        report.say(
            ("points", lights[0].name, "kind"),
            "impossible-value",
            f"a {lights[0].kind} on a circuit of several actives",
            "lights and their switches on a circuit of one",
        )
        return
    for point in circuit.points:
        if strange := set(point.takes) - {*circuit.actives}:
            report.say(
                ("points", point.name, "phase"),
                "impossible-value",
                f"{point.name} takes {listed(strange)}, which the circuit does not have",
                f"one of {listed(circuit.actives)}, and actives: [L1, L2, L3] in the circuit",
            )
    fed = {(circuit.board, c) for c in circuit.conductors}
    fed |= {(circuit.far_end, c) for c in circuit.conductors}
    graph: nx.Graph[tuple[str, str]] = nx.Graph()
    graph.add_nodes_from(fed)
    for run in circuit.runs:
        graph.add_edges_from(((run.upstream, c), (run.downstream, c)) for c in circuit.carried(run))
    for point in circuit.points:
        if point.is_wall_switch:
            common = circuit.common_of(point)
            graph.add_edges_from(((point.name, common), (point.name, c)) for c in point.switched)
    reached = set[tuple[str, str]]().union(
        *(part for part in nx.connected_components(graph) if part & fed)
    )
    for point in circuit.points:
        needs = ("S", "N", "E") if point.kind == "light" else circuit.contacts(point)
        if point.is_wall_switch:
            needs = (circuit.common_of(point), *point.switched)
        brought = circuit.brought_to(point)
        missing = [c for c in needs if c not in brought or (point.name, c) not in reached]
        if missing:
            verb = "do" if len(missing) > 1 else "does"
            report.say(
                ("points", point.name),
                "not-fed",
                f"{listed(missing, 'and')} {verb} not reach {point.name}, drawn as {point.kind}",
                "runs that carry it there: see carries in a run, and the kinds of points",
            )


def loads(report: Report, file: CircuitFile, circuit: Circuit) -> Iterator[Load]:
    """Yield the loads of a circuit."""
    seen = set[tuple[str, str, str]]()
    for index, load in enumerate(file.loads):
        point = circuit.point(load.at)
        if point is None or not point.has_contacts:
            places = [p.name for p in circuit.outlets()]
            report.say(
                ("loads", index, "at"),
                "missing-point",
                f"no outlet, light or appliance {shown(load.at)}",
                listed(places),
                nearest(load.at, places),
            )
            continue
        contacts = circuit.contacts(point)
        pairs = {"-".join(pair): pair for pair in pairs_of(contacts)}
        wanted = load.between.upper().replace(" ", "") or f"{contacts[0]}-N"
        if wanted not in pairs:
            report.say(
                ("loads", index, "between"),
                "impossible-value",
                f"{shown(load.between)} is no pair at {load.at}",
                listed(pairs),
                nearest(wanted, pairs),
            )
            continue
        if (load.at, wanted, load.what) in seen:
            report.say(
                ("loads", index),
                "duplicate-name",
                f"a second {load.what} between {wanted} at {load.at}",
                "another word for it in what",
            )
        seen.add((load.at, wanted, load.what))
        r_ohm = load.ohms
        if r_ohm is None:
            volts = load.volts or circuit.region.nominal_voltage_v
            r_ohm = volts**2 / (load.watts or 1.0)
        yield Load(load.at, pairs[wanted], r_ohm, what=load.what, is_fixed=load.fixed)
