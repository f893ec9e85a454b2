"""The units people write beside a value, each with its spellings and its power of ten.

Symbols are the SI's (SI Brochure, 9th edition, tables 4, 7 and 8, from memory: `m` is milli, `M`
is mega); plain-letter spellings (`uohm`, `mm2`) and a prefix alone for ohms (`1.2k`) are common
practice, no source.
"""

import unicodedata
from dataclasses import dataclass

from faultfinder.source.spelling import nearest


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of a quantity; `power` is its power of ten against the unit with power 0.

    The case of a leading m or M counts in a symbol; no other case does.
    """

    quantity: str
    power: int
    symbols: tuple[str, ...]
    words: tuple[str, ...] = ()


UNITS = (
    Unit("resistance", -6, ("uohm", "µohm", "uΩ", "µΩ"), ("microohm",)),
    Unit("resistance", -3, ("mohm", "mΩ"), ("milliohm",)),
    Unit("resistance", 0, ("ohm", "Ω")),
    Unit("resistance", 3, ("kohm", "kΩ", "k"), ("kilohm", "kiloohm")),
    Unit("resistance", 6, ("Mohm", "MΩ", "M"), ("megohm", "megaohm")),
    Unit("resistance", 9, ("Gohm", "GΩ", "G"), ("gigohm", "gigaohm")),
    Unit("voltage", -3, ("mV",), ("millivolt",)),
    Unit("voltage", 0, ("V",), ("volt",)),
    Unit("voltage", 3, ("kV",), ("kilovolt",)),
    Unit("current", -3, ("mA",), ("milliamp", "milliampere")),
    Unit("current", 0, ("A",), ("amp", "ampere")),
    Unit("current", 3, ("kA",), ("kiloamp", "kiloampere")),
    Unit("time", -6, ("us", "µs"), ("microsecond",)),
    Unit("time", -3, ("ms",), ("millisecond", "msec")),
    Unit("time", 0, ("s",), ("second", "sec")),
    Unit("length", -3, ("mm",), ("millimetre", "millimeter")),
    Unit("length", -2, ("cm",), ("centimetre", "centimeter")),
    Unit("length", 0, ("m",), ("metre", "meter")),
    Unit("length", 3, ("km",), ("kilometre", "kilometer")),
    Unit("area", -6, ("mm2", "mm^2"), ("sq mm", "square mm", "square millimetre")),
    Unit("area", -4, ("cm2", "cm^2"), ("sq cm", "square cm", "square centimetre")),
    Unit("temperature", 0, ("degC", "°C", "C"), ("degrees C", "celsius", "degrees celsius")),
    Unit("share", -2, ("%", "pct"), ("percent",)),
    Unit("share", 0, ("ratio",)),
)


_PREFIXES = frozenset({"k", "M", "G"})  # what of kohm, Mohm and Gohm may stand alone


def find_unit(written: str) -> Unit | None:
    """Return the unit spelt so, or None. Plurals, full-width and raised characters are known."""
    return _BY_SPELLING.get(_key(written))


def nearest_unit(written: str, quantity: str) -> str:
    """Return the spelling of a unit of `quantity` closest to what was written, or ''.

    A prefix alone is not offered: kg has more letters in common with k than with kohm, and means
    neither.
    """
    units = [unit for unit in UNITS if unit.quantity == quantity]
    whole = (s for u in units for s in u.symbols + u.words if s not in _PREFIXES)
    return nearest(written, whole)


def symbols_of(quantity: str) -> list[str]:
    """List one symbol of each unit of `quantity`."""
    return [unit.symbols[0] for unit in UNITS if unit.quantity == quantity]


def _key(spelling: str) -> str:
    # NFKC makes one sign of the two ohms, the two micros and a raised 2.
    text = unicodedata.normalize("NFKC", spelling).replace(" ", "")
    first, rest = text[:1], text[1:].casefold()
    return (first if first == "M" else first.casefold()) + rest


def _table() -> dict[str, Unit]:
    table: dict[str, Unit] = {}
    for unit in UNITS:
        ohms = [s + "s" for s in unit.symbols if s.endswith("ohm")]
        words = [*unit.words, *(word + "s" for word in unit.words)]
        # A word is the same with a capital: Milliohm is no mega.
        for spelling in (*unit.symbols, *ohms, *words, *(word.capitalize() for word in words)):
            table[_key(spelling)] = unit
    return table


_BY_SPELLING = _table()
