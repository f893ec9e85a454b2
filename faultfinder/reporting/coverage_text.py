"""What a plan of tests can find, as text that fits a narrow screen."""

from collections.abc import Iterator, Mapping, Sequence
from string import ascii_lowercase

from faultfinder.coverage.result import (
    MOST_PLACES,
    Coverage,
    FaultCover,
    most_places,
    share,
)
from faultfinder.reporting.coverage_gaps import not_seen, not_told_apart
from faultfinder.reporting.layout import Style, heading, paragraph, percent
from faultfinder.rulebook.rulebook import Rulebook

_CELL = 7
_OHMS_CELL = 10
_SEEN = 0.995  # from here a share is all of it, for people


def coverage_text(coverage: Coverage, rulebook: Rulebook, width: int, style: Style) -> str:
    """Return the shares, a matrix of places and modes, the ohms, and what is not found and why."""
    circuit, plan = coverage.circuit, coverage.plan
    named = (circuit.name, f"board {circuit.board}", str(circuit.device))
    places = len({spot.at for spot in plan.spots})
    lines = [
        *heading(f"{', '.join(n for n in named if n)}: what the plan can find", width, style),
        *paragraph(
            f"{plan.title}: {len(plan.spots)} readings at {places} "
            f"place{'' if places == 1 else 's'}, {coverage.minutes:g} minutes",
            width,
        ),
        "",
        *_shares(coverage, width),
        *_matrix(coverage, rulebook, width, style),
        *_ohms(coverage, width, style),
        *not_seen(coverage, width, style),
        *not_told_apart(coverage, width, style),
        "",
        *_cautions(coverage, rulebook, width),
    ]
    return "\n".join(lines)


def _cautions(coverage: Coverage, rulebook: Rulebook, width: int) -> Iterator[str]:
    supplies = {rulebook.procedures[test].supply for test in coverage.plan.tests}
    if "dead" in supplies:
        yield from paragraph("Dead tests: isolate, lock off and prove dead first.", width, "! ")
    if "live" in supplies:
        yield from paragraph(
            "Live tests: licensed work under local rules, after the dead tests.", width, "! "
        )


def _shares(coverage: Coverage, width: int) -> Iterator[str]:
    by = "by the signs alone" if coverage.by == "rules" else "by prior"
    yield from paragraph(
        f"{percent(coverage.detected)} of all faults, {by}, any ohms a joint or bridge may "
        f"have; {percent(coverage.detected_without_ohms)} of those without ohms",
        width,
        "seen      ",
    )
    for most in range(1, MOST_PLACES + 1):
        yield from paragraph(
            f"{percent(coverage.isolated[most])} of what is seen, "
            f"{percent(coverage.isolated_of_all[most])} of all, to at most {most} "
            f"place{'s' if most > 1 else ''}",
            width,
            "isolated  " if most == 1 else " " * 10,
        )
    yield from paragraph(
        f"{percent(coverage.isolated_to_open[1])} of what is seen, to one point to open first: "
        "what is in a run is looked for at the point it feeds",
        width,
        " " * 10,
    )
    if coverage.attainable is not None:
        yield from paragraph(
            f"{percent(coverage.false_alarm)} of sound circuits raise a false alarm; with no more "
            f"of them, no test of these readings sees over {percent(coverage.attainable)}; the "
            "priors are judgement",
            width,
            " " * 10,
        )


# -- places and modes ----------------------------------------------------------------------------


