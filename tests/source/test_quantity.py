"""What people write for a value."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError

from faultfinder.source.quantity import (
    Amount,
    Ampere,
    DegC,
    Metre,
    Ohm,
    Percent,
    QuantityError,
    SquareMillimetre,
    parse_amount,
)
from faultfinder.source.units import UNITS, find_unit

BASES = ("ohm", "Mohm", "V", "A", "ms", "m", "mm2", "degC", "pct", "ratio")


def refusal(text: str, unit: str = "ohm", minimum: float | None = 0.0) -> QuantityError:
    with pytest.raises(QuantityError) as caught:
        parse_amount(text, unit, minimum=minimum)
    return caught.value


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("0.42", "ohm", 0.42),
        ("0.42 ohm", "ohm", 0.42),
        ("0.42ohm", "ohm", 0.42),
        ("0.42 ohms", "ohm", 0.42),
        ("0.42 Ohm", "ohm", 0.42),
        ("0.42 OHM", "ohm", 0.42),
        ("0.42 \N{OHM SIGN}", "ohm", 0.42),
        ("0.42 \N{GREEK CAPITAL LETTER OMEGA}", "ohm", 0.42),
        ("0.42\N{NO-BREAK SPACE}Ω", "ohm", 0.42),
        ("  0.42   ohm ", "ohm", 0.42),
        ("420 mohm", "ohm", 0.42),
        ("420 mΩ", "ohm", 0.42),
        ("420 milliohms", "ohm", 0.42),
        ("420 Milliohm", "ohm", 0.42),
        ("420000 µΩ", "ohm", 0.42),
        ("420000 \N{GREEK SMALL LETTER MU}ohm", "ohm", 0.42),
        ("420000 uohm", "ohm", 0.42),
        ("1.2 Mohm", "ohm", 1.2e6),
        ("1.2M", "ohm", 1.2e6),
        ("1.2k", "ohm", 1200.0),
        ("1.2 K", "ohm", 1200.0),
        ("1.2 kΩ", "ohm", 1200.0),
        ("1.2 KOHM", "ohm", 1200.0),
        ("1.2 kilohm", "ohm", 1200.0),
        ("1.2 Mohms", "Mohm", 1.2),
        ("1.2 MOHM", "Mohm", 1.2),
        ("1.2 megohm", "Mohm", 1.2),
        ("1.2 Megohms", "Mohm", 1.2),
        ("1.2 megaohm", "Mohm", 1.2),
        ("1.2M", "Mohm", 1.2),
        ("1.2 MΩ", "Mohm", 1.2),
        ("1.2", "Mohm", 1.2),
        ("1.2 Gohm", "Mohm", 1200.0),
        ("500 kohm", "Mohm", 0.5),
        ("200 milliohm", "Mohm", 2e-7),
        ("230 V", "V", 230.0),
        ("230v", "V", 230.0),
        ("230 volts", "V", 230.0),
        ("500 mV", "V", 0.5),
        ("0.4 kV", "V", 400.0),
        ("30 mA", "A", 0.03),
        ("20 amps", "A", 20.0),
        ("6 kA", "A", 6000.0),
        ("18 ms", "ms", 18.0),
        ("18", "ms", 18.0),
        ("0.018 s", "ms", 18.0),
        ("0.018 sec", "ms", 18.0),
        ("500 µs", "ms", 0.5),
        ("12 m", "m", 12.0),
        ("12 metres", "m", 12.0),
        ("1200 mm", "m", 1.2),
        ("120 cm", "m", 1.2),
        ("0.1 km", "m", 100.0),
        ("2.5", "mm2", 2.5),
        ("2.5 mm²", "mm2", 2.5),
        ("2.5mm2", "mm2", 2.5),
        ("2.5 mm^2", "mm2", 2.5),
        ("2.5 sq mm", "mm2", 2.5),
        ("0.025 cm2", "mm2", 2.5),
        ("20 °C", "degC", 20.0),
        ("20 ℃", "degC", 20.0),
        ("20 deg C", "degC", 20.0),
        ("20 C", "degC", 20.0),
        ("5", "pct", 5.0),
        ("5 %", "pct", 5.0),
        ("5 percent", "pct", 5.0),
        ("5 per cent", "pct", 5.0),
        ("5%", "ratio", 0.05),
        ("0.05", "ratio", 0.05),
        ("1e-3", "ohm", 0.001),
        ("1E3", "ohm", 1000.0),
        ("5e3 V", "V", 5000.0),
        (".5", "ohm", 0.5),
        ("5.", "ohm", 5.0),
        ("+5", "ohm", 5.0),
        ("010", "ohm", 10.0),
        ("0", "ohm", 0.0),
    ],
)
def test_a_value_in_any_accepted_form(text, unit, value):
    assert parse_amount(text, unit) == Amount(value, "=")


@pytest.mark.parametrize(
    ("text", "unit", "value", "bound"),
    [
        (">200 Mohm", "Mohm", 200.0, ">"),
        ("> 200 Mohm", "Mohm", 200.0, ">"),
        (">200M", "Mohm", 200.0, ">"),
        ("< 0.05", "ohm", 0.05, "<"),
        ("<50 mohm", "ohm", 0.05, "<"),
        (">300 ms", "ms", 300.0, ">"),
        (">0", "ohm", 0.0, ">"),
    ],
)
def test_bounds(text, unit, value, bound):
    assert parse_amount(text, unit) == Amount(value, bound)


@pytest.mark.parametrize(
    "text",
    [
        "open",
        "OPEN",
        "Open",
        "open circuit",
        "ol",
        "OL",
        "O.L.",
        "o.l.",
        "O.L",
        "O/L",
        "over",
        "over range",
        "over-range",
        "infinity",
        "infinite",
        "inf",
        "∞",
        "∞ MΩ",
        "OL Mohm",
        " open ",
    ],
)
@pytest.mark.parametrize("unit", ["ohm", "Mohm"])
def test_open(text, unit):
    assert parse_amount(text, unit) == Amount(math.inf, "open")


@pytest.mark.parametrize("unit", ["V", "A", "ms", "m", "mm2", "degC", "pct", "ratio"])
@pytest.mark.parametrize("text", ["open", "inf", "OL"])
def test_only_a_resistance_is_open(unit, text):
    error = refusal(text, unit)
    assert error.id == "impossible-value"
    assert find_unit(unit).quantity in error.found


@pytest.mark.parametrize(
    ("text", "near"),
    [
        ("2,5", "2.5"),
        ("0,42 ohm", "0.42 ohm"),
        (">2,5 Mohm", ">2.5 Mohm"),
        ("1,200", ""),
        ("1,200.5", ""),
        ("1,2,3", ""),
    ],
)
def test_a_comma_is_ambiguous(text, near):
    error = refusal(text)
    assert (error.id, error.nearest) == ("decimal-comma", near)
    assert "ambiguous" in error.found
    assert "point" in error.expected


@pytest.mark.parametrize(
    ("text", "unit", "near"),
    [
        ("0.42 hom", "ohm", "0.42 ohm"),
        ("1.2 Mohn", "Mohm", "1.2 Mohm"),
        ("12 meterz", "m", "12 meter"),
        ("5 MV", "V", "5 mV"),
        ("5 MM", "m", "5 mm"),
        ("5 MS", "ms", "5 ms"),
        ("3 apples", "ohm", ""),
        ("22.4 kg", "ohm", ""),
        ("22.4 Mg", "Mohm", ""),
        ("22.4 ko", "ohm", "22.4 kohm"),
        ("22.4 kohn", "ohm", "22.4 kohm"),
        ("0L", "ohm", "open"),
        ("0.L", "ohm", "open"),
        (".0 l", "Mohm", "open"),
        ("1.L", "ohm", ""),
    ],
)
def test_an_unknown_unit_offers_the_nearest(text, unit, near):
    error = refusal(text, unit)
    assert (error.id, error.nearest) == ("unknown-unit", near)
    assert find_unit(unit).symbols[0] in error.expected


@pytest.mark.parametrize(
    ("text", "unit", "is_of"),
    [
        ("0.42 V", "ohm", "voltage"),
        ("0.42 m", "ohm", "length"),
        ("12 M", "m", "resistance"),
        ("12 ohm", "m", "resistance"),
        ("12 mm", "mm2", "length"),
        ("18 s", "V", "time"),
        ("5 %", "ohm", "share"),
    ],
)
def test_a_unit_of_another_quantity(text, unit, is_of):
    error = refusal(text, unit)
    assert error.id == "impossible-unit"
    assert f"a unit of {is_of}" in error.found
    assert find_unit(unit).symbols[0] in error.expected


@pytest.mark.parametrize(
    ("text", "unit", "near"),
    [
        ("1.2 MOHM", "ohm", ""),
        ("1.2 MOHMS", "ohm", ""),
        ("200 mohm", "Mohm", "200 Mohm"),
        ("200 mΩ", "Mohm", "200 Mohm"),
    ],
)
def test_milli_or_mega_is_never_guessed(text, unit, near):
    error = refusal(text, unit)
    assert (error.id, error.nearest) == ("ambiguous-unit", near)


@pytest.mark.parametrize("text", ["", " ", "\t\n"])
def test_nothing(text):
    assert refusal(text).id == "empty-value"


@pytest.mark.parametrize(
    "text",
    [
        "nan",
        "NaN",
        "-inf",
        "abc",
        "ohm",
        "1.2.3",
        "1_0 000",
        "--1",
        ">",
        "> open",
        ">=5",
        "≥5",
        "1 2",
        "٣",
        "½",
        "10 000 000",
        "0x10" * 40,
        "1" * 200,
        "<>5",
        "5 < 6 < 7 8,",
    ],
)
def test_not_a_number(text):
    assert refusal(text).id in {"not-a-number", "unknown-unit"}


def test_advice_on_what_is_not_a_number():
    assert refusal("opne").nearest == "open"
    assert refusal("opne", "V").nearest == ""
    assert refusal("1 200 mm", "m").nearest == "1200 mm"


@pytest.mark.parametrize(
    ("text", "minimum"),
    [
        ("-1", 0.0),
        ("-0.1 ohm", 0.0),
        ("\N{MINUS SIGN}1", 0.0),
        ("<0", 0.0),
        ("4", 5.0),
        ("<5", 5.0),
    ],
)
def test_below_the_minimum(text, minimum):
    error = refusal(text, minimum=minimum)
    assert error.id == "out-of-range"
    assert f"at least {minimum:g} ohm" in error.expected


def test_a_minimum_of_none_allows_negative_values():
    assert parse_amount("-5", "degC", minimum=None) == Amount(-5.0, "=")
    assert parse_amount("\N{MINUS SIGN}5 °C", "degC", minimum=None) == Amount(-5.0, "=")


def test_minus_zero_is_zero():
    assert math.copysign(1, parse_amount("-0", "ohm").value) == 1


@pytest.mark.parametrize("text", ["1e400", "1e308 Gohm", "9" * 5 + "e9999999999999999999"])
def test_too_large_for_a_number(text):
    assert refusal(text).id == "out-of-range"


def test_an_unknown_base_is_a_mistake_of_the_caller():
    with pytest.raises(KeyError):
        parse_amount("1", "furlong")


@st.composite
def written_values(draw: st.DrawFn) -> tuple[str, str, float, str]:
    """Draw a text in a random accepted form, its base unit, and the value and bound it states."""
    base = draw(st.sampled_from(BASES))
    target = find_unit(base)
    unit = draw(st.sampled_from([u for u in UNITS if u.quantity == target.quantity]))
    spelling = draw(st.sampled_from(unit.symbols + unit.words))
    if target.power == 6 and unit.power == -3:
        spelling = "milliohm"
    digits = draw(st.integers(1, 10**9))
    places = draw(st.integers(0, 9))
    number = draw(st.sampled_from([f"{digits}e-{places}", f"{digits / 10**places:.{places}f}"]))
    if draw(st.booleans()):
        spelling, power = "", target.power
    else:
        power = unit.power
    gap = draw(st.sampled_from(["", " ", "  ", "\N{NO-BREAK SPACE}"]))
    bound = draw(st.sampled_from(["", ">", "< ", "> "]))
    # The exact decimal, rounded once.
    value = float(f"{digits}e{power - target.power - places}")
    return f"{bound}{number}{gap}{spelling}", base, value, bound.strip() or "="


@given(written_values())
def test_round_trip(case):
    text, base, value, bound = case
    amount = parse_amount(text, base)
    assert amount.bound == bound
    # `:.9f` of a float may be off in the 17th digit; everything else is exact.
    assert amount.value == pytest.approx(value, rel=1e-15)


@given(st.floats(0, 1e12), st.sampled_from(BASES))
def test_a_bare_number_comes_back_to_the_bit(value, base):
    assert parse_amount(repr(value), base).value == value


@given(st.text(max_size=30), st.sampled_from(BASES))
def test_any_text_is_a_finite_amount_or_a_refusal(text, base):
    try:
        outcome: Amount | QuantityError = parse_amount(text, base)
    except QuantityError as error:
        outcome = error
    if isinstance(outcome, Amount):
        assert outcome.bound == "open" or 0 <= outcome.value < math.inf
    else:
        assert outcome.id
        assert outcome.found


def test_no_spelling_names_two_units():
    seen: dict[str, object] = {}
    for unit in UNITS:
        for spelling in unit.symbols + unit.words:
            assert find_unit(spelling) is unit
            assert seen.setdefault(spelling, unit) is unit


class Cable(BaseModel):
    length: Metre = 1.0
    area: SquareMillimetre = 1.0
    rating: Ampere = 1.0
    joint: Ohm = 1.0
    ambient: DegC = 20.0
    error: Percent = 0.0


@pytest.mark.parametrize(
    ("field", "given_", "value"),
    [
        ("length", "1200 mm", 1.2),
        ("length", "14", 14.0),
        ("length", 14, 14.0),
        ("area", "2.5 mm²", 2.5),
        ("rating", "30 mA", 0.03),
        ("joint", "1.2k", 1200.0),
        ("joint", 0.5, 0.5),
        ("ambient", "-5 °C", -5.0),
        ("error", "2 %", 2.0),
        ("error", "0", 0.0),
    ],
)
def test_model_fields(field, given_, value):
    assert getattr(Cable.model_validate({field: given_}), field) == value


@pytest.mark.parametrize(
    ("field", "given_", "id_"),
    [
        ("length", "0", "out-of-range"),
        ("length", "-1 m", "out-of-range"),
        ("length", -1, "out-of-range"),
        ("length", "14 ohm", "impossible-unit"),
        ("area", "2,5", "decimal-comma"),
        ("joint", "open", "impossible-value"),
        ("joint", "> 5", "impossible-value"),
        ("joint", math.nan, "not-a-number"),
        ("joint", math.inf, "not-a-number"),
        ("rating", "", "empty-value"),
        ("ambient", "-300", "out-of-range"),
        ("error", "-1", "out-of-range"),
        ("length", [], "float_type"),
    ],
)
def test_model_fields_refuse(field, given_, id_):
    with pytest.raises(ValidationError) as caught:
        Cable.model_validate({field: given_})
    (error,) = caught.value.errors()
    assert error["type"] == id_


def test_a_refusal_carries_its_parts_into_the_model_error():
    with pytest.raises(ValidationError) as caught:
        Cable.model_validate({"length": "2,5 {expected}"})
    (error,) = caught.value.errors()
    assert error["ctx"]["nearest"] == "2.5 {expected}"
    assert set(error["ctx"]) == {"found", "expected", "nearest"}


def test_a_device_that_does_not_trip():
    assert parse_amount("no trip", "ms") == Amount(math.inf, "open")
    assert parse_amount("No Trip", "ms").bound == "open"


@pytest.mark.parametrize(("text", "unit"), [("no trip", "ohm"), ("open", "ms"), ("no tripp", "ms")])
def test_no_trip_is_a_time_and_open_is_none(text, unit):
    with pytest.raises(QuantityError) as caught:
        parse_amount(text, unit)
    assert caught.value.nearest == ("no trip" if text == "no tripp" else "")
