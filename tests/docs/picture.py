"""The README's picture: what the demo really prints, drawn as text in an SVG.

Run it to draw the picture anew: ``python tests/docs/picture.py``. A test holds the file against it.
"""

from pathlib import Path
from xml.sax.saxutils import escape

from click.testing import CliRunner

from faultfinder.cli.main import faultfinder

ROOT = Path(__file__).parents[2]
PICTURE = ROOT / "docs" / "demo.svg"
COMMAND = "faultfinder diagnose cases/demo.yaml"
# As on a phone held upright: a wider picture is scaled down there until nobody can read it.
_COLUMNS, _CHAR_PX, _LINE_PX, _MARGIN_PX = 48, 8.4, 19, 14


def demo_text(columns: int = _COLUMNS) -> str:
    """Return what the demo prints on a screen of so many columns without colour."""
    runner = CliRunner(env={"COLUMNS": str(columns)})
    return runner.invoke(faultfinder, ["diagnose", str(ROOT / "cases" / "demo.yaml")]).output


def picture(text: str) -> str:
    """Return a text as an SVG; lines in capitals and the verdict stand out by weight."""
    lines = [f"$ {COMMAND}", *text.rstrip("\n").split("\n")]
    width = round(_COLUMNS * _CHAR_PX + 2 * _MARGIN_PX)
    height = len(lines) * _LINE_PX + 2 * _MARGIN_PX
    rows = [
        f'<text x="{_MARGIN_PX}" y="{_MARGIN_PX + (row + 0.75) * _LINE_PX:g}"'
        f'{_weight(line)} xml:space="preserve">{escape(line)}</text>'
        for row, line in enumerate(lines)
        if line.strip()
    ]
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
                f'viewBox="0 0 {width} {height}" role="img" aria-label="{COMMAND}">'
            ),
            f'<rect width="{width}" height="{height}" rx="6" fill="#fbfaf7" stroke="#c9c4b8"/>',
            (
                '<g font-family="ui-monospace, Menlo, Consolas, DejaVu Sans Mono, monospace" '
                'font-size="14" fill="#222">'
            ),
            *rows,
            "</g>",
            "</svg>",
            "",
        ]
    )


def _weight(line: str) -> str:
    if line.startswith("FAULT"):
        return ' font-weight="bold" fill="#a01818"'
    return ' font-weight="bold"' if line.isupper() else ""


if __name__ == "__main__":
    PICTURE.write_text(picture(demo_text()), encoding="utf-8")
