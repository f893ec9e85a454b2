"""What the signs alone see, against what each of them says it is a sign of."""

from dataclasses import replace

import pytest
from modelled import LINE, RULEBOOK
from planned import lineup, of

from faultfinder.coverage.by_signs import by_signs
from faultfinder.coverage.plan import plan_of

PLAN = plan_of(("terminated",), LINE, RULEBOOK.procedures)


@pytest.fixture(scope="module")
def signs():
    return by_signs(lineup(LINE), PLAN, RULEBOOK)


def test_gross_faults_have_signs_that_point_to_them(signs):
    for said in ("open E at S2", "open A at S1..S2", "transposed A-N at S1"):
        assert of(signs, said).detected == 1.0
        assert of(signs, said).places >= 1


def test_what_no_sign_points_to_is_unseen_and_the_reason_told(signs):
    faint = of(signs, "high-resistance E at S2..S3")
    assert 0 < faint.detected < 1
    ohmless = [one for one in signs.faults if one.detected == 0]
    assert all(one.places == 0 for one in ohmless)


def test_signs_say_less_than_the_model_of_ohms(signs):
    assert signs.detected_of("bridged") < 1
    assert signs.by == "rules"
    assert signs.isolated[1] <= signs.isolated[2]


def test_without_signs_nothing_is_seen():
    known = lineup(LINE)
    nothing = by_signs(known, PLAN, replace(RULEBOOK, pointers=RULEBOOK.pointers[:1]))
    assert nothing.detected < 0.2
    assert nothing.detected == pytest.approx(
        sum(one.prior * one.detected for one in nothing.faults)
        / sum(one.prior for one in nothing.faults)
    )
