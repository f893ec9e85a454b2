"""Faults, values and places in plain words, in the terms of the circuit's region."""

from math import isfinite

from faultfinder.network.residual import Way
from faultfinder.readings.reading import Spot
from faultfinder.rulebook.modes import FaultMode
from faultfinder.rulebook.setups import SetUp
from faultfinder.source.problem import listed
from faultfinder.source.quantity import Amount
from faultfinder.wiring.circuit import PAIRS, Circuit
from faultfinder.wiring.fault import Fault

_WIDE = 3.0  # ratio of the ends of an interval that one figure would not do justice


def value_in_words(value: float, unit: str) -> str:
    """Write a value as a person would: ``open``, or three figures and the unit."""
    if not isfinite(value):
        return "no trip" if unit == "ms" else "open"
    # The bounds are where three figures round up to a decade: 999.9 ohm is 1.00 kohm.
    if unit == "Mohm" and value >= 999.5:
        return f"{_figures(value / 1e3)} Gohm"
    if unit == "Mohm" and 0 < value < 0.09995:
        return value_in_words(value * 1e6, "ohm")
    if unit == "A" and value >= 999.5:
        return f"{_figures(value / 1e3)} kA"
    if unit == "mA" and value >= 999.5:
        return value_in_words(value / 1e3, "A")
    if unit == "ohm" and value >= 99_950:
        return value_in_words(value / 1e6, "Mohm")
    if unit == "ohm" and value >= 999.5:
        return f"{_figures(value / 1e3)} kohm"
    return f"{_figures(value)} {unit}"


def ends_in_words(low: float, value: float, high: float, unit: str) -> tuple[str, str]:
    """Write the ends of a band about a value, without units where those are the value's own."""
    ends = [value_in_words(end, unit) for end in (low, high)]
    units = {words.rpartition(" ")[2] for words in (*ends, value_in_words(value, unit))}
    one, two = (words.partition(" ")[0] if len(units) == 1 else words for words in ends)
    return one, two


def amount_in_words(amount: Amount, unit: str) -> str:
    """Write a reading as it was meant, with its bound."""
    sign = amount.bound if amount.bound in "<>" else ""
    return f"{sign}{value_in_words(amount.value, unit)}"


def _figures(value: float) -> str:
    decimals = 2 if value < 9.995 else 1 if value < 99.95 else 0
    return f"{value:.{decimals}f}"


def place_in_words(circuit: Circuit, at: str) -> str:
    """Write a place: ``in run S3..S4`` or ``in outlet S4``."""
    if circuit.run(at) is not None:
        return f"in run {at}"
    point = circuit.point(at)
    if at == circuit.board:
        return f"at board {at}"
    return f"in {kind_in_words(point.kind)} {at}" if point else f"at {at}"


def kind_in_words(kind: str) -> str:
    """Write a kind of point, such as ``joint box``."""
    return "two-way switch" if kind == "two-way" else kind.replace("-", " ")


def conductors_in_words(circuit: Circuit, conductors: tuple[str, ...]) -> str:
    """Write conductors: ``earth``, ``active and neutral``, or a ring of three."""
    words = [circuit.region.word(conductor) for conductor in conductors]
    if len(words) == len(("A", "N", "E")):
        a, b, c = words
        return f"{a}, {b} and {c} ({a} on {b}, {b} on {c}, {c} on {a})"
    return " and ".join(words)


def legend_in_words(circuit: Circuit) -> str:
    """Say what the letters of a circuit's conductors stand for, and what colours they have."""
    region = circuit.region
    told = []
    for letter in circuit.conductors:
        word = region.word(letter).removesuffix(f" {letter}")
        colour = region.colours.get(letter)
        told.append(f"{letter} {word}" + (f" ({colour})" if colour else ""))
    return ", ".join(told)


def fault_in_words(rule: FaultMode | SetUp, circuit: Circuit, fault: Fault, ohms: str = "") -> str:
    """Write a fault as its rule says it, such as ``earth open in run S3..S4``.

    ``ohms`` are its ohms in words, where there is more to say of them than the fault's own.
    """
    own = "some ohms" if fault.r_ohm is None else value_in_words(fault.r_ohm, "ohm")
    if isinstance(rule, SetUp):
        return about_set_up(rule.says, circuit, fault, ohms or own)
    return rule.says.format(
        conductors=conductors_in_words(circuit, fault.conductors),
        place=place_in_words(circuit, fault.at),
        ohms=ohms or own,
        to=fault.to,
    )


def about_set_up(text: str, circuit: Circuit, fault: Fault, ohms: str = "some ohms") -> str:
    """Write a text of a set-up mistake's rule with this one's places and conductors in it."""
    first, _, second = fault.at.partition(",")
    return text.format(
        conductors=conductors_in_words(circuit, fault.conductors),
        columns=columns_in_words(fault.conductors),
        place=f"{first} and {second}" if second else first,
        first=first,
        second=second,
        ohms=ohms,
    )


def columns_in_words(conductors: tuple[str, ...]) -> str:
    """Write the pairs whose columns change when these conductors do: ``A-E and N-E``."""
    moved = dict(zip(conductors, (*conductors[1:], *conductors[:1]), strict=True))
    changed = [f"{a}-{b}" for a, b in PAIRS if {moved.get(a, a), moved.get(b, b)} != {a, b}]
    return listed(changed, "and")


def ohms_in_words(low: float, middle: float, high: float) -> str:
    """Write ohms that are not known exactly: about so many, or the range if that is wide."""
    if high > _WIDE * low:
        return f"{value_in_words(low, 'ohm')} to {value_in_words(high, 'ohm')}"
    return f"about {value_in_words(middle, 'ohm')}"


def device_in_words(device: str, rated_ma: float | None) -> str:
    """Write a protective device: ``the 30 mA device of kitchen``."""
    rated = "" if rated_ma is None else f"{rated_ma:g} mA "
    board = device.removeprefix("residual current device of ")
    return f"the {rated}device of {device if board == device else f'board {board}'}"


def way_in_words(way: Way) -> str:
    """Write by what a current leaves a circuit: ``the N-E bridge at K2``."""
    match way.name:
        case ("bridge", at, *on):
            return f"the {'-'.join(on)} bridge at {at}" if len(on) > 1 else f"the link at {at}"
        case ("joint", at, conductor, to):
            return f"the joint of {conductor} to circuit {to} at {at}"
        case ("load", at, *_, what):
            return f"the {what} at {at}"
        case ("cores", *_) | ("leak", *_):
            return f"capacitance or leakage of run {way.name[1]}"
        case ("tail" | "run", at, *_):
            return f"crossed conductors at {at}"
        case ("test load",):
            return "the test's own load"
        case _:
            return " ".join(way.name)


def spot_in_words(spot: Spot) -> str:
    """Write what a reading is of: ``A-E at S3, switch on``."""
    between = spot.between if "-" in spot.between else f"{spot.between} end to end"
    switch = f", switch {spot.switch}" if spot.switch else ""
    parted = f", {spot.parted} parted" if spot.parted else ""
    return f"{between} at {spot.at}{switch}{parted}"
