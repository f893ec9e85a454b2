"""Every fault the rule files know, at every place of a circuit: the hypotheses of a diagnosis."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, log
from typing import Protocol

from faultfinder.network.branch import Edit, MakeEdit, Network
from faultfinder.network.edits import Step, fault_edit
from faultfinder.rulebook.modes import FaultMode
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault


def no_edit(_network: Network) -> Edit:
    """Return the edit of a sound circuit."""
    return {}


class Way(Protocol):
    """One way a hypothesis can have come about, with its share among the others."""

    @property
    def weight(self) -> float:
        """Its share; those of one hypothesis sum to one."""

    def edit(self, r_ohm: float = 0.0) -> MakeEdit:
        """Return the edit that makes it with these ohms."""


@dataclass(frozen=True, slots=True)
class BuiltWay:
    """One way a fault can be built, ready to edit a network for given ohms."""

    circuit: Circuit
    fault: Fault
    steps: tuple[Step, ...]
    weight: float

    @property
    def along(self) -> float | None:
        """How far along its run it lies, as a share of the run; None where it lies in none."""
        bridges = (step.along for step in self.steps if step.action == "bridge")
        return next(bridges, None) if self.circuit.run(self.fault.at) else None

    def placed(self, along: float, weight: float) -> "BuiltWay":
        """Return the same elsewhere along its run, with another weight."""
        steps = tuple(replace(step, along=along) for step in self.steps)
        return replace(self, steps=steps, weight=weight)

    def edit(self, r_ohm: float = 0.0) -> MakeEdit:
        """Return the edit that builds it with these ohms."""

        def make(network: Network) -> Edit:
            return fault_edit(network, self.circuit, self.steps, self.fault, r_ohm)

        return make


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One thing that may be the matter, one fault or several; the sound circuit has none.

    Attributes
    ----------
    faults : tuple of Fault
        What is wrong, without ohms.
    ways : tuple of Way
        The ways it can be built; their weights sum to one.
    ohms : (float, float) or None
        Range of its ohms, where it has any. [ohm]
    log_prior : float
        Natural logarithm of its prior chance.
    ohms_of : int
        Which of its faults the ohms belong to.
    """

    faults: tuple[Fault, ...]
    ways: tuple[Way, ...]
    ohms: tuple[float, float] | None
    log_prior: float
    ohms_of: int = 0


@dataclass(frozen=True, slots=True)
class _Place:
    """A mode at one place of a circuit: how it can be built there, and how likely it is.

    Each way has its steps and its share; ``chance`` is of all choices of conductors together.
    """

    ways: tuple[tuple[tuple[Step, ...], float], ...]
    chance: float
    choices: int
    ohms: tuple[float, float] | None

    @classmethod
    def of(cls, mode: FaultMode, circuit: Circuit, at: str) -> "_Place":
        ways = mode.ways_at(circuit, at)
        whole = sum(way.weight for way in ways)
        return cls(
            tuple((tuple(rule.step() for rule in way.steps), way.weight / whole) for way in ways),
            mode.chance(circuit, at),
            len(mode.choices(circuit.conductors_at(at))),
            (mode.ohms.from_ohm, mode.ohms.to_ohm) if mode.ohms else None,
        )

    def hypothesis(self, circuit: Circuit, fault: Fault) -> Hypothesis:
        ways = tuple(BuiltWay(circuit, fault, steps, share) for steps, share in self.ways)
        return Hypothesis((fault,), ways, self.ohms, log(self.chance / self.choices))


def hypothesis(mode: FaultMode, circuit: Circuit, fault: Fault) -> Hypothesis:
    """Return the hypothesis of one fault of a mode."""
    return _Place.of(mode, circuit, fault.at).hypothesis(circuit, fault)


def catalogue(
    circuit: Circuit,
    modes: Sequence[FaultMode],
    pointed: Sequence[Fault] = (),
    mistakes: Sequence[Hypothesis] = (),
) -> tuple[Hypothesis, ...]:
    """Return the sound circuit, every fault of the modes, those signs point to, and the mistakes.

    The sound circuit comes first, the set-up mistakes given last. All are held independent, so
    that the sound circuit's chance is what their chances leave. A sign's fault is judged like any
    other, if its mode can be there.
    """
    by_id = {mode.id: mode for mode in modes}
    listed = [fault for mode in modes for fault in mode.faults(circuit)]
    faults = dict.fromkeys([*listed, *(fault for fault in pointed if fault.mode in by_id)])
    places = {
        (mode, at): _Place.of(by_id[mode], circuit, at)
        for mode, at in dict.fromkeys((fault.mode, fault.at) for fault in faults)
    }
    there = ((fault, places[fault.mode, fault.at]) for fault in faults)
    found = [place.hypothesis(circuit, fault) for fault, place in there if place.chance > 0]
    log_sound = sum(log(1 - place.chance) for place in places.values())
    log_sound += sum(log(1 - exp(mistake.log_prior)) for mistake in mistakes)
    return (Hypothesis((), (), None, log_sound), *found, *mistakes)
