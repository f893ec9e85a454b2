"""Faults as people say them: mode, conductors, place, and ohms where a mode has them."""

import re
from dataclasses import dataclass

from faultfinder.source.problem import listed, shown
from faultfinder.source.spelling import nearest
from faultfinder.wiring.circuit import IN_ORDER, Circuit


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong.

    Attributes
    ----------
    mode : str
        Id of a fault mode, such as ``open``.
    conductors : tuple of str
        The conductors concerned, in A, N, E order; three mean a cyclic exchange in the order given.
    at : str
        A point (``S3``) or a run (``S3..S4``).
    r_ohm : float or None
        Resistance of the joint or bridge, where the mode has one. [ohm]
    to : str
        The other circuit, where the mode is one of two circuits.
    """

    mode: str
    conductors: tuple[str, ...]
    at: str
    r_ohm: float | None = None
    to: str = ""

    def __str__(self) -> str:
        """Return the fault as it is written on the command line."""
        words = [self.mode, "-".join(self.conductors), "at", self.at]
        words += ["to", self.to] if self.to else []
        if self.r_ohm is not None:
            words.append(f"{self.r_ohm:g} ohm")
        return " ".join(word for word in words if word)


class FaultSyntaxError(ValueError):
    """A fault that could not be read; says what was found, what was expected, the nearest."""

    def __init__(self, found: str, expected: str, nearest: str = "") -> None:
        """Keep the three parts apart for the command line to lay out."""
        super().__init__(found)
        self.found, self.expected, self.nearest = found, expected, nearest


_FORM = re.compile(
    r"(?P<mode>[A-Za-z0-9-]+)"
    r"(?: (?P<conductors>[A-Za-z][0-9]?(?: ?- ?[A-Za-z][0-9]?)*))?"
    r" (?:at|in) (?:run )?(?P<at>\S+)"
    r"(?: to (?P<to>\S+))?"
    r"(?: (?P<ohms>.+))?"
)
_CYCLIC = 3  # conductors that exchange places make a round
_EXAMPLE = '"open E at S3..S4" or "bridged A-E at S2 0.1 ohm"'


def in_order(conductors: tuple[str, ...]) -> tuple[str, ...]:
    """Return conductors in A, N, E order; a cyclic exchange keeps its direction."""
    if len(conductors) >= _CYCLIC:
        start = conductors.index(min(conductors, key=IN_ORDER.index))
        return conductors[start:] + conductors[:start]
    return tuple(sorted(conductors, key=IN_ORDER.index))


def parse_fault(text: str, circuit: Circuit) -> tuple[Fault, str]:
    """Read a fault as it is said; return it without ohms, and the text of the ohms ("" if none).

    Raises
    ------
    FaultSyntaxError
        If it is not a fault, or names a conductor or place the circuit does not have.
    """
    match = _FORM.fullmatch(" ".join(text.split()))
    if match is None:
        found = f"{shown(text)} is not a fault" if text.strip() else "nothing is written here"
        raise FaultSyntaxError(found, f"MODE CONDUCTORS at PLACE: {_EXAMPLE}")
    conductors = tuple(re.findall("[A-Z][0-9]?", (match["conductors"] or "").upper()))
    known = circuit.all_conductors
    for conductor in conductors:
        if conductor not in known:
            raise FaultSyntaxError(
                f'unknown conductor "{conductor}"', f"one of {', '.join(known)}, joined by -"
            )
    if len(set(conductors)) != len(conductors):
        raise FaultSyntaxError(f'"{"-".join(conductors)}" names a conductor twice', _EXAMPLE)
    at = match["at"]
    run = circuit.run(at) if ".." in at else None
    if run is not None:
        at = run.name
    elif circuit.point(at) is None:
        places = [p.name for p in circuit.points] + [r.name for r in circuit.runs]
        raise FaultSyntaxError(
            f"no point or run {shown(at)}", f"one of {', '.join(places)}", nearest(at, places)
        )
    to = match["to"] or ""
    if to and to not in circuit.neighbours:
        raise FaultSyntaxError(
            f"no other circuit {shown(to)} on board {circuit.board}",
            listed(circuit.neighbours) if circuit.neighbours else "an installation with several",
            nearest(to, circuit.neighbours),
        )
    return Fault(match["mode"].lower(), in_order(conductors), at, to=to), match["ohms"] or ""
