"""Cases as files: what ``readings.file`` reads back as the same case."""

import math
import os
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from itertools import groupby
from pathlib import Path

from faultfinder.readings.case import Case
from faultfinder.readings.reading import Accuracy, Instrument, Reading, ReadingForms, Spot
from faultfinder.source.quantity import Amount
from faultfinder.source.units import UNITS, find_unit
from faultfinder.source.writing import mapping, number, sequence, text
from faultfinder.wiring.fault import Fault
from faultfinder.wiring.writing import circuit_lines

_QUANTITIES = ("resistance", "insulation", "voltage", "loop", "residual")


def dump(case: Case, tests: ReadingForms, folder: Path | None = None) -> str:
    """Return the text of a case file that reads back as this case.

    The circuit is written out, unless it is one of an installation's, which is named by its file;
    that path counts from ``folder``, where the case is to be kept, or else from where the case was
    read. Values are written to the last digit they were read with; what is at its default is left
    out.

    Parameters
    ----------
    case : Case
        With or without readings.
    tests : mapping
        The tests that its readings are of, by id, for their units.
    folder : Path, optional
        Where the file is to be kept.

    Raises
    ------
    ValueError
        If the case holds what no file can say: an installation that came from no file, or a load
        with reactance.
    """
    lines = ["format: 1"]
    if case.title:
        lines.append(f"title: {text(case.title)}")
    if case.installation is None:
        lines += ["circuit:", *(f"  {line}" for line in circuit_lines(case.circuit))]
    else:
        lines += [f"installation: {_path(case, folder)}", f"circuit: {text(case.circuit.name)}"]
    if case.terminators is not None:
        active, neutral = case.terminators.active_ohm, case.terminators.neutral_ohm
        fitted = mapping({"active": number(active), "neutral": number(neutral)})
        lines.append(f"terminators: {fitted}")
    if accuracies := _accuracies(case.instrument):
        lines.append(f"instrument: {mapping(accuracies)}")
    lines.append("readings:")
    lines += [f"  - {row}" for row in _rows(case.readings, tests)]
    if case.found is not None:
        lines += ["found:" if case.found.faults else "found: []"]
        lines += [f"  - {text(_said(fault))}" for fault in case.found.faults]
    lines += _done(case)
    if case.notes:
        lines.append(f"notes: {text(case.notes)}")
    return "\n".join(lines) + "\n"


def _done(case: Case) -> Iterator[str]:
    """Yield what was done beside reading, a line each."""
    cannot = [f"{test} at {at}" for test, at in case.cannot]
    in_order = [f"{set_up} at {at}" for set_up, at in case.in_order]
    for key, entries in (
        ("looked", case.looked),
        ("exchanged", case.exchanged),
        ("cannot", cannot),
        ("in-order", in_order),
    ):
        if entries:
            yield f"{key}: {sequence([text(entry) for entry in entries])}"


def _path(case: Case, folder: Path | None) -> str:
    if not case.installation_file:
        raise ValueError("an installation that came from no file")
    beside = folder or Path(case.name).parent
    return text(Path(os.path.relpath(case.installation_file, beside)).as_posix())


def _accuracies(instrument: Instrument) -> dict[str, str]:
    """Return what is stated of the instrument, by quantity."""
    found = {}
    for quantity in _QUANTITIES:
        accuracy: Accuracy = getattr(instrument, quantity)
        if accuracy.stated:
            said = {"percent": _percent(accuracy.share)}
            if accuracy.fixed:
                said["plus"] = number(accuracy.fixed)
            if accuracy.range_top is not None:
                said["range"] = number(accuracy.range_top)
            found[quantity] = mapping(said)
    return found


def _percent(share: float) -> str:
    """Return the shortest percentage that reads as this share."""
    tried = (number(float(f"{share * 100:.{digits}g}")) for digits in range(1, 18))
    return next((one for one in tried if float(one) / 100 == share), number(share * 100))


def _rows(readings: tuple[Reading, ...], tests: ReadingForms) -> Iterator[str]:
    """Yield a row for each run of readings of one test, place and switch position."""
    by_row = groupby(readings, lambda reading: _where(reading.spot))
    for (test, at, switch, parted), together in by_row:
        row = {"test": test, "at": text(at)}
        if switch:
            row["switch"] = switch
        if parted:
            row["parted"] = text(parted)
        unit = tests[test].unit
        row |= {r.spot.between: written(r.amount, r.resolution, unit) for r in together}
        yield mapping(row)


def _where(spot: Spot) -> tuple[str, str, str, str]:
    return spot.test, spot.at, spot.switch, spot.parted


def written(amount: Amount, resolution: float, unit: str) -> str:
    """Return a value as a person writes it, to the last digit that counts.

    A last digit above one takes a larger unit: 1200 ohm to the nearest hundred is ``1.2 kohm``. A
    resolution of zero leaves all digits.
    """
    if amount.bound == "open":
        return "open"
    value = _digits(amount.value, resolution, unit)
    return value if amount.bound == "=" else text(f"{amount.bound}{value}")


def _digits(value: float, resolution: float, unit: str) -> str:
    if not resolution:
        return number(value)
    power = round(math.log10(resolution))
    if power <= 0:
        return f"{value:.{-power}f}"
    larger = 3 * math.ceil(power / 3)
    exact = Decimal(repr(value))
    if symbol := _symbol(unit, larger):
        return f"{exact.scaleb(-larger):.{larger - power}f} {symbol}"
    return f"{exact.scaleb(-power):.0f}e{power}"


def _symbol(unit: str, larger: int) -> str:
    """Return the unit so many powers of ten above another; nothing where there is none."""
    base = find_unit(unit)
    return next(
        (
            found.symbols[0]
            for found in UNITS
            if base and (found.quantity, found.power) == (base.quantity, base.power + larger)
        ),
        "",
    )


def _said(fault: Fault) -> str:
    """Return a fault as it is said, with all the digits of its ohms."""
    if fault.r_ohm is None:
        return str(fault)
    return f"{replace(fault, r_ohm=None)} {number(fault.r_ohm)} ohm"
