"""What people write for a value: `0.42 ohm`, `420 mohm`, `>200 Mohm`, `18 ms`, `open`, a number.

A bare number is in the base unit that the caller names; the spellings are in `units.py`. Where
two readings of a text are possible it is refused, because a wrong factor looks like a fault.
"""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Literal, LiteralString

from pydantic import BeforeValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from faultfinder.source.problem import listed, shown
from faultfinder.source.spelling import nearest
from faultfinder.source.units import Unit, find_unit, nearest_unit, symbols_of

_NUMBER = re.compile(r"([<>]?) ?([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?) ?(.*)")
_OPEN = frozenset(
    {"open", "open circuit", "ol", "over", "over range", "inf", "infinity", "infinite", "∞"}
)
_NO_TRIP = "no trip"
_LONGEST = 100  # characters: nobody writes a longer value, and a number may be endless
_ABSOLUTE_ZERO_DEGC = -273.15  # SI Brochure, 9th edition, section 2.3.1 (from memory)


@dataclass(frozen=True, slots=True)
class Amount:
    """A value in the base unit: exactly, below (`<`), above (`>`), or `open` (then infinite)."""

    value: float
    bound: Literal["=", "<", ">", "open"]


class QuantityError(ValueError):
    """A text that is no value of the quantity asked for; the attributes are a `Problem`'s."""

    def __init__(
        self, id_: LiteralString, found: str, expected: str = "", nearest: str = ""
    ) -> None:
        super().__init__(f"{found}; expected {expected}" if expected else found)
        self.id = id_
        self.found = found
        self.expected = expected
        self.nearest = nearest


def parse_amount(text: str, unit: str, *, minimum: float | None = 0.0) -> Amount:
    """Return the value that `text` states, in `unit`.

    `unit` is ohm, Mohm, V, A, mA, ms, m, mm2, degC, pct or ratio, and `minimum` the least value
    that makes sense, in that unit. Only a resistance can be `open`: over the range of the
    instrument, an infinite value; and only a time `no trip`, which is infinite too. Raises
    `QuantityError` with the id `empty-value`, `not-a-number`, `decimal-comma`, `unknown-unit`,
    `impossible-unit`, `ambiguous-unit`, `impossible-value` or `out-of-range`.
    """
    base = find_unit(unit)
    if base is None:
        raise KeyError(unit)
    written = " ".join(text.replace("\N{MINUS SIGN}", "-").split())
    if not written:
        raise QuantityError("empty-value", "nothing is written here", _example(base, unit))
    if written.casefold() == _NO_TRIP and base.quantity == "time":
        return Amount(math.inf, "open")
    if _means_open(written):
        if base.quantity != "resistance":
            found = f"{shown(written)} is not possible for a {base.quantity}"
            raise QuantityError("impossible-value", found, _example(base, unit))
        return Amount(math.inf, "open")
    sign, number, rest = _split(written, base, unit)
    shift = _unit_of(rest, number, base, unit).power - base.power if rest else 0
    value = _scaled(number, shift)
    if not math.isfinite(value):
        raise QuantityError("out-of-range", f"{shown(written)} is too large", "a smaller number")
    if minimum is not None and (value < minimum or (sign == "<" and value == minimum)):
        found = f"{shown(written)} is too small"
        raise QuantityError("out-of-range", found, f"at least {minimum:g} {unit}")
    # Adding zero turns -0.0 into 0.0.
    return Amount(value + 0.0, "<" if sign == "<" else ">" if sign == ">" else "=")


def _example(base: Unit, unit: str) -> str:
    if base.quantity == "resistance":
        return f'a number in {unit}, a number with its unit, or "open"'
    if base.quantity == "time":
        return f'a number in {unit}, a number with its unit, or "{_NO_TRIP}"'
    return f"a number in {unit}, or a number with its unit"


def _means_open(written: str) -> bool:
    word, _, last = written.rpartition(" ")
    unit = find_unit(last)
    if word and unit and unit.quantity == "resistance":
        written = word
    # o.l., O/L, over-range
    plain = re.sub(r"(?<=\w)[./]", "", written.casefold())
    return re.sub(r"(?<=\w)-", " ", plain) in _OPEN


def _split(written: str, base: Unit, unit: str) -> tuple[str, str, str]:
    """Split into a sign of a bound, a number and a unit, or say why that cannot be done."""
    if re.search("[0-9],[0-9]", written):
        raise _comma(written)
    match = _NUMBER.fullmatch(written)
    if match is None or match[3][:1] in set("0123456789.,") or len(written) > _LONGEST:
        near = ""
        if base.quantity == "resistance":
            near = nearest(written, sorted(_OPEN))
        if base.quantity == "time":
            near = nearest(written, [_NO_TRIP])
        if re.search("[0-9] [0-9]{3}", written):
            near = re.sub("(?<=[0-9]) (?=[0-9]{3})", "", written)
        found = f"{shown(written)} is not a number"
        raise QuantityError("not-a-number", found, _example(base, unit), near)
    return match[1], match[2], match[3]


