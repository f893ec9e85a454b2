"""A study's figures as text, as JSON, and as a picture."""

from dataclasses import asdict
from xml.sax.saxutils import escape

from faultfinder.coverage.study.family import Family
from faultfinder.coverage.study.summary import StudySummary
from faultfinder.reporting.as_json import SCHEMA, Json
from faultfinder.reporting.layout import Style, heading, paragraph, percent


def study_text(family: Family, summary: StudySummary, width: int, style: Style) -> str:
    """Return the figures by fault mode, the false alarms, and the calibration."""
    first = max(len("mode"), *(len(one.mode) for one in summary.modes)) + 2
    head = f"{'mode'.ljust(first)}{'cases':>7}{'show':>6}{'lead':>8}{'group':>7}{'places':>8}"
    lines = [
        *heading(f"{family.title}: {summary.cases} made-up cases", width, style),
        "",
        head,
        *(
            f"{one.mode.ljust(first)}{one.cases:>7}{one.shown:>6}"
            + (
                f"{percent(one.leads):>8}{one.group:>7.2f}{one.places:>8.2f}"
                if one.shown
                else f"{'-':>8}{'-':>7}{'-':>8}"
            )
            for one in summary.modes
        ),
        "",
        *paragraph(
            "show: a reading moves by three standard deviations or is open; lead: of those, the "
            "truth is in the leading group; group, places: suspects in it, and where",
            width,
        ),
        *paragraph(
            f"{summary.false_alarms} false alarms on {summary.sound} sound circuits; "
            f"{summary.seconds:.2f} s a diagnosis, "
            f"{1 / summary.seconds if summary.seconds else 0:.1f} a second and core",
            width,
        ),
        *paragraph(_honesty(summary), width),
    ]
    return "\n".join(lines)


def _honesty(summary: StudySummary) -> str:
    """Say how far probabilities are from what they say, and how far chance alone puts them."""
    if summary.off is None or summary.by_chance is None:
        return f"{_all_alike(summary)}, so whether probabilities are honest cannot be said"
    return (
        f"probabilities off by {summary.off:.3f} on average; honest ones would be off by "
        f"{summary.by_chance:.3f} by chance. Each case counts as often as the rules expect one "
        "like it, sound or faulty"
    )


def _all_alike(summary: StudySummary) -> str:
    return f"all cases are {'sound' if summary.sound else 'faulty'}"


def study_json(family: Family, summary: StudySummary) -> Json:
    """Return the figures as one object."""
    return {"schema": SCHEMA, "family": family.title, **asdict(summary)}


_SIZE, _LEFT, _TOP = 300, 56, 84
_INK, _PAPER, _LINE, _DOT = "#222222", "#fbfaf7", "#c9c4b8", "#1d5c55"


def calibration_svg(family: Family, summary: StudySummary) -> str:
    """Return a picture of how often the leader was right against the probability it was given.

    The bar at a dot spans what chance alone may make of it: two standard deviations about what
    was said.
    """
    width, height = _LEFT + _SIZE + 24, _TOP + _SIZE + 56

    def at(said: float, right: float) -> tuple[float, float]:
        return _LEFT + _SIZE * said, _TOP + _SIZE * (1 - right)

    body = [
        f'<text x="12" y="24" font-weight="bold">{escape(family.title)}</text>',
        f'<text x="12" y="44">{summary.cases} cases: how often the leader is right</text>',
        '<text x="12" y="64">weighed by the rules\' priors; bars: by chance</text>',
    ]
    body.append(
        f'<path d="M{_LEFT} {_TOP}h{_SIZE}v{_SIZE}h-{_SIZE}z" fill="none" stroke="{_LINE}"/>'
    )
    body.append(
        f'<path d="M{_LEFT} {_TOP + _SIZE}l{_SIZE} -{_SIZE}" stroke="{_LINE}" '
        'stroke-dasharray="4 4"/>'
    )
    for tick in (0.0, 0.5, 1.0):
        x, y = at(tick, tick)
        body.append(
            f'<text x="{x:.0f}" y="{_TOP + _SIZE + 18}" text-anchor="middle">{tick:.0%}</text>'
        )
        body.append(f'<text x="{_LEFT - 6}" y="{y + 4:.0f}" text-anchor="end">{tick:.0%}</text>')
    if not summary.calibration:
        body.append(
            f'<text x="{_LEFT + _SIZE / 2:.0f}" y="{_TOP + 40}" text-anchor="middle">'
            f"{_all_alike(summary)}: it cannot be said</text>"
        )
    for one in summary.calibration:
        x, y = at(one.said, one.right)
        least, most = max(0.0, one.said - 2 * one.sd), min(1.0, one.said + 2 * one.sd)
        body.append(
            f'<path d="M{x:.1f} {at(0, least)[1]:.1f}V{at(0, most)[1]:.1f}" stroke="{_DOT}" '
            'stroke-width="2"/>'
        )
        says = f"{one.cases} cases: said {one.said:.0%}, right {one.right:.0%}"
        body.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="{_DOT}" fill-opacity="0.7">'
            f"<title>{says}</title></circle>"
        )
    body.append(
        f'<text x="{_LEFT + _SIZE / 2:.0f}" y="{_TOP + _SIZE + 42}" text-anchor="middle">'
        "probability given to the leader</text>"
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" role="img" aria-label="calibration of a study">'
    )
    paper = f'<rect width="{width}" height="{height}" rx="6" fill="{_PAPER}" stroke="{_LINE}"/>'
    font = 'font-family="system-ui, Helvetica, Arial, sans-serif" font-size="13"'
    return "\n".join([svg, paper, f'<g {font} fill="{_INK}">', *body, "</g>", "</svg>", ""])
