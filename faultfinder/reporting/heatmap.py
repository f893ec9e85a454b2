"""What a plan of tests can find, as a picture: places down, fault modes across."""

from collections.abc import Iterator, Sequence
from xml.sax.saxutils import escape, quoteattr

from faultfinder.coverage.result import Coverage, FaultCover, most_places, share
from faultfinder.reporting.layout import percent

# Sizes suit a phone held upright: 400 px across or a little more, nothing under 12 px.
_WIDTH, _ROW, _MARGIN, _TEXT = 400, 26, 10, 13
_HEAD, _CHAR = 128, 7.6
_LEAST_COLUMN = 32
_INK, _PAPER, _LINE = "#222222", "#fbfaf7", "#c9c4b8"
# Seen never to seen always; light to dark, so that it also reads without colour.
_STEPS = ("#f4e3d7", "#dfe3cf", "#b5cfb8", "#7fb19c", "#3f8577", "#1d5c55")
_BOUNDS = (0.005, 0.25, 0.5, 0.9, 0.995)
_WORDS = ("never", "to 25 %", "to 50 %", "to 90 %", "most", "always")
_DARK_FROM = 4


def heatmap_svg(coverage: Coverage) -> str:
    """Return an SVG picture: how much of each fault is seen, and among how many places.

    A number in a cell is the places it is usually left among; a dash, that it is never seen.
    """
    table, modes = coverage.by_place(), coverage.modes
    first = _MARGIN + max(_CHAR * max(len(place) for place in table) + 8, 40)
    column = max(_LEAST_COLUMN, (_WIDTH - first - _MARGIN) / len(modes))
    width = round(first + column * len(modes) + _MARGIN)
    top = 2 * _MARGIN + 36 + _HEAD
    bottom = top + _ROW * len(table)
    height = bottom + 96
    body = [
        *_title(coverage),
        *(
            _head(mode, first + column * (number + 0.5), top - 8)
            for number, mode in enumerate(modes)
        ),
    ]
    for row, (place, faults) in enumerate(table.items()):
        y = top + _ROW * row
        body.append(_text(first - 6, y + _ROW * 0.68, place, anchor="end"))
        for number, mode in enumerate(modes):
            if mode in faults:
                body += _cell(first + column * number, y, column, place, mode, faults[mode])
    body += _legend(width, bottom + 14)
    said = f"what the plan {coverage.plan.title} can find, places by fault modes"
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" role="img" aria-label={quoteattr(said)}>'
    )
    paper = f'<rect width="{width}" height="{height}" rx="6" fill="{_PAPER}" stroke="{_LINE}"/>'
    font = f'font-family="system-ui, Helvetica, Arial, sans-serif" font-size="{_TEXT}"'
    return "\n".join([svg, paper, f'<g {font} fill="{_INK}">', *body, "</g>", "</svg>", ""])


def _title(coverage: Coverage) -> Iterator[str]:
    name = coverage.circuit.name or f"board {coverage.circuit.board}"
    yield _text(_MARGIN, _MARGIN + 16, f"{name}: {coverage.plan.title}", weight="bold")
    yield _text(
        _MARGIN,
        _MARGIN + 35,
        f"seen {percent(coverage.detected)}, of that to one place {percent(coverage.isolated[1])}",
    )


def _text(x: float, y: float, text: str, *, anchor: str = "start", weight: str = "") -> str:
    bold = f' font-weight="{weight}"' if weight else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{bold}>{escape(text)}</text>'


def _head(mode: str, x: float, y: float) -> str:
    words = mode.replace("-", " ")
    most = int(_HEAD / 6.6)
    if len(words) > most:
        words = words[: most - 1].rstrip() + "…"
    return f'<text transform="translate({x + 4:.1f} {y:.1f}) rotate(-90)">{escape(words)}</text>'


def _cell(
    x: float, y: float, column: float, place: str, mode: str, faults: Sequence[FaultCover]
) -> Iterator[str]:
    seen, places = share(faults), most_places(faults)
    step = sum(seen >= bound for bound in _BOUNDS)
    ink = _PAPER if step >= _DARK_FROM else _INK
    says = f"{mode} at {place}: seen {percent(seen)}, left among {places} places"
    yield (
        f'<rect x="{x + 1:.1f}" y="{y + 1:.1f}" width="{column - 2:.1f}" height="{_ROW - 2}" '
        f'rx="3" fill="{_STEPS[step]}"><title>{escape(says)}</title></rect>'
    )
    yield (
        f'<text x="{x + column / 2:.1f}" y="{y + _ROW * 0.68:.1f}" text-anchor="middle" '
        f'fill="{ink}">{places or "–"}</text>'
    )


def _legend(width: float, y: float) -> Iterator[str]:
    yield _text(_MARGIN, y + 10, "Colour: how much is seen. Number: places left.")
    each = (width - 2 * _MARGIN) / len(_STEPS)
    for number, (fill, words) in enumerate(zip(_STEPS, _WORDS, strict=True)):
        x = _MARGIN + each * number
        yield (
            f'<rect x="{x:.1f}" y="{y + 22:.1f}" width="{each - 4:.1f}" height="18" rx="3" '
            f'fill="{fill}"/>'
        )
        yield _text(x, y + 58, words)
