"""Circuits as files: what ``wiring.file`` reads back as the same circuit."""

from collections import Counter
from collections.abc import Iterator

from faultfinder.source.writing import mapping, number, sequence, text
from faultfinder.standards.regions import Region
from faultfinder.wiring.circuit import Cable, Circuit, Load, Point, Run


def circuit_lines(circuit: Circuit) -> list[str]:
    """Return the lines of a circuit file, which may be indented under ``circuit:``.

    What has its default is left out. Runs are written from the board on.

    Raises
    ------
    ValueError
        If the circuit holds what no file can say: a load with reactance.
    """
    common = Counter(run.cable for run in circuit.runs).most_common(1)[0][0]
    device = {"curve": text(circuit.device.curve), "rating": number(circuit.device.rating_a)}
    if circuit.device.residual_ma is not None:
        device["rcd"] = f"{number(circuit.device.residual_ma)} mA"
    head = {
        "name": text(circuit.name) if circuit.name else "",
        "region": circuit.region.id,
        "kind": "ring" if circuit.is_ring else "",
        "board": text(circuit.board),
        "device": mapping(device),
        "cable": _cable(common, circuit.region),
        "temperature": ""
        if circuit.temperature_c == circuit.region.test_temperature_c
        else number(circuit.temperature_c),
        "phase": "" if circuit.phase == "A" else circuit.phase,
        "actives": "" if circuit.actives == ("A",) else sequence(circuit.actives),
    }
    return [
        *(f"{key}: {value}" for key, value in head.items() if value),
        "points:",
        *(f"  {text(point.name)}: {_point(point)}" for point in circuit.points),
        "runs:",
        *(f"  - {_run(circuit, run, common)}" for run in circuit.runs),
        *_loads(circuit),
    ]


def _cable(cable: Cable, region: Region) -> str:
    """Return the circuit's cable; neutral where it is not as the active."""
    said = {"active": number(cable.active_mm2)}
    if cable.neutral_mm2 != cable.active_mm2:
        said["neutral"] = number(cable.neutral_mm2)
    said |= {"earth": number(cable.earth_mm2), "material": cable.table.material}
    if cable.table.id != region.conductor_table(cable.table.material).id:
        said["conductors"] = cable.table.id
    return mapping(said)


def _own_cable(cable: Cable, common: Cable) -> str:
    """Return a run's own cable in full, its table where that is another."""
    said = {
        "active": number(cable.active_mm2),
        "neutral": number(cable.neutral_mm2),
        "earth": number(cable.earth_mm2),
    }
    if cable.table.id != common.table.id:
        said |= {"material": cable.table.material, "conductors": cable.table.id}
    return mapping(said)


def _point(point: Point) -> str:
    said: dict[str, str] = {"kind": point.kind}
    if point.switched and point.has_contacts:
        said["switched"] = "both" if "N" in point.switched else "true"
    if point.takes:
        (phase,) = point.takes
        said["phase"] = phase
    if point.floor:
        said["floor"] = str(point.floor)
    if point.room:
        said["room"] = text(point.room)
    if point.distance_m is not None:
        said["distance"] = number(point.distance_m)
    return mapping(said)


def _run(circuit: Circuit, run: Run, common: Cable) -> str:
    end = circuit.board if run.downstream == circuit.far_end else run.downstream
    said = {"from": text(run.upstream), "to": text(end), "length": number(run.length_m)}
    if run.cable != common:
        said["cable"] = _own_cable(run.cable, common)
    if run.carries:
        said["carries"] = sequence(run.carries)
    return mapping(said)


def _loads(circuit: Circuit) -> Iterator[str]:
    if circuit.loads:
        yield "loads:"
    for load in circuit.loads:
        yield f"  - {_load(load)}"


def _load(load: Load) -> str:
    if load.x_ohm:
        raise ValueError(f"a load with reactance at {load.at}, which no file can say")
    said = {"at": text(load.at), "between": "-".join(load.between), "ohms": number(load.r_ohm)}
    if load.what != "load":
        said["what"] = text(load.what)
    if load.is_fixed:
        said["fixed"] = "true"
    return mapping(said)
