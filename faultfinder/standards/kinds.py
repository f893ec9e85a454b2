"""What the files of `rules/limits`, `rules/regions` and `rules/conductors` may hold."""

from collections.abc import Mapping
from types import MappingProxyType

from faultfinder.standards.conductors import ConductorFile
from faultfinder.standards.files import StandardFile
from faultfinder.standards.insulation import InsulationFile
from faultfinder.standards.limit import LimitFile
from faultfinder.standards.limits import EarthFile, InternalFile, LoopFile
from faultfinder.standards.live_limits import (
    CurrentFile,
    DropFile,
    MeasuredFile,
    ResidualFile,
    TripFile,
)
from faultfinder.standards.regions import RegionFile

LIMIT_FILES: Mapping[str, type[LimitFile]] = MappingProxyType(
    {
        "earth-continuity": EarthFile,
        "earth-fault-loop": LoopFile,
        "fault-current": CurrentFile,
        "internal-loop": InternalFile,
        "measured-loop": MeasuredFile,
        "residual-loop": ResidualFile,
        "trip-time": TripFile,
        "voltage-drop": DropFile,
    }
)
"""The limits that are worked out; each needs code of its own."""


def standard_model(folder: str, id_: str) -> type[StandardFile]:
    """Return what a file of a folder may hold; a limit of any other id is one of insulation."""
    if folder == "limits":
        return LIMIT_FILES.get(id_, InsulationFile)
    return RegionFile if folder == "regions" else ConductorFile
