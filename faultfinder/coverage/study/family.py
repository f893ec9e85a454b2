"""A family of circuits as a file: what its circuits have in common, and what is read on them."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from faultfinder.readings.file import InstrumentFile, TerminatorsFile
from faultfinder.readings.reading import Instrument, Terminators
from faultfinder.readings.setting import USUAL_TERMINATORS
from faultfinder.rulebook.folder import refused
from faultfinder.rulebook.procedures import Procedure
from faultfinder.source.decode import Schema, decode
from faultfinder.source.document import load_yaml
from faultfinder.source.problem import listed, shown
from faultfinder.source.quantity import Metre
from faultfinder.source.shelf import Shelf
from faultfinder.source.spelling import nearest
from faultfinder.standards.regions import DEFAULT_REGION, Region, region
from faultfinder.standards.unknown import UnknownStandard
from faultfinder.wiring.cables import cable_of, check_sizes, table_of
from faultfinder.wiring.circuit import Cable, Device
from faultfinder.wiring.fittings import device_of
from faultfinder.wiring.report import Report
from faultfinder.wiring.schema import CableFile, DeviceFile

_MOST_OUTLETS = 60
Share = Annotated[float, Field(ge=0, le=1)]
Lengths = tuple[Metre, Metre]


class FamilyFile(Schema):
    """A family as written; two numbers in brackets are the least and the most."""

    format: Literal["1"] = "1"
    title: str = ""
    region: str = DEFAULT_REGION
    outlets: tuple[
        Annotated[int, Field(ge=1, le=_MOST_OUTLETS)], Annotated[int, Field(ge=1, le=_MOST_OUTLETS)]
    ] = (3, 8)
    branches: tuple[Annotated[int, Field(ge=0, le=9)], Annotated[int, Field(ge=0, le=9)]] = (0, 2)
    first_run: Annotated[Lengths, Field(alias="first run")] = (6.0, 25.0)
    next_runs: Annotated[Lengths, Field(alias="next runs")] = (2.0, 10.0)
    cables: Annotated[tuple[CableFile, ...], Field(min_length=1)] = (
        CableFile(active=2.5, earth=2.5),
    )
    device: DeviceFile = DeviceFile(curve="C", rating=20.0)
    switched: Share = 1.0
    faulty: Share = 0.8
    cases_each: Annotated[int, Field(ge=1, le=1000, alias="cases a circuit")] = 20
    tests: Annotated[tuple[str, ...], Field(min_length=1)] = ("terminated",)
    terminators: TerminatorsFile | None = None
    instrument: InstrumentFile = InstrumentFile()

    @model_validator(mode="after")
    def _least_before_most(self) -> "FamilyFile":
        for key in ("outlets", "branches", "first_run", "next_runs"):
            least, most = getattr(self, key)
            if least > most:
                words = key.replace("_", " ")
                raise refused(f"{words} from {least:g} to {most:g}", "the lesser first", (words,))
        return self


@dataclass(frozen=True, slots=True)
class Family:
    """A family ready to make cases of; see ``FamilyFile``. Lengths in m, shares from 0 to 1.

    ``cases_each`` cases in a row are of one circuit: what depends on the circuit alone is worked
    out once for them.

    ``digest`` is of the file's text: results of one family are not added to another's.
    """

    title: str
    region: Region
    outlets: tuple[int, int]
    branches: tuple[int, int]
    first_run_m: tuple[float, float]
    next_runs_m: tuple[float, float]
    cables: tuple[Cable, ...]
    device: Device
    switched: float
    faulty: float
    cases_each: int
    tests: tuple[str, ...]
    terminators: Terminators
    instrument: Instrument
    digest: str


def load_family(
    path: Path, procedures: Mapping[str, Procedure], shelf: Shelf | None = None
) -> Family:
    """Read a family of circuits.

    Raises
    ------
    BadInput
        With every problem of the file: of spelling, a region or a curve there is not, a test that
        is not dead, since a family has no supply, and a size of cable that no table has.
    """
    document = load_yaml(path)
    file = decode(document, FamilyFile)
    report = Report(document, shelf=shelf)
    dead = [test for test, procedure in procedures.items() if not procedure.is_live]
    for index, test in enumerate(file.tests):
        if test not in dead:
            found = f"no dead test {shown(test)}"
            report.say(("tests", index), "unknown-test", found, listed(dead), nearest(test, dead))
    try:
        rules = region(file.region, shelf)
    except UnknownStandard as error:
        report.unknown(("region",), error)
        raise report.bad_input() from error
    device = device_of(report, file.device, rules, ("device",))
    cables = []
    for index, cable in enumerate(file.cables):
        table = table_of(report, cable, rules, ("cables", index))
        if table is not None:
            check_sizes(report, cable, table, ("cables", index))
            cables.append(cable_of(report, None, cable, rules, table, ("cables", index)))
    if report.problems:
        raise report.bad_input()
    fitted = file.terminators.terminators() if file.terminators else USUAL_TERMINATORS
    return Family(
        title=file.title or path.stem,
        region=rules,
        outlets=file.outlets,
        branches=file.branches,
        first_run_m=file.first_run,
        next_runs_m=file.next_runs,
        cables=tuple(cable for cable in cables if cable is not None),
        device=device,
        switched=file.switched,
        faulty=file.faulty,
        cases_each=file.cases_each,
        tests=file.tests,
        terminators=fitted,
        instrument=file.instrument.instrument(),
        digest=hashlib.sha256(document.text.encode()).hexdigest(),
    )
