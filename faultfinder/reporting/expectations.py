"""What each test should read, as tables that fit a narrow screen."""

from collections.abc import Mapping, Sequence
from math import isfinite

from faultfinder.diagnosis.foretell import Foretold
from faultfinder.diagnosis.wording import (
    device_in_words,
    ends_in_words,
    fault_in_words,
    legend_in_words,
    value_in_words,
    way_in_words,
)
from faultfinder.evidence.expectation import Expectation
from faultfinder.evidence.live import Tripping
from faultfinder.readings.reading import Terminators
from faultfinder.reporting.layout import Style, paragraph
from faultfinder.rulebook.procedures import Procedure
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault


def expectations_text(
    circuit: Circuit,
    terminators: Terminators,
    faults: Sequence[Fault],
    foretold: Foretold,
    rulebook: Rulebook,
    width: int,
    style: Style,
) -> str:
    """Return the tables, a test each, with the limits under them."""
    rulebook = rulebook.in_words(circuit.region.words)
    supplies = {rulebook.procedures[row.spot.test].supply for row in foretold.readings}
    said = [fault_in_words(rulebook.modes[f.mode], circuit, f) for f in faults]
    state = f", with: {' and '.join(said)}" if said else ": sound, as drawn"
    lines = [style(line, "heading") for line in paragraph(f"{_name(circuit)}{state}", width)]
    lines += paragraph(
        "Between brackets: what still counts as expected, from cable length, temperature, "
        "terminators and instrument" + (", and from the supply." if "live" in supplies else "."),
        width,
    )
    lines += [style(line, "quiet") for line in paragraph(legend_in_words(circuit), width)]
    by_test: dict[str, list[Expectation]] = {}
    for expectation in foretold.readings:
        by_test.setdefault(expectation.spot.test, []).append(expectation)
    for test, rows in by_test.items():
        procedure = rulebook.procedures[test]
        lines += [
            "",
            *(style(line, "heading") for line in paragraph(f"{test}: {procedure.title}", width)),
        ]
        if procedure.needs_terminators:
            active, neutral = terminators.active_ohm, terminators.neutral_ohm
            of_active, of_neutral = (circuit.region.word(c) for c in ("A", "N"))
            fitted = f"terminators {active:g} ohm ({of_active}) and {neutral:g} ohm ({of_neutral})"
            lines += paragraph(fitted, width)
        lines += _table(rows, width)
        for limit in _limits(rows):
            lines += paragraph(limit, width, "limit ")
        for absent in _no_limits(circuit, procedure):
            lines += paragraph(absent, width, "no limit ")
        for trip in _trips([t for t in foretold.trippings if t.spot.test == test]):
            lines += paragraph(trip, width, "trip  ")
    lines += [""]
    if "dead" in supplies:
        lines += paragraph("Dead tests: isolate, lock off and prove dead first.", width, "! ")
    if "live" in supplies:
        lines += _cut_off(circuit, foretold, width)
        lines += paragraph(
            "Live tests: licensed work under local rules, after the dead tests, and only where no "
            "dead test can serve.",
            width,
            "! ",
        )
    return "\n".join(lines)


def _name(circuit: Circuit) -> str:
    named = (circuit.name, f"board {circuit.board}", str(circuit.device))
    return ", ".join(name for name in named if name)


def _table(rows: Sequence[Expectation], width: int) -> list[str]:
    """Return one line a place and switch position, or several where the screen is narrow."""
    pairs = list(dict.fromkeys(row.spot.between for row in rows))
    lines: dict[tuple[str, str], dict[str, str]] = {}
    for row in rows:
        lines.setdefault((row.spot.at, row.spot.switch), {})[row.spot.between] = _cell(row)
    first = max(len("at"), *(len(f"{at} {switch}") for at, switch in lines))
    column = max(len(cell) for cells in lines.values() for cell in cells.values()) + 2
    if first + 2 + column * len(pairs) > width:
        return [line for key, cells in lines.items() for line in _stacked(key, cells)]
    head = "at".ljust(first + 2) + "".join(pair.ljust(column) for pair in pairs)
    body = [
        f"{at} {switch}".ljust(first + 2)
        + "".join(cells.get(pair, "").ljust(column) for pair in pairs)
        for (at, switch), cells in lines.items()
    ]
    return [line.rstrip() for line in (head, *body)]


