"""What a plan of tests can find: an immutable value that every view renders.

The shares are those of IEEE Std 1522-2004, Testability and Diagnosability Characteristics and
Metrics (definitions from memory): the fraction of faults detected is the sum of the rates of the
faults detected over that of all, and the fraction isolated to L or fewer items the sum of the rates
of those isolated so far over that of the faults *detected*. The second is given over all faults
too, since a plan that sees little isolates what it sees easily. Rates are the prior chances of the
rule files; an item is a repair place: a run, or a point.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from faultfinder.coverage.plan import Plan
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault

MOST_PLACES = 3
"""Isolation is told up to so many places."""

Ohms = tuple[float, float]


@dataclass(frozen=True, slots=True)
class FaultCover:
    """What a plan does about one fault.

    Attributes
    ----------
    fault : Fault
        Without ohms.
    prior : float
        Its chance.
    detected : float
        Chance that the plan's readings show it, over all its ohms and ways.
    isolated : tuple of float
        Chance that they show it and leave at most 1, 2, 3 places.
    places : int
        Places it is usually left among, its own included; 0 where it is never seen.
    ohms : (float, float) or None
        The range of its ohms, where it has any. [ohm]
    seen : tuple of (float, float)
        Ranges of ohms in which it is seen nine times in ten, built the likeliest way. [ohm]
    moves : bool
        Whether any reading of the plan changes with it at all.
    """

    fault: Fault
    prior: float
    detected: float
    isolated: tuple[float, ...]
    places: int
    ohms: Ohms | None = None
    seen: tuple[Ohms, ...] = ()
    moves: bool = True


@dataclass(frozen=True, slots=True)
class AmbiguityGroup:
    """Faults that the plan's readings cannot tell from the first of them, over most of its ohms.

    ``same`` says whether the readings are the same with any of them, or only too close to tell.
    """

    faults: tuple[Fault, ...]
    prior: float
    same: bool = True

    @property
    def places(self) -> tuple[str, ...]:
        """Where they are, each once."""
        return tuple(dict.fromkeys(fault.at for fault in self.faults))


@dataclass(frozen=True, slots=True)
class Coverage:
    """What a plan detects and isolates on a circuit.

    Attributes
    ----------
    circuit, plan
        What was asked about.
    by : str
        Who judges: the ``model``, or the ``rules``, that is the signs alone.
    false_alarm : float
        Chance allowed that a sound circuit is called faulty.
    minutes : float
        What the plan costs.
    faults : tuple of FaultCover
        Every fault of the catalogue.
    groups : tuple of AmbiguityGroup
        Every fault that is seen at all is in one.
    detected : float
        Share detected, by prior.
    attainable : float or None
        What no test of the same readings can exceed with as many false alarms, by prior; not known
        where signs judge.
    isolated : mapping of int to float
        Share of the detected that is isolated to at most so many places, by prior.
    isolated_of_all : mapping of int to float
        The same as a share of all faults.
    isolated_to_open : mapping of int to float
        Share of the detected that leaves at most so many points to open first, by prior; what is in
        a run is looked for at the point it feeds.
    """

    circuit: Circuit
    plan: Plan
    by: str
    false_alarm: float
    minutes: float
    faults: tuple[FaultCover, ...]
    groups: tuple[AmbiguityGroup, ...]
    detected: float
    attainable: float | None
    isolated: Mapping[int, float]
    isolated_of_all: Mapping[int, float]
    isolated_to_open: Mapping[int, float]

    @property
    def detected_without_ohms(self) -> float:
        """Share detected of the faults that have no ohms, by prior."""
        return share([one for one in self.faults if one.ohms is None])

    @property
    def modes(self) -> tuple[str, ...]:
        """The fault modes there are, in the order of the rule files."""
        return tuple(dict.fromkeys(one.fault.mode for one in self.faults))

    def by_place(self) -> dict[str, dict[str, list[FaultCover]]]:
        """Return the faults by place and mode: the board, runs, points."""
        circuit = self.circuit
        names = [run.name for run in circuit.runs] + [point.name for point in circuit.points]
        places = [circuit.board, *names]
        found: dict[str, dict[str, list[FaultCover]]] = {place: {} for place in places}
        for one in self.faults:
            found[one.fault.at].setdefault(one.fault.mode, []).append(one)
        return {place: modes for place, modes in found.items() if modes}

    def detected_of(self, mode: str) -> float:
        """Return the share detected of the faults of one mode, by prior."""
        return share([one for one in self.faults if one.fault.mode == mode])


def share(faults: Sequence[FaultCover]) -> float:
    """Return the share detected of some faults, by prior; one of none."""
    whole = sum(one.prior for one in faults)
    return sum(one.prior * one.detected for one in faults) / whole if whole else 1.0


def most_places(faults: Sequence[FaultCover]) -> int:
    """Return the most places that any of some faults is usually left among; 0 if none is seen."""
    return max(one.places for one in faults)
