"""Cables in files: which table they are of, and whether it has their sizes."""

from faultfinder.source.document import KeyPath
from faultfinder.standards.conductors import ConductorTable, conductor_table
from faultfinder.standards.gauge import is_gauge
from faultfinder.standards.regions import Region
from faultfinder.standards.unknown import UnknownStandard
from faultfinder.wiring.circuit import Cable
from faultfinder.wiring.report import Report
from faultfinder.wiring.schema import CableFile, OwnCableFile


def cable_of(
    report: Report,
    own: OwnCableFile | None,
    cable: CableFile,
    rules: Region,
    common: ConductorTable,
    path: KeyPath,
) -> Cable | None:
    """Return the cable of a run: the circuit's, with what the run says instead."""
    table = common
    if own is not None:
        cable = cable.with_own(own)
        named = table_of(report, cable, rules, path)
        if named is None:
            return None
        table = named
        # What it has from the circuit's cable was looked up there, in the same table.
        check_sizes(report, own if table is common else cable, table, path)
    neutral = cable.active if cable.neutral is None else cable.neutral
    earth = cable.active if cable.earth is None else cable.earth
    return Cable(cable.active, neutral, earth, table)


def table_of(
    report: Report, cable: CableFile, rules: Region, path: KeyPath
) -> ConductorTable | None:
    """Return the conductor table of a cable."""
    try:
        if cable.conductors is None and _is_by_gauge(cable):
            return conductor_table(f"awg-{cable.material or 'copper'}", rules.shelf)
        if cable.conductors is None:
            return rules.conductor_table(cable.material or "copper")
        table = conductor_table(cable.conductors, rules.shelf)
    except UnknownStandard as error:
        report.unknown((*path, "conductors" if cable.conductors else "material"), error)
        return None
    if cable.material not in {None, table.material}:
        report.say(
            (*path, "conductors"),
            "impossible-value",
            f"{table.id} is a table of {table.material}, not of {cable.material}",
            f"material: {table.material}, or another table",
        )
    return table


def _is_by_gauge(cable: CableFile) -> bool:
    sizes = (cable.active, cable.neutral, cable.earth)
    return any(size is not None and is_gauge(size) for size in sizes)


def check_sizes(report: Report, cable: OwnCableFile, table: ConductorTable, path: KeyPath) -> None:
    """Report the sizes of a cable that its table does not have."""
    for conductor in ("active", "neutral", "earth"):
        area_mm2 = getattr(cable, conductor)
        try:
            if area_mm2 is not None:
                table.row(area_mm2)
        except UnknownStandard as error:
            report.unknown((*path, conductor), error)
