"""What an installation file may say: its supply, boards, circuits, and metal between earths."""

from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from faultfinder.source.decode import Schema, YesNo
from faultfinder.source.quantity import Ampere, Metre, Milliampere, Ohm, OhmOrZero, Volt
from faultfinder.standards.regions import DEFAULT_REGION
from faultfinder.wiring.installation import System
from faultfinder.wiring.schema import CableFile, DeviceFile, Name

Phases = Literal["one", "split", "three"]


class ImpedanceFile(Schema):
    """``{r: 0.1 ohm, x: 0.02 ohm}``."""

    r: OhmOrZero
    x: OhmOrZero = 0.0


class SupplyFile(Schema):
    """``supply: {system: TN-C-S, loop: 0.35 ohm}``, or ``line``, ``neutral``, ``earth`` apart.

    ``loop`` is the external earth fault loop impedance, shared evenly between the way out and the
    way back. ``fault-current`` says the same in another way: the nominal voltage over the loop.
    """

    system: System
    voltage: Annotated[Volt, Field(le=1000)] | None = None
    phases: Phases = "one"
    frequency: Literal["50", "60", "50 Hz", "60 Hz"] = "50"
    loop: Ohm | None = None
    fault_current: Annotated[Ampere | None, Field(alias="fault-current")] = None
    line: ImpedanceFile | None = None
    neutral: ImpedanceFile | None = None
    earth: ImpedanceFile | None = None
    electrode: Ohm | None = None

    @model_validator(mode="after")
    def _is_said_once(self) -> "SupplyFile":
        said = [
            key
            for key, value in (
                ("loop", self.loop),
                ("fault-current", self.fault_current),
                ("line", self.line),
            )
            if value is not None
        ]
        if len(said) > 1:
            raise _refused(
                f"the supply's impedance is said twice: {' and '.join(said)}",
                "loop, or fault-current, or line with neutral and earth",
                said[1],
            )
        if self.line is None and (self.neutral or self.earth):
            raise _refused("neutral or earth of a supply without its line", "line: {r: 0.1 ohm}")
        if self.system == "TT" and self.electrode is None:
            raise _refused(
                "a TT installation without an earth electrode", "electrode: 100 ohm", "system"
            )
        return self


class FeederFile(Schema):
    """How a sub-board is fed: ``{from: DB, length: 18, cable: {active: 10, earth: 4}}``."""

    start: Annotated[str, Field(alias="from")]
    length: Annotated[Metre, Field(ge=0.001, le=10_000)]
    cable: CableFile
    device: DeviceFile | None = None


class BoardFile(Schema):
    """``DB: {link: true}``, or a sub-board's ``SB: {feeder: {from: DB, …}}``.

    ``link`` joins neutral and earth bars; without it that is as the supply's system has it.
    """

    link: YesNo | None = None
    rcd: Annotated[Milliampere, Field(ge=1, le=100_000)] | None = None
    selective: YesNo = False
    feeder: FeederFile | None = None


class EarthPathFile(Schema):
    """``{what: water pipe, from: K3, to: DB, ohms: 0.4}``."""

    what: Annotated[str, Field(min_length=1)]
    start: Annotated[str, Field(alias="from")]
    end: Annotated[str, Field(alias="to")]
    ohms: OhmOrZero


class ElsewhereFile(Schema):
    """``kitchen: {file: kitchen.yaml, phase: L1}``: a circuit file, and which active feeds it."""

    file: Annotated[str, Field(min_length=1)]
    phase: Literal["L1", "L2", "L3"] | None = None


class InstallationFile(Schema):
    """An installation, but for its circuits, which are decoded one by one."""

    format: Literal["1"] = "1"
    installation: str
    region: str = DEFAULT_REGION
    supply: SupplyFile
    boards: Annotated[dict[Name, BoardFile], Field(min_length=1)]
    circuits: Annotated[dict[Name, str | dict[str, object]], Field(min_length=1)]
    earth_paths: Annotated[tuple[EarthPathFile, ...], Field(alias="earth-paths")] = ()


def _refused(found: str, expected: str, at: str = "") -> PydanticCustomError:
    parts = {"found": found, "expected": expected, "nearest": "", "at": (at,) if at else ()}
    return PydanticCustomError("impossible-value", "{found}", parts)
