"""What a person types."""

import math

import pytest
from modelled import LINE, RULEBOOK, case, readings

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.guiding.answers import NotUnderstood, pairs_asked, readings_typed
from faultfinder.wiring.fault import Fault

TAKEN = [r for r in readings(LINE, [Fault("open", ("E",), "S1..S2")]) if r.spot.at != "S2"]
CHECK = diagnose(case(LINE, taken=TAKEN), RULEBOOK).next_checks[0]
TESTS = RULEBOOK.procedures


def typed(text, check=CHECK):
    found = readings_typed(text, check, LINE, TESTS)
    return {
        r.spot.between: r.amount.value if r.amount.bound != ">" else f">{r.amount.value:g}"
        for r in found
    }


def test_the_pairs_asked_are_in_the_order_of_the_test():
    assert (CHECK.test, CHECK.spot.at) == ("terminated", "S2")
    assert pairs_asked(CHECK, TESTS) == ("A-N", "A-E", "N-E")


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("0.4", {"asked": 0.4}),
        ("0,4", {"asked": 0.4}),
        ("open", {"asked": math.inf}),
        ("OL", {"asked": math.inf}),
        ("o.l.", {"asked": math.inf}),
        (">200M", {"asked": ">2e+08"}),
        ("> 200 Mohm", {"asked": ">2e+08"}),
        ("1.2k", {"asked": 1200.0}),
        ("1,2 kohm", {"asked": 1200.0}),
        ("15.2 open 5.2", {"A-N": 15.2, "A-E": math.inf, "N-E": 5.2}),
        ("15.2, open, 5.2", {"A-N": 15.2, "A-E": math.inf, "N-E": 5.2}),
        ("15.2,10.2,5.2", {"A-N": 15.2, "A-E": 10.2, "N-E": 5.2}),
        ("15,2 10,2 5,2", {"A-N": 15.2, "A-E": 10.2, "N-E": 5.2}),
        ("15,2; ol; 5,2", {"A-N": 15.2, "A-E": math.inf, "N-E": 5.2}),
        ("A-E open N-E 5.2", {"A-E": math.inf, "N-E": 5.2}),
        ("a-e=open, e-n: 5.2 ohm", {"A-E": math.inf, "N-E": 5.2}),
        ("15.2 ohm 10.2 ohm 5.2 ohm", {"A-N": 15.2, "A-E": 10.2, "N-E": 5.2}),
    ],
)
def test_values_are_read_as_people_type_them(text, values):
    asked = CHECK.spot.between
    assert typed(text) == {asked if pair == "asked" else pair: v for pair, v in values.items()}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("twelve", "twelve"),
        ("", "no value"),
        ("1 2", "2 values"),
        ("A-E", "A-E without a value"),
        ("A-E N-E 5", "A-E without a value"),
        ("A-E open 5.2", '"5.2" without its pair'),
        ("-12", "-12"),
        ("5 V", "unit of voltage"),
    ],
)
def test_what_means_nothing_is_refused_with_what_was_expected(text, found):
    with pytest.raises(NotUnderstood) as refused:
        typed(text)
    assert found in refused.value.found
    assert refused.value.expected


def test_the_last_digit_typed_is_kept():
    (reading,) = readings_typed("10.20", CHECK, LINE, TESTS)
    assert reading.resolution == pytest.approx(0.01)
    (reading,) = readings_typed("10", CHECK, LINE, TESTS)
    assert reading.resolution == pytest.approx(1.0)
    assert reading.spot == CHECK.spot
