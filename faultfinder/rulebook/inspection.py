"""What is done without reading: opening to look, parting a circuit, mending, and walking there."""

from typing import Annotated, Literal

from pydantic import Field

from faultfinder.rulebook.folder import Rule, Sentence
from faultfinder.rulebook.procedures import Effort
from faultfinder.rulebook.spoken import Told
from faultfinder.source.decode import Schema

Chance = Annotated[float, Field(gt=0, lt=1)]
Minutes = Annotated[float, Field(gt=0, le=10_000)]
Steps = Annotated[tuple[Told, ...], Field(min_length=1)]


class Seen(Schema):
    """Chance that a look shows a fault: of one in this point, and of one in a run that ends here.

    A run's fault may be at either end, so that a look at one end shows it less often than a look
    at a point shows the point's own.
    """

    here: Chance
    """Of a fault in the point that is opened."""
    run: Chance
    """Of a fault in a run that ends there."""
    why: Sentence
    """Where these are from."""


class BoardLook(Schema):
    """How a board is looked into: the rest of it is live."""

    steps: Steps
    """How it is done."""
    cautions: Steps
    """What to mind, at a repair there too."""


class Inspection(Rule):
    """What looking costs, shows and how it is done, as ``rules/inspect.yaml`` declares it."""

    kind: Literal["inspection"]
    """Always ``inspection``."""
    minutes: Effort
    """What it costs."""
    seen: Seen
    """How surely it shows what is there."""
    steps: Steps
    """How it is done."""
    cautions: Steps
    """What to mind."""
    board: BoardLook
    """The same at a board."""


class Separation(Rule):
    """Parting the circuit to read either half, as ``rules/part.yaml`` declares it."""

    kind: Literal["separation"]
    """Always ``separation``."""
    tests: tuple[str, ...]
    """Ids of tests that are read then, at the board and at the far end of the run parted."""
    minutes: Minutes
    """What it takes at the joint, putting it back included."""
    steps: Steps
    """How it is done."""
    cautions: Steps
    """What to mind."""


class RepairEffort(Schema):
    """Minutes that a repair takes, the test after it included."""

    point: Minutes
    """Of a point."""
    run: Minutes
    """Of a run."""
    call_back: Minutes
    """Of leaving a circuit as sound that is not."""
    why: Sentence
    """Where these are from."""


class Repair(Rule):
    """A repair at the likeliest place, as ``rules/repair.yaml`` declares it."""

    kind: Literal["repair"]
    """Always ``repair``."""
    minutes: RepairEffort
    """What it costs if it is at the wrong place."""
    exchange: Steps
    """How a point is exchanged for a known-good one."""
    remake: Steps
    """How a run is mended."""
    cautions: Steps
    """What to mind."""


class Walking(Rule):
    """How long it takes from place to place, as ``rules/walk.yaml`` declares it."""

    kind: Literal["walking"]
    """Always ``walking``."""
    metres_per_minute: Annotated[float, Field(gt=0)]
    """The pace, along the cable where nothing else is said."""
    room: Annotated[float, Field(ge=0)]
    """Minutes between two places in one room."""
    floor: Annotated[float, Field(ge=0)]
    """Minutes for each floor up or down."""
    why: Sentence
    """Where these are from."""
