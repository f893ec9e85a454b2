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
    cable: Share
    terminator: Share
    leads: Above
    leak: Above
    leak_of_pair: Above
    supply_volts: Share
    supply_ohms: Share
    cores: Share
    cores_of_pair: Share
    gain: Above
    scatter: Annotated[tuple[Above, ...], Field(min_length=1)]
    stated_scatter: Annotated[tuple[Above, ...], Field(min_length=1)]
    slip: Share
    band: Above
