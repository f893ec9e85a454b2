"""A hypothesis about the test itself: how it was really set up, and where each row was really read.

Three things may differ from what the procedure and the notes say, beside the wiring: what was
fitted at the board, what the leads added, and which spot a reading was really taken at. A bench
reads all of them in one go with the edits of wiring faults: a staged edit is an edit too.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

from faultfinder.network.branch import Edit, Network
from faultfinder.readings.reading import Spot
from faultfinder.rulebook.procedures import Fit, leads
from faultfinder.wiring.circuit import IN_ORDER


@dataclass(frozen=True, slots=True)
class Noting:
    """Which spot each reading of a test was really taken at.

    Attributes
    ----------
    tests : frozenset of str
        The tests concerned.
    places : tuple of (str, str)
        Places as noted, and where the reading was really taken; empty for all, each in its place.
    switch : str
        The switch position whose rows alone are concerned; empty for all.
    turned : bool
        Whether on was noted for off and off for on.
    columns : tuple of (str, str)
        Conductors as noted, and which they really were.
    drawn : tuple of (str, tuple of str)
        For places exchanged on the drawing: what the switch of each breaks. A point takes its own
        switch along to its true place.
    """

    tests: frozenset[str]
    places: tuple[tuple[str, str], ...] = ()
    switch: str = ""
    turned: bool = False
    columns: tuple[tuple[str, str], ...] = ()
    drawn: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def really(self, spot: Spot) -> Spot | None:
        """Return where a reading was really taken; None where it must have been open."""
        at = dict(self.places).get(spot.at) if self.places else spot.at
        other_row = self.switch and spot.switch != self.switch
        if spot.test not in self.tests or at is None or other_row:
            return spot
        between = _renamed(spot.between, self.columns) if self.columns else spot.between
        switch = spot.switch
        if self.turned:
            switch = {"on": "off", "off": "on"}.get(switch, switch)
        if self.drawn:
            breaks = dict(self.drawn)
            first, second = leads(spot.between)
            if switch == "off" and set(breaks[spot.at]) & {*first, *second}:
                return None
            switch = "on" if breaks[at] else ""
        return Spot(spot.test, at, switch, between, spot.parted)


@cache
def _renamed(between: str, renamed: tuple[tuple[str, str], ...]) -> str:
    """Return what two leads were on with conductors renamed, in the usual order."""
    columns = dict(renamed)
    really = ([columns.get(conductor, conductor) for conductor in lead] for lead in leads(between))
    ends = [sorted(lead, key=IN_ORDER.index) for lead in really]
    ends.sort(key=lambda lead: IN_ORDER.index(lead[0]) if lead else len(IN_ORDER))
    return "-".join("+".join(lead) for lead in ends if lead)


@dataclass(frozen=True, slots=True)
class Staged:
    """An edit of the wiring, read with a mistake in the test.

    Attributes
    ----------
    make : callable
        The edit.
    fits : tuple of (str, tuple of Fit)
        What was really fitted at the board, by test, where it was not what the procedure says.
    leads_ohm : float
        What the leads add to every reading, in tests of resistance. [ohm]
    noting : Noting or None
        Where the readings were really taken, where they were not as noted.
    """

    make: Callable[[Network], Edit]
    fits: tuple[tuple[str, tuple[Fit, ...]], ...] = ()
    leads_ohm: float = 0.0
    noting: Noting | None = None

    def __call__(self, network: Network) -> Edit:
        """Return the edit of the wiring alone."""
        return self.make(network)

    @property
    def as_next_read(self) -> "Staged":
        """What the next readings are taken with: a slip of the pen is not made twice."""
        slip = self.noting is not None and not self.noting.drawn
        return replace(self, noting=None) if slip else self
