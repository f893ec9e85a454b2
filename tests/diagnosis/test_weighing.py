"""What is weighed without the telling is what a diagnosis tells."""

from dataclasses import replace

import pytest
from modelled import BRANCHED, LINE, LONG, RING, RULEBOOK, case

from faultfinder.diagnosis import weighing
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.weighing import weigh_case
from faultfinder.wiring.fault import Fault

CASES = {
    "sound": case(LINE),
    "an open run": case(BRANCHED, [Fault("open", ("N",), "J1..S4")]),
    "a fault of degree": case(LINE, [Fault("high-resistance", ("E",), "S2", 0.6)]),
    "on a ring": case(RING, [Fault("open", ("A",), "S1..S2")], ["ring-ends", "ring-cross"]),
    "two faults": case(
        LINE, [Fault("transposed", ("A", "N"), "S1"), Fault("open", ("E",), "S2..S3")]
    ),
    "many outlets": case(LONG, [Fault("bridged", ("A", "E"), "S5..S6", 2.0)]),
}


@pytest.mark.parametrize("given", CASES.values(), ids=CASES)
def test_a_diagnosis_tells_what_is_weighed(given, monkeypatch):
    told = diagnose(given, RULEBOOK)
    monkeypatch.setattr(weighing, "signs_met", None)  # no sign is run
    weighed = weigh_case(given, RULEBOOK, telling=False)
    assert weighed.verdict == told.verdict
    assert weighed.graded == told.readings
    assert weighed.judged.unseen == told.unseen
    assert [(s.faults, s.probability, group) for s, group in weighed.listed] == [
        (s.faults, s.probability, s.group) for s in told.suspects
    ]


def test_signs_are_run_where_one_points_to_what_the_catalogue_has_not():
    both = "open", ("A", "N"), "S1..S2"  # the catalogue opens one conductor at a time
    written = RULEBOOK.as_written
    first = next(p for p in written.pointers if p.sign.id == "open-in-run-a")
    target = first.target.model_copy(update={"conductors": ("A", "N")})
    rules = replace(written, pointers=(replace(first, target=target),))
    given = case(LINE, [Fault("open", ("A",), "S1..S2")])
    weighed = weigh_case(given, rules, telling=False)
    told = diagnose(given, rules)
    assert Fault(*both) in weighed.pointed
    assert [s.faults for s, _ in weighed.listed] == [s.faults for s in told.suspects]
