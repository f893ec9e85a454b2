"""The outcome of a diagnosis: an immutable value that every view renders."""

from dataclasses import dataclass, field
from typing import Literal

from faultfinder.diagnosis.prospect import Prospect
from faultfinder.evidence.grading import GradedReading
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Spot
from faultfinder.wiring.fault import Fault

Verdict = Literal["sound", "fault", "unexplained"]
Standing = Literal[
    "leads",
    "one of the leader's faults",
    "cannot be told from the leader",
    "less likely",
    "ruled out",
    "not shown by these readings",
]
"""How a fault that was asked about stands beside the leading suspect."""

Risk = Literal["dead", "dead with supply nearby", "live"]


@dataclass(frozen=True, slots=True)
class Decisive:
    """A reading that speaks for one suspect against a rival.

    Attributes
    ----------
    reading : GradedReading
        As read.
    with_it, with_rival : float
        What it should be with either, in the test's unit; infinity for open.
    rival_off_sd : float
        How far it is from the rival's, in standard deviations: of its scatter, errors that readings
        share being settled, or where those cannot explain it of all errors; infinite for open
        against a value.
    """

    reading: GradedReading
    with_it: float
    with_rival: float
    rival_off_sd: float


@dataclass(frozen=True, slots=True)
class Contrast:
    """The readings that decide most against a rival, whose rank is given."""

    rival: int
    readings: tuple[Decisive, ...]


@dataclass(frozen=True, slots=True)
class RankedSuspect:
    """Something that may be the matter, with everything said about it.

    Attributes
    ----------
    rank, group : int
        1 is the first; suspects of one group cannot be told apart by the readings given.
    probability : float
        Share of all hypotheses.
    faults : tuple of Fault
        What is wrong, with the wiring or with the test; empty for the sound circuit.
    ohms : tuple of ((float, float) or None)
        90 % interval of each fault's ohms, where it has any. [ohm]
    title : str
        The fault in plain words.
    supported_by, spoken_against_by : tuple of str
        Readings for and against, quoted with what they should be.
    signs : tuple of str
        Ids of the signs that point to it.
    reason, look_for, remedy : str
        Why it is thought of, what to look for there, and how it is mended.
    retest, cautions : tuple of str
        Tests to repeat after the repair, and what to mind.
    sunk_by : Decisive or None
        Outside the leading group: the reading that speaks most for the leader against it.
    """

    rank: int
    group: int
    probability: float
    title: str
    supported_by: tuple[str, ...]
    spoken_against_by: tuple[str, ...]
    reason: str
    faults: tuple[Fault, ...] = ()
    ohms: tuple[tuple[float, float] | None, ...] = ()
    signs: tuple[str, ...] = ()
    look_for: str = ""
    remedy: str = ""
    retest: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sunk_by: Decisive | None = None

    @property
    def is_set_up(self) -> bool:
        """Whether a mistake in the test is part of it."""
        return any(fault.set_up for fault in self.faults)

    @property
    def is_wiring(self) -> bool:
        """Whether a fault of the wiring is part of it."""
        return any(not fault.set_up for fault in self.faults)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One thing a check may show, and under which suspects it would.

    Attributes
    ----------
    group : int
        Group of the most probable of them.
    value : float or str
        What that one would show: a value in the check's unit, infinity for open, or words.
    suspects : tuple of int
        Their ranks.
    """

    group: int
    value: float | str
    suspects: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class NextCheck:
    """Something to do that tells suspects apart.

    Attributes
    ----------
    rank : int
        1 is the first to do.
    test : str
        Id of a test, ``inspect``, ``exchange`` for a repair tried, or ``set-up`` for a look at how
        the test is set up.
    spot : Spot
        What to read; for an inspection, where to look (``between`` is empty).
    unit : str
        Unit of the outcomes.
    why : str
        What it decides.
    outcomes : tuple of Outcome
        What it may show; suspects it cannot tell apart are together.
    information_bits : float
        How much it is expected to tell.
    minutes : float
        What it costs, setting up included.
    risk : Risk
        How dangerous it is.
    steps, cautions : tuple of str
        How it is done, and what to mind.
    also : tuple of Spot
        Other pairs that are read along with it, at the same place and arrangement.
    """

    rank: int
    test: str
    spot: Spot
    unit: str
    why: str
    outcomes: tuple[Outcome, ...]
    information_bits: float
    minutes: float
    risk: Risk
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    also: tuple[Spot, ...] = ()


@dataclass(frozen=True, slots=True)
class Why:
    """How a fault that somebody named stands, and why.

    Attributes
    ----------
    asked : str
        As asked.
    fault : Fault
        At the ohms that suit the readings best, where it has any.
    title : str
        In plain words.
    standing : Standing
        Beside the leading suspect.
    probability, prior : float
        Its share of all hypotheses after the readings, and its chance before them.
    decisive : tuple of Decisive
        Readings that sank it; of the leader itself, those that speak for it against the runner-up.
    nats_behind : float
        By how much the readings together speak more for the leader, whatever the chances were
        before: a difference of log likelihoods.
    check : NextCheck or None
        What would tell it from the leader; of the leader itself, from the runner-up.
    """

    asked: str
    fault: Fault
    title: str
    standing: Standing
    probability: float
    prior: float
    decisive: tuple[Decisive, ...]
    nats_behind: float
    check: NextCheck | None


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What the readings of a case say.

    ``not_read`` names outlets, and switches not tried, of which the readings say nothing.
    ``unseen`` is the probability left for faults that these readings cannot show, and ``repeat``
    holds the readings to take again, since the leading suspect does not explain them. ``contrast``
    holds the leader against the runner-up group, ``alike`` says why the leading group cannot be
    told apart, and ``why`` answers for the faults that were asked about. ``prospect`` is what the
    next checks were planned on.
    """

    case: Case
    verdict: Verdict
    readings: tuple[GradedReading, ...]
    suspects: tuple[RankedSuspect, ...]
    next_checks: tuple[NextCheck, ...]
    cautions: tuple[str, ...]
    not_read: tuple[str, ...]
    unseen: float
    repeat: tuple[GradedReading, ...] = ()
    contrast: Contrast | None = None
    alike: str = ""
    why: tuple[Why, ...] = ()
    prospect: Prospect | None = field(default=None, repr=False, compare=False)

    @property
    def outside_limit(self) -> tuple[GradedReading, ...]:
        """The readings that a standard does not allow."""
        return tuple(reading for reading in self.readings if reading.within_limit is False)

    @property
    def leading(self) -> tuple[RankedSuspect, ...]:
        """The suspects of the leading group."""
        return tuple(suspect for suspect in self.suspects if suspect.group == 1)

    @property
    def anything_wrong(self) -> bool:
        """Whether a fault was found, or a reading lies outside its limit."""
        return self.verdict != "sound" or bool(self.outside_limit)