def _comma(written: str) -> QuantityError:
    expected = "a point before the decimals, and no sign between thousands"
    decimals = written.replace(",", ".")
    # 1,200 is a thousand in one country and one and a fifth in another: offer neither.
    sure = written.count(",") == 1 and not re.search("[0-9],[0-9]{3}(?![0-9])", written)
    near = decimals if sure and "." not in written else ""
    found = f"the comma in {shown(written)} is ambiguous"
    return QuantityError("decimal-comma", found, expected, near)


def _unit_of(rest: str, number: str, base: Unit, unit: str) -> Unit:
    found = find_unit(rest)
    wanted = listed(symbols_of(base.quantity))
    if found is None:
        close = nearest_unit(rest, base.quantity)
        near = f"{number} {close}" if close else ""
        if rest in {"L", "l"} and float(number) == 0:  # a zero for the O of OL: 0L, 0.L
            near = "open"
        raise QuantityError("unknown-unit", f"unknown unit {shown(rest)}", wanted, near)
    if found.quantity != base.quantity:
        what = f"{shown(rest)} is a unit of {found.quantity}, not of {base.quantity}"
        raise QuantityError("impossible-unit", what, wanted)
    if _unclear(rest, found, base):
        what = f"{shown(rest)} may be meant as milliohm or as megohm"
        near = f"{number} Mohm" if unit == "Mohm" else ""
        raise QuantityError("ambiguous-unit", what, "milliohm or megohm, in full", near)
    return found


def _unclear(rest: str, found: Unit, base: Unit) -> bool:
    """Tell whether an m may be an M: in capitals throughout, or milliohms of insulation."""
    if found.power == 6 and base.power == 0:
        return rest in {"MOHM", "MOHMS"}
    return found.power == -3 and base.power == 6 and not rest.casefold().startswith("milli")


def _scaled(number: str, shift: int) -> float:
    """Shift the decimal point exactly: 420 mohm is the float 0.42, not a product near it."""
    plain = float(number)
    if plain == 0.0 or math.isinf(plain):
        return plain
    return float(Decimal(number).scaleb(shift))


def _number(unit: str, minimum: float, *, above: bool = False) -> Callable[[object], object]:
    """Make a validator: one finite number in `unit`, at least `minimum`, or `above` it."""

    def checked(value: object) -> object:
        if isinstance(value, str):
            amount = parse_amount(value, unit, minimum=None)
            if amount.bound != "=":
                found = f"{shown(value)} is not one number"
                raise QuantityError("impossible-value", found, f"one number in {unit}")
            number = amount.value
        elif isinstance(value, int | float) and not isinstance(value, bool):
            number = float(value)
        else:
            return value
        if not math.isfinite(number):
            raise QuantityError("not-a-number", f'"{value}" is not a number', f"a number in {unit}")
        if number < minimum or (above and number == minimum):
            limit = f"{'more than' if above else 'at least'} {minimum:g} {unit}"
            raise QuantityError("out-of-range", f'"{value}" is too small', limit)
        return number

    def validate(value: object) -> object:
        try:
            return checked(value)
        except QuantityError as error:
            parts = {"found": error.found, "expected": error.expected, "nearest": error.nearest}
            raise PydanticCustomError(error.id, "{found}", parts) from error

    return validate


def _written(unit: str) -> WithJsonSchema:
    """Describe such a number to an editor: a bare one, or a text with its unit."""
    text = {"type": "string", "pattern": r"^\s*[-+]?[0-9.,]"}
    return WithJsonSchema({"anyOf": [{"type": "number"}, text], "title": unit})


# For models: a text with or without a unit, or a number, becomes one finite float in the unit.
Ohm = Annotated[float, BeforeValidator(_number("ohm", 0.0, above=True)), _written("ohm")]
OhmOrZero = Annotated[float, BeforeValidator(_number("ohm", 0.0)), _written("ohm")]
Megohm = Annotated[float, BeforeValidator(_number("Mohm", 0.0, above=True)), _written("Mohm")]
MegohmOrZero = Annotated[float, BeforeValidator(_number("Mohm", 0.0)), _written("Mohm")]
Metre = Annotated[float, BeforeValidator(_number("m", 0.0, above=True)), _written("m")]
SquareMillimetre = Annotated[
    float, BeforeValidator(_number("mm2", 0.0, above=True)), _written("mm2")
]
Volt = Annotated[float, BeforeValidator(_number("V", 0.0, above=True)), _written("V")]
Ampere = Annotated[float, BeforeValidator(_number("A", 0.0, above=True)), _written("A")]
Millisecond = Annotated[float, BeforeValidator(_number("ms", 0.0, above=True)), _written("ms")]
Milliampere = Annotated[float, BeforeValidator(_number("mA", 0.0, above=True)), _written("mA")]
DegC = Annotated[float, BeforeValidator(_number("degC", _ABSOLUTE_ZERO_DEGC)), _written("degC")]
Percent = Annotated[float, BeforeValidator(_number("pct", 0.0)), _written("pct")]
