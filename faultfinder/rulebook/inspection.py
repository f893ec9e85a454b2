"""What is done without reading: opening to look, parting a circuit, mending, and walking there."""

from typing import Annotated, Literal

from pydantic import Field

from faultfinder.rulebook.folder import Rule, Sentence
from faultfinder.rulebook.procedures import Effort
from faultfinder.source.decode import Schema

Chance = Annotated[float, Field(gt=0, lt=1)]
Minutes = Annotated[float, Field(gt=0, le=10_000)]
Steps = Annotated[tuple[Sentence, ...], Field(min_length=1)]


class Seen(Schema):
    """Chance that a look shows a fault: of one in this point, and of one in a run that ends here.

    A run's fault may be at either end, so that both ends together show it less often than a look
    at a point shows the point's own.
    """

    here: Chance
    run: Chance
    why: Sentence


class Inspection(Rule):
    """What looking costs, shows and how it is done, as ``rules/inspect.yaml`` declares it."""

    kind: Literal["inspection"]
    minutes: Effort
    seen: Seen
    steps: Steps
    cautions: Steps


class Separation(Rule):
    """Parting the circuit to read either half, as ``rules/part.yaml`` declares it.

    ``tests`` are those that are read then, at the board and at the far end of the run parted.
    ``minutes`` are those at the joint, putting it back included.
    """

    kind: Literal["separation"]
    tests: Annotated[tuple[str, ...], Field(min_length=1)]
    minutes: Minutes
    steps: Steps
    cautions: Steps


class RepairEffort(Schema):
    """Minutes that a repair takes, the test after it included: at a point, of a run.

    ``call_back`` is what it costs to leave a circuit as sound that is not.
    """

    point: Minutes
    run: Minutes
    call_back: Minutes
    why: Sentence


class Repair(Rule):
    """A repair at the likeliest place, as ``rules/repair.yaml`` declares it.

    ``exchange`` says how a point is exchanged for a known-good one, ``remake`` how a run is mended.
    """

    kind: Literal["repair"]
    minutes: RepairEffort
    exchange: Steps
    remake: Steps
    cautions: Steps


class Walking(Rule):
    """How long it takes from place to place, as ``rules/walk.yaml`` declares it."""

    kind: Literal["walking"]
    metres_per_minute: Annotated[float, Field(gt=0)]
    room: Annotated[float, Field(ge=0)]
    floor: Annotated[float, Field(ge=0)]
    why: Sentence
