"""Case files for tests, and what is said of them."""

from pathlib import Path

import pytest

from faultfinder.readings.case import Case
from faultfinder.readings.file import load_case
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.source.problem import BadInput

CIRCUIT = """\
circuit:
  board: DB
  device: {curve: C, rating: 20}
  cable: {active: 2.5, earth: 2.5, material: copper}
  points:
    S1: {kind: outlet, switched: true}
    S2: {kind: outlet, switched: false}
    J1: {kind: joint-box}
  runs:
    - {from: DB, to: S1, length: 14}
    - {from: S1, to: S2, length: 6}
    - {from: S1, to: J1, length: 2}
"""
TERMINATORS = "terminators: {active: 10, neutral: 5}\n"
READINGS = """\
readings:
  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}
  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}
"""
CASE = CIRCUIT + TERMINATORS + READINGS


def changed(*pairs: tuple[str, str], text: str = CASE) -> str:
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def read(text: str | bytes) -> Case:
    """Read a case from `case.yaml` in the folder the test runs in."""
    if isinstance(text, bytes):
        Path("case.yaml").write_bytes(text)
    else:
        Path("case.yaml").write_text(text, "utf-8")
    rulebook = shipped_rulebook()
    return load_case(Path("case.yaml"), rulebook.procedures, rulebook.modes)


def complaints(text: str | bytes) -> list[str]:
    with pytest.raises(BadInput) as caught:
        read(text)
    return [
        " | ".join([f"{p.position} {p.id}", p.found, p.expected, p.nearest])
        for p in caught.value.problems
    ]