def _matrix(coverage: Coverage, rulebook: Rulebook, width: int, style: Style) -> Iterator[str]:
    """Yield a table, columns in letters with a legend, several side by side where they fit."""
    table = coverage.by_place()
    modes = coverage.modes
    letters = dict(zip(modes, ascii_lowercase, strict=False))
    yield ""
    yield from heading("Percent seen / places it is left among", width, style)
    first = max(len(place) for place in table) + 2
    across = max(1, (width - first) // _CELL)
    for begin in range(0, len(modes), across):
        some = modes[begin : begin + across]
        yield "".ljust(first) + "".join(letters[mode].ljust(_CELL) for mode in some).rstrip()
        for place, faults in table.items():
            cells = [_cell(faults[mode]) if mode in faults else "" for mode in some]
            yield (place.ljust(first) + "".join(c.ljust(_CELL) for c in cells)).rstrip()
    legend = "; ".join(f"{letters[mode]} {rulebook.modes[mode].title.lower()}" for mode in modes)
    yield from paragraph(legend, width)


def _cell(faults: Sequence[FaultCover]) -> str:
    seen, places = share(faults), most_places(faults)
    if not places:
        return "0"
    shown = "100" if seen >= _SEEN else f"{min(99, max(1, round(100 * seen)))}"
    return f"{shown}/{places}"


# -- ohms ----------------------------------------------------------------------------------------


def _ohms(coverage: Coverage, width: int, style: Style) -> Iterator[str]:
    """Yield, for each place, the ohms in which joints and bridges are seen."""
    if coverage.by != "model":
        return
    table: dict[str, dict[str, str]] = {}
    for one in coverage.faults:
        if one.ohms is not None:
            said = f"{one.fault.mode} {'-'.join(one.fault.conductors)}"
            table.setdefault(one.fault.at, {})[said] = seen_in_words(one)
    if not table:
        return
    columns = list(dict.fromkeys(said for cells in table.values() for said in cells))
    yield ""
    yield from heading("Ohms in which it is seen nine times in ten", width, style)
    first = max(len(place) for place in table) + 2
    across = max(1, (width - first) // _OHMS_CELL)
    modes = list(dict.fromkeys(said.partition(" ")[0] for said in columns))
    for mode in modes:
        own = [said for said in columns if said.partition(" ")[0] == mode]
        yield mode
        for begin in range(0, len(own), across):
            some = own[begin : begin + across]
            heads = [said.partition(" ")[2] for said in some]
            if any(heads):
                yield ("".ljust(first) + "".join(h.ljust(_OHMS_CELL) for h in heads)).rstrip()
            for places, cells in _rows_alike(table, some):
                yield from _row(places, cells, first, width)
    yield from paragraph('"0.36.." is from 0.36 ohm up, "..450" up to 450 ohm', width)


def _rows_alike(
    table: Mapping[str, Mapping[str, str]], columns: Sequence[str]
) -> list[tuple[list[str], list[str]]]:
    """Return places and their cells, neighbours that are alike together."""
    rows: list[tuple[list[str], list[str]]] = []
    for place, said in table.items():
        cells = [said.get(column, "") for column in columns]
        if not any(cells):
            continue
        if rows and rows[-1][1] == cells and (".." in place) == (".." in rows[-1][0][-1]):
            rows[-1][0].append(place)
        else:
            rows.append(([place], cells))
    return rows


def _row(places: Sequence[str], cells: Sequence[str], first: int, width: int) -> Iterator[str]:
    """Yield one row; the last place of several alike stands on a line of its own."""
    values = "".join(cell.ljust(_OHMS_CELL) for cell in cells)
    yield (places[0].ljust(first) + values).rstrip()
    if len(places) > 1:
        yield from paragraph(f"to {places[-1]}, alike", width, "  ")


def seen_in_words(one: FaultCover) -> str:
    """Write the ohms in which a fault is seen, shortly."""
    if one.ohms is None:
        return ""
    if not one.seen:
        return "none"
    said = []
    for low, high in one.seen:
        begins, ends = low <= one.ohms[0], high >= one.ohms[1]
        if begins and ends:
            return "all"
        said.append(f"{'' if begins else _short(low)}..{'' if ends else _short(high)}")
    return " ".join(said)


def _short(r_ohm: float) -> str:
    """Write ohms in two figures, a letter for the power of ten."""
    for size, letter in ((1e6, "M"), (1e3, "k")):
        if r_ohm >= 0.995 * size:
            return f"{float(f'{r_ohm / size:.2g}'):g}{letter}"
    return f"{float(f'{r_ohm:.2g}'):g}"
