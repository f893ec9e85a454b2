"""Faults as people say them: mode, conductors, place, and ohms where a mode has them."""

import re
from collections.abc import Collection
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
        A point (``S3``), a run (``S3..S4``), or the board (``DB``).
    r_ohm : float or None
        Resistance of the joint or bridge, where the mode has one. [ohm]
    to : str
        The other circuit, where the mode is one of two circuits.
    set_up : str
        For the mode ``set-up``, where the test is wrong and not the wiring: the id of the mistake.
        Its place may be the board, for the whole test, or two points (``S3,S4``).
    """

    mode: str
    conductors: tuple[str, ...]
    at: str
    r_ohm: float | None = None
    to: str = ""
    set_up: str = ""

    def __str__(self) -> str:
        """Return the fault as it is written on the command line."""
        words = [self.set_up or self.mode, "-".join(self.conductors), "at", self.at]
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
# A set-up mistake; without a place it is of the whole test.
_SET_UP = re.compile(
    r"(?P<mode>[A-Za-z0-9-]+)"
    r"(?: (?P<conductors>(?!at |in )[A-Za-z](?: ?- ?[A-Za-z])*))?"
    r"(?: (?:at|in) (?P<at>[^ ,]+(?:, ?[^ ,]+)?))?"
    r"(?: (?P<ohms>[0-9].*))?"
)
SET_UP = "set-up"
_CYCLIC = 3  # conductors that exchange places make a round
_EXAMPLE = '"open E at S3..S4" or "bridged A-E at S2 0.1 ohm"'


def in_order(conductors: tuple[str, ...]) -> tuple[str, ...]:
    """Return conductors in A, N, E order; a cyclic exchange keeps its direction."""
    if len(conductors) >= _CYCLIC:
        start = conductors.index(min(conductors, key=IN_ORDER.index))
        return conductors[start:] + conductors[:start]
    return tuple(sorted(conductors, key=IN_ORDER.index))


def parse_fault(text: str, circuit: Circuit, set_ups: Collection[str] = ()) -> tuple[Fault, str]:
    """Read a fault as it is said; return it without ohms, and the text of the ohms ("" if none).

    The first word may be one of ``set_ups``, the ids of set-up mistakes.

    Raises
    ------
    FaultSyntaxError
        If it is not a fault, or names a conductor or place the circuit does not have.
    """
    said = " ".join(text.split())
    is_set_up = said.partition(" ")[0].lower() in set_ups
    match = (_SET_UP if is_set_up else _FORM).fullmatch(said)
    if match is None:
        found = f"{shown(text)} is not a fault" if text.strip() else "nothing is written here"
        raise FaultSyntaxError(
            found, f"MODE CONDUCTORS at PLACE: {_EXAMPLE}", _with_letters(said, circuit)
        )
    conductors = tuple(re.findall("[A-Z][0-9]?", (match["conductors"] or "").upper()))
    known = circuit.all_conductors
    for conductor in conductors:
        if conductor not in known:
            raise FaultSyntaxError(
                f'unknown conductor "{conductor}"', f"one of {', '.join(known)}, joined by -"
            )
    if len(set(conductors)) != len(conductors):
        raise FaultSyntaxError(f'"{"-".join(conductors)}" names a conductor twice', _EXAMPLE)
    if is_set_up:
        at = _place_of_set_up(match["at"], circuit)
        fault = Fault(SET_UP, in_order(conductors), at, set_up=match["mode"].lower())
        return fault, match["ohms"] or ""
    at = match["at"]
    run = circuit.run(at) if ".." in at else None
    if run is not None:
        at = run.name
    elif circuit.point(at) is None and at != circuit.board:
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


def _with_letters(said: str, circuit: Circuit) -> str:
    """Return a fault said in the words of the region with A, N and E for them, or ""."""
    mode, _, rest = said.partition(" ")
    conductors, at, place = rest.partition(" at ")
    words = circuit.region.words
    for letter, word in (("A", words.active), ("N", words.neutral), ("E", words.earth)):
        conductors = re.sub(rf"\b{re.escape(word)}\b", letter, conductors, flags=re.IGNORECASE)
    meant = f"{mode} {conductors}{at}{place}"
    return meant if meant != said and _FORM.fullmatch(meant) else ""


def _place_of_set_up(at: str | None, circuit: Circuit) -> str:
    """Return the place of a set-up mistake: the board, a point, or two with a comma between."""
    if at is None:
        return circuit.board
    names = at.replace(" ", "").split(",")
    known = [point.name for point in circuit.points]
    if names != [circuit.board]:
        for name in names:
            if name not in known:
                raise FaultSyntaxError(
                    f"no point {shown(name)}",
                    f"the board {circuit.board} or one of {', '.join(known)}",
                    nearest(name, known),
                )
    return ",".join(names)
