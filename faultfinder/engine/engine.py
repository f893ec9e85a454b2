"""Signs tried on facts: every way in which every sign is met, and nothing else."""

from collections.abc import Sequence
from dataclasses import dataclass

from faultfinder.engine.adapter import Match, rule_set
from faultfinder.engine.compiling import batches, keyed
from faultfinder.engine.gate import admit
from faultfinder.rulebook.sign import Fact, Sign


@dataclass(frozen=True, slots=True, order=True)
class Firing:
    """One way in which a sign is met: for each pattern that is not absent, alias and fact id."""

    sign: str
    bound: tuple[tuple[str, str], ...]


class Engine:
    """Signs made ready for matching; make one and run it on as many sets of facts as needed.

    The library never gives rules back, so the same signs are held once a process, however many
    engines are made of them, and an engine made of new signs adds to the process for good.
    """

    def __init__(self, signs: Sequence[Sign]) -> None:
        self._ready = tuple(
            (batch, rule_set(batch.name, batch.rules(), batch.bound())) for batch in batches(signs)
        )

    def run(self, facts: Sequence[Fact]) -> tuple[Firing, ...]:
        """Return every match of every sign in these facts, sorted.

        Each run begins with nothing: no fact outlives it.
        Raises `BadFacts` for facts stopped at the gate, `EngineFault` if the library fails.
        """
        admit(facts)
        firings: list[Firing] = []
        known = keyed(facts)
        for batch, rules in self._ready:
            if not batch.may_fire(known):
                continue  # the library takes many times as long to find that out
            matches: list[Match] = []
            rules.run(batch.messages(facts), matches.append)
            for rule, places in matches:
                sign = batch.signs[rule]
                aliases = [pattern.alias for pattern in sign.patterns if not pattern.absent]
                ids = [str(facts[place]["id"]) for place in places]
                firings.append(Firing(sign.id, tuple(zip(aliases, ids, strict=True))))
        return tuple(sorted(firings))
