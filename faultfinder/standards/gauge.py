"""The American wire gauge: sizes by number, from the definition of the series.

39 steps in geometric progression lead from 0.005 in (number 36) to 0.46 in (4/0, number -3):
d = 0.005 in x 92^((36 - n) / 39), ASTM B258 (from memory). An inch is 25.4 mm.
"""

import math
import re

_INCH_MM = 25.4
_SPELLING = re.compile(r"(?:awg ?)?(?:(?P<zeros>0{1,4}|[1-4]/0)|(?P<number>[1-9]\d?))(?: ?awg)?")

NUMBERS = (18, 16, 14, 12, 10, 8, 6, 4, 3, 2, 1, 0, -1, -2, -3)
"""The sizes that building cable is made in, smallest first: NEC chapter 9, table 8."""


def area_mm2(number: int) -> float:
    """Return the cross-section of a solid wire of a gauge number, -3 for 4/0. [mm²]"""
    d_mm: float = 0.005 * _INCH_MM * 92.0 ** ((36 - number) / 39)
    return math.pi / 4 * d_mm**2


def name(number: int) -> str:
    """Return a gauge as it is written: ``12 AWG``, ``4/0 AWG``."""
    return f"{number} AWG" if number > 0 else f"{1 - number}/0 AWG"


def written(text: str) -> float | None:
    """Return the cross-section that a text such as ``12 AWG`` or ``4/0 AWG`` means. [mm²]

    None if the text names no gauge; raises `ValueError` for one that building cable is not made in.
    """
    said = " ".join(text.lower().split())
    match = _SPELLING.fullmatch(said)
    if "awg" not in said or match is None:
        return None
    number = _number(match["zeros"] or "", match["number"] or "")
    if number not in NUMBERS:
        raise ValueError(f"no building cable is made in {name(number)}")
    return area_mm2(number)


def _number(zeros: str, number: str) -> int:
    """Return a number as counted down: 4/0, or 0000, is -3."""
    if number:
        return int(number)
    return 1 - (int(zeros[0]) if "/" in zeros else len(zeros))


_NAMES = {area_mm2(number): name(number) for number in NUMBERS}


def is_gauge(size_mm2: float) -> bool:
    """Tell whether a cross-section is that of a gauge. [mm²]"""
    return size_mm2 in _NAMES


def size_in_words(size_mm2: float) -> str:
    """Write a cross-section as cable is sold: ``2.5 mm²`` or ``12 AWG``. [mm²]"""
    return _NAMES.get(size_mm2) or f"{size_mm2:g} mm²"
