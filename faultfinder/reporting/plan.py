"""A plan to take along: numbered steps as text, or a drawing, for a person without the program."""

import textwrap
from collections.abc import Iterable, Sequence
from html import escape

from faultfinder.guiding.tree import Node, numbered, steps_of
from faultfinder.reporting.layout import WIDTH, Style, items, odds, paragraph, plain

_NOTHING = "Nothing is to be checked."
_DEAD_FIRST = (
    "Isolate the circuit, lock it off, tag it, and prove it dead with an instrument proved before "
    "and after. Local rules and licensed practice come before anything printed here. Begin at "
    "step 1, and go where the outcome sends you."
)
# Of the drawing, in units of the SVG: about a pixel each.
_BOX, _GAP, _LINE, _LETTERS = 250, 150, 15, 38
_OUTCOME_LETTERS = 22
_LETTER = 6.8  # width of one, generously


def plan_text(tree: Node | None, title: str, width: int = WIDTH, style: Style = plain) -> str:
    """Return a plan as numbered steps, each outcome with the step it leads to."""
    if tree is None:
        return _NOTHING
    numbers = numbered(tree)
    lines = [style(line, "heading") for line in paragraph(f"PLAN: {title}", width)]
    lines += paragraph(_DEAD_FIRST, width)
    for node in steps_of(tree):
        lines += ["", *paragraph(_said(node), width, f"{numbers[id(node)]}. ")]
        for branch in node.branches:
            then = "" if branch.then is None else f": go to {numbers[id(branch.then)]}"
            chance = (
                "" if len(node.branches) < 2 or not branch.share else f" ({_odds(branch.share)})"
            )
            lines += paragraph(f"{branch.outcome}{chance}{then}", width, "   - ")
    again = (
        f"after {numbers[id(node)]}: {'; '.join(node.again)}"
        for node in steps_of(tree)
        if node.again
    )
    lines += _notes("TEST AGAIN", again, width, style)
    lines += _notes("HOW", (step for node in steps_of(tree) for step in node.steps), width, style)
    return "\n".join([*lines, *_notes("CAUTION", _cautions(tree), width, style, "  ! ")])


def _cautions(tree: Node) -> dict[str, None]:
    """Return the cautions of all steps, each once."""
    return dict.fromkeys(caution for node in steps_of(tree) for caution in node.cautions)


def _said(node: Node) -> str:
    return f"{node.task} ({node.minutes:g} min, {node.risk})" if node.risk else node.task


def _odds(share: float) -> str:
    said = odds(share)
    return f"{said} of all" if said.startswith("about") else said


def _notes(
    heading: str, texts: Iterable[str], width: int, style: Style, lead: str = "  - "
) -> list[str]:
    said = dict.fromkeys(texts)
    return ["", style(heading, "heading"), *items(said, width, lead)] if said else []


def plan_svg(tree: Node | None, title: str) -> str:
    """Return a plan as an SVG drawing: steps from left to right, outcomes on the lines."""
    drawing = _Drawing(title)
    if tree is None:
        drawing.words(_NOTHING, 20, 60, _LETTERS)
    else:
        drawing.numbers = numbered(tree)
        drawing.cautions = tuple(_cautions(tree))
        drawing.node(tree, 20.0, 60.0)
    return drawing.svg()


class _Drawing:
    """Boxes and lines, gathered top down; each subtree takes the height it needs."""

    def __init__(self, title: str) -> None:
        self.title = title
        self.numbers: dict[int, int] = {}
        self.cautions: tuple[str, ...] = ()
        self.parts: list[str] = []
        self.right = self.bottom = 0.0

    def words(self, text: str, x: float, y: float, letters: int, role: str = "") -> float:
        """Write a text at a place; return its height."""
        lines = textwrap.wrap(text, letters, break_on_hyphens=False)
        for number, line in enumerate(lines):
            style = f' class="{role}"' if role else ""
            place = f'x="{x:g}" y="{y + _LINE * (number + 1):g}"'
            self.parts.append(f"<text{style} {place}>{escape(line)}</text>")
        return _LINE * len(lines)

    def node(self, node: Node, x: float, y: float) -> tuple[float, float]:
        """Draw a step and all after it; return the height it took and the middle of its box."""
        text = f"{self.numbers[id(node)]}. {_said(node)}"
        own = _LINE * len(textwrap.wrap(text, _LETTERS, break_on_hyphens=False)) + 14
        ends: list[tuple[float, Sequence[str]]] = []
        below = y
        for branch in node.branches:
            lines = textwrap.wrap(branch.outcome, _OUTCOME_LETTERS, break_on_hyphens=False)
            label = _LINE * len(lines) + 8
            if branch.then is None:
                ends.append((below + label / 2, lines))
                below += label
            else:
                height, middle = self.node(branch.then, x + _BOX + _GAP, below)
                middle = max(middle, below + label / 2)
                ends.append((middle, lines))
                below += max(height, label)
            below += 8
        height = max(own, below - y)
        middle = (ends[0][0] + ends[-1][0]) / 2 if ends else y + own / 2
        middle = max(middle, y + own / 2)
        height = max(height, middle - y + own / 2)
        top = middle - own / 2
        kind = "step" if node.risk else "mend"
        self.parts.append(
            f'<rect class="{kind}" x="{x:g}" y="{top:g}" width="{_BOX}" height="{own:g}" rx="4"/>'
        )
        self.words(text, x + 8, top + 3, _LETTERS)
        for (end, said), branch in zip(ends, node.branches, strict=True):
            start = x + _BOX
            reach = start + _GAP if branch.then is not None else start + 14
            self.parts.append(
                f'<path d="M{start:g} {middle:g} L{start + 10:g} {end:g} L{reach:g} {end:g}"/>'
            )
            for number, line in enumerate(said):
                at = end - 4 - _LINE * (len(said) - 1 - number)
                at = (
                    at
                    if branch.then is not None
                    else end + 4 + _LINE * (number - (len(said) - 1) / 2)
                )
                left = start + 18
                self.parts.append(
                    f'<text class="outcome" x="{left:g}" y="{at:g}">{escape(line)}</text>'
                )
        self.right = max(self.right, x + _BOX + _GAP + 40)
        self.bottom = max(self.bottom, y + height)
        return height, middle

    def svg(self) -> str:
        """Return the whole drawing."""
        width, below = max(self.right, 400.0), self.bottom + 20
        letters = int((width - 40) / _LETTER)
        for said in (_DEAD_FIRST, *(f"! {caution}" for caution in self.cautions)):
            below += self.words(said, 20, below, letters) + 4
        height = below + 20
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
            f'width="{width:g}" height="{height:g}" role="img">'
        )
        css = (
            "<style>text{font:12px sans-serif;fill:#111}.outcome{font-size:11px;fill:#333}"
            ".title{font-size:15px;font-weight:bold}rect{fill:#fff;stroke:#111}"
            ".mend{fill:#eee;stroke-width:2}path{fill:none;stroke:#666}</style>"
        )
        said = escape(self.title)
        title = f'<title>{said}</title><text class="title" x="20" y="28">{said}</text>'
        back = f'<rect width="{width:g}" height="{height:g}" style="stroke:none"/>'
        return "\n".join([head, css, back, title, *self.parts, "</svg>", ""])