def _stacked(key: tuple[str, str], cells: Mapping[str, str]) -> list[str]:
    at, switch = key
    widest = max(len(pair) for pair in cells)
    return [f"{at} {switch}".strip(), *(f"  {p.ljust(widest)}  {c}" for p, c in cells.items())]


def _cell(row: Expectation) -> str:
    if row.is_open:
        known = isfinite(row.low)
        return f"open (over {value_in_words(row.low, row.unit)})" if known else "open"
    value = value_in_words(row.value, row.unit)
    low, high = ends_in_words(row.low, row.value, row.high, row.unit)
    return f"{value.removesuffix(f' {row.unit}')} ({low}-{high})"


def _cut_off(circuit: Circuit, foretold: Foretold, width: int) -> list[str]:
    """Say that a device cuts the circuit off, where one does."""
    causes = []
    if foretold.over_a is not None:
        causes.append(
            f"{value_in_words(foretold.over_a, 'A')} trip the {circuit.device} device at once"
        )
    if foretold.residual_ma is not None:
        residual = value_in_words(foretold.residual_ma, "mA")
        causes.append(f"{residual} of residual current trip the residual current device")
    if not causes:
        return []
    said = f"{' and '.join(causes)}: the live values hold only if it fails to."
    return paragraph(said[0].upper() + said[1:], width, "! ")


def _trips(trippings: Sequence[Tripping]) -> list[str]:
    """Return what the residual current devices do, and why; places that are alike together."""
    alike: dict[tuple[object, ...], list[Tripping]] = {}
    for tripping in trippings:
        ways = tuple((way_in_words(w), tripping.share_ma(w) > 0) for w in tripping.ways)
        why = ways if tripping.trips in {"may", "must"} else ()
        alike.setdefault((tripping.device, tripping.trips, why), []).append(tripping)
    return [_trip_in_words(together) for together in alike.values()]


def _trip_in_words(together: Sequence[Tripping]) -> str:
    first = together[0]
    at = ", ".join(dict.fromkeys(tripping.spot.at for tripping in together))
    device = device_in_words(first.device, first.rated_ma)
    match first.trips:
        case None:
            return f"{at}: no residual current device on this circuit"
        case "no":
            return f"{at}: {device} does not trip"
        case "may":
            said = f"{at}: {device} may trip, over half its rating"
        case "must":
            said = f"{at}: {device} trips"
    for number, way in enumerate(first.ways):
        shares = sorted(abs(tripping.share_ma(tripping.ways[number])) for tripping in together)
        ends = dict.fromkeys(value_in_words(ma, "mA") for ma in (shares[0], shares[-1]))
        goes = "leaves" if first.share_ma(way) > 0 else "comes back"
        said += f"; {' to '.join(ends)} {goes} by {way_in_words(way)}"
    return said


def _no_limits(circuit: Circuit, procedure: Procedure) -> list[str]:
    """Say which limits of a test the region's rules do not set."""
    unlimited = circuit.region.unlimited
    why: dict[str, list[str]] = {}
    for rule in procedure.limits:
        if rule.limit in unlimited:
            why.setdefault(unlimited[rule.limit], []).append(rule.between)
    return [f"{', '.join(pairs)}: {said}" for said, pairs in why.items()]


def _limits(rows: Sequence[Expectation]) -> list[str]:
    """Return each limit once, led by the pairs it holds for."""
    pairs: dict[str, dict[str, None]] = {}
    for row in rows:
        if row.limit is not None:
            value = value_in_words(row.limit.value, row.limit.unit)
            said = f"{row.limit.bound} {value}. {row.limit.says} ({row.limit.basis})"
            pairs.setdefault(said, {})[row.spot.between] = None
    return [f"{', '.join(held)}: {said}" for said, held in pairs.items()]
