"""The kinds of rule files there are: what each is called, where it is, and what it may hold."""

from dataclasses import dataclass

from pydantic import BaseModel

from faultfinder.coverage.plan import PlanFile
from faultfinder.readings.file import CaseFile
from faultfinder.rulebook.inspection import Inspection, Repair, Separation, Walking
from faultfinder.rulebook.modes import FaultMode
from faultfinder.rulebook.own import ConfigFile
from faultfinder.rulebook.procedures import Procedure
from faultfinder.rulebook.setups import SetUp
from faultfinder.rulebook.signs import SignFile
from faultfinder.rulebook.tolerances import Tolerances
from faultfinder.standards.conductors import ConductorFile
from faultfinder.standards.insulation import InsulationFile
from faultfinder.standards.kinds import LIMIT_FILES
from faultfinder.standards.regions import RegionFile
from faultfinder.wiring.installation_schema import InstallationFile


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file.

    Attributes
    ----------
    id : str
        The word after ``kind:`` in its files, and the name of its schema.
    where : str
        The folder or the file in ``rules/``.
    title : str
        What it is, for people.
    models : tuple of model
        What such a file may hold: one of these.
    """

    id: str
    where: str
    title: str
    models: tuple[type[BaseModel], ...]


KINDS = (
    Kind("fault-mode", "faults/", "Fault modes", (FaultMode,)),
    Kind("signs", "signs/", "Signs", (SignFile,)),
    Kind("test", "tests/", "Tests", (Procedure,)),
    Kind("set-up", "set-ups/", "Set-up mistakes", (SetUp,)),
    Kind("plan", "plans/", "Plans of tests", (PlanFile,)),
    Kind(
        "limit",
        "limits/",
        "Limits",
        (InsulationFile, *sorted(set(LIMIT_FILES.values()), key=lambda model: model.__name__)),
    ),
    Kind("region", "regions/", "Regions", (RegionFile,)),
    Kind("conductor-table", "conductors/", "Conductor tables", (ConductorFile,)),
    Kind("lesson", "lessons/", "Lessons", (CaseFile,)),
    Kind("inspection", "inspect.yaml", "The inspection", (Inspection,)),
    Kind("separation", "part.yaml", "Parting a circuit", (Separation,)),
    Kind("repair", "repair.yaml", "The repair", (Repair,)),
    Kind("walking", "walk.yaml", "Walking", (Walking,)),
    Kind("tolerances", "tolerances.yaml", "Tolerances", (Tolerances,)),
    Kind("example", "example.yaml", "The example circuits", (InstallationFile,)),
    Kind("config", "faultfinder.yaml", "Your own settings", (ConfigFile,)),
)


def kind_of(name: str) -> Kind:
    """Return the kind of a rule by its name, ``faults/open`` or ``tolerances``."""
    folder, slash, _ = name.partition("/")
    where = f"{folder}/" if slash else f"{name}.yaml"
    return next(kind for kind in KINDS if kind.where == where)
