"""Facts for the rule engine: what each reading says, in words, and how it sits among the others.

Only words and yes or no leave here, never ohms: tolerance has been decided in the grades.

Their kinds, fields and words, and what each word means, are in ``faultfinder.rulebook.vocabulary``,
against which the signs are checked.
"""

from collections.abc import Mapping, Sequence

from faultfinder.evidence.expectation import Expectation
from faultfinder.evidence.grading import GradedReading
from faultfinder.rulebook.sign import Fact
from faultfinder.rulebook.vocabulary import Effect
from faultfinder.wiring.circuit import Circuit

_ALIKE_SHARE, _ALIKE_FIXED = 0.05, 0.05  # common practice, no source


def facts(circuit: Circuit, graded: Sequence[GradedReading]) -> tuple[Fact, ...]:
    """Return the facts of a set of graded readings; ids are ``r`` and ``s`` with a number.

    What was read with the circuit parted is no fact of it as drawn.
    """
    graded = [reading for reading in graded if not reading.spot.parted]
    peers = _by_kind(graded)
    readings = [
        _reading_fact(f"r{number}", circuit, reading, peers[_kind(reading)])
        for number, reading in enumerate(graded)
    ]
    return (*readings, *_switch_facts(graded))


def _reading_fact(
    id_: str, circuit: Circuit, reading: GradedReading, peers: Sequence[GradedReading]
) -> Fact:
    spot = reading.spot
    point = circuit.point(spot.at)
    return {
        "kind": "reading",
        "id": id_,
        "test": spot.test,
        "at": spot.at,
        "switch": spot.switch or "none",
        "between": spot.between,
        "grade": reading.grade,
        "like": reading.like or "none",
        "spread": _spread(circuit, reading, peers),
        "lowest": "yes" if _is_lowest(reading, peers) else "no",
        "switched": "yes" if point is not None and point.switched else "no",
    }


def _spread(circuit: Circuit, reading: GradedReading, alike: Sequence[GradedReading]) -> str:
    """Return how far along the circuit a reading's fault is seen; see the vocabulary's table."""
    if reading.is_fine:
        return "fine"
    spot = reading.spot
    if circuit.is_on_ring(spot.at):
        return "on-ring"
    peers = {other.spot.at: other.is_fine for other in alike}
    way = [run.upstream for run in reversed(circuit.path(spot.at))]
    before = next((peers[place] for place in way if place in peers), None)
    beyond = circuit.beyond(spot.at)
    fed = [fine for place, fine in peers.items() if place in beyond]
    if before is False:
        return "beyond"
    if before is None and not any(peers.values()) and len(peers) > 1:
        return "everywhere"
    if not fed:
        return "last-read"
    if not any(fed):
        return "here-and-beyond"
    return "only-here" if all(fed) else "scattered"


def _by_kind(
    graded: Sequence[GradedReading],
) -> Mapping[tuple[object, ...], Sequence[GradedReading]]:
    """Return the readings of the same pair, here and elsewhere, that should show the same."""
    found: dict[tuple[object, ...], list[GradedReading]] = {}
    for reading in graded:
        found.setdefault(_kind(reading), []).append(reading)
    return found


def _kind(reading: GradedReading) -> tuple[object, ...]:
    spot = reading.spot
    return spot.test, spot.between, spot.switch == "off", reading.expected.is_open


def _is_lowest(reading: GradedReading, peers: Sequence[GradedReading]) -> bool:
    return all(reading.reading.amount.value <= peer.reading.amount.value for peer in peers)


def _switch_facts(graded: Sequence[GradedReading]) -> list[Fact]:
    offs = {
        (reading.spot.test, reading.spot.at, reading.spot.between): reading
        for reading in graded
        if reading.spot.switch == "off"
    }
    found: list[Fact] = []
    for on in graded:
        off = offs.get((on.spot.test, on.spot.at, on.spot.between))
        if off is None or on.spot.switch != "on":
            continue
        found.append(
            {
                "kind": "switch",
                "id": f"s{len(found)}",
                "test": on.spot.test,
                "at": on.spot.at,
                "between": on.spot.between,
                "effect": _effect(on, off),
                "should": "opens" if _opens(on.expected, off.expected) else "none",
            }
        )
    return found


def _opens(on: Expectation, off: Expectation) -> bool:
    return off.is_open and not on.is_open


def _effect(on: GradedReading, off: GradedReading) -> Effect:
    one, two = on.reading.amount, off.reading.amount
    if one.bound == "open" and two.bound == "open":
        return "none"
    if two.bound == "open":
        return "opens"
    if one.bound == "open":
        return "closes"
    # Two values a switch should not change; the grades have judged them, this only compares them.
    apart = abs(one.value - two.value)
    return "none" if apart <= _ALIKE_SHARE * one.value + _ALIKE_FIXED else "other"
