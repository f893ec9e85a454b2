"""How far the drawing, the terminators and the leads may be off, and how often a value is wrong."""

from typing import Annotated, Literal

from pydantic import Field

from faultfinder.rulebook.folder import Rule

Share = Annotated[float, Field(gt=0, lt=1)]
Above = Annotated[float, Field(gt=0)]


class Tolerances(Rule):
    """Standard deviations of errors that are not faults, as ``rules/tolerances.yaml`` gives them.

    ``run_length``, ``cable``, ``terminator``, the supply's volts and ohms, and the ``cores``'
    capacitance, of all pairs together and of each, are relative, ``leads`` is in ohm; ``leak`` and
    ``leak_of_pair`` are of the logarithm of sound insulation, of all pairs together and of each;
    ``gain`` and the two scatters are in units of the instrument's accuracy; ``slip`` is a chance;
    ``band`` is the half width of what counts as expected, in standard deviations.
    """

    kind: Literal["tolerances"]
    run_length: Share
    """A run's true length, as a share of the drawn one."""
    cable: Share
    """All runs together, as a share."""
    terminator: Share
    """A resistor at the board, as a share."""
    leads: Above
    """What nulling leaves of the leads. [ohm]"""
    leak: Above
    """Insulation of sound cable, all pairs together, as a natural logarithm."""
    leak_of_pair: Above
    """Insulation of each pair besides, as a natural logarithm."""
    supply_volts: Share
    """The supply's voltage, as a share."""
    supply_ohms: Share
    """The supply's own impedance where it was not measured, as a share."""
    cores: Share
    """Capacitance between cores, all pairs together, as a share."""
    cores_of_pair: Share
    """Capacitance of each pair besides, as a share."""
    gain: Above
    """An instrument's common error, in units of its accuracy."""
    scatter: Annotated[tuple[Above, ...], Field(min_length=1)]
    """Scatter of one reading, in units of the usual accuracy; sizes averaged over."""
    stated_scatter: Annotated[tuple[Above, ...], Field(min_length=1)]
    """The same where the case states the accuracy."""
    slip: Share
    """Chance that a reading is misread or miswritten."""
    band: Above
    """Half width of what counts as expected, in standard deviations."""
