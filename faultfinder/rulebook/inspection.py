"""Opening an accessory to look: a check that needs no instrument."""

from typing import Annotated, Literal

from pydantic import Field

from faultfinder.rulebook.folder import Rule, Sentence
from faultfinder.rulebook.procedures import Effort


class Inspection(Rule):
    """What looking costs and how it is done, as ``rules/inspect.yaml`` declares it."""

    kind: Literal["inspection"]
    minutes: Effort
    """What it costs."""
    steps: Annotated[tuple[Sentence, ...], Field(min_length=1)]
    """How it is done."""
    cautions: Annotated[tuple[Sentence, ...], Field(min_length=1)]
    """What to mind."""
