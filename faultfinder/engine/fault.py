"""What can go wrong between signs, facts and the rule engine; never passed over in silence."""

from collections.abc import Iterable


class EngineFault(Exception):  # noqa: N818 - a fault of the tool, told from bad input by its name
    """The rule engine, or what was given to it, cannot be relied on; no firing is valid."""


class EngineUnavailable(EngineFault):
    """The library that matches the rules cannot be loaded; the message says how to get it."""


class BadSigns(EngineFault):
    """Signs that mean nothing or exceed the engine; `.problems` holds a sentence for each."""

    def __init__(self, problems: Iterable[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(self.problems))


class BadFacts(EngineFault):
    """Facts stopped at the gate; `.problems` holds a sentence for each."""

    def __init__(self, problems: Iterable[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(self.problems))
