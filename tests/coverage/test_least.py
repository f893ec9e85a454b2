"""The cheapest plan, against every plan there is."""

import os
from itertools import combinations

import numpy as np
import pytest
from modelled import LINE, RULEBOOK
from planned import lineup

from faultfinder.coverage.least import least_plans
from faultfinder.coverage.plan import Plan
from faultfinder.coverage.power import Alarm

PROCEDURES = RULEBOOK.procedures


def every_choice(known):
    """Yield every choice of tests and places with what it costs."""
    rows = list(dict.fromkeys((spot.test, spot.at) for spot in known.spots))
    for count in range(len(rows) + 1):
        for some in combinations(rows, count):
            taken = np.array([(spot.test, spot.at) in some for spot in known.spots])
            spots = tuple(s for s, is_taken in zip(known.spots, taken, strict=True) if is_taken)
            yield taken, Plan("", spots).minutes(PROCEDURES)


@pytest.mark.parametrize("tests", [("long-lead", "linked-out")])
def test_no_choice_that_shows_as_much_costs_less(tests):
    known = lineup(LINE, tests)
    alarm = Alarm(known, 0.01)
    read = known.samples.read
    must = read[alarm.power(read) >= 0.99]
    cheapest = min(
        minutes for taken, minutes in every_choice(known) if (alarm.power(must, taken) >= 0.9).all()
    )
    shows, places = least_plans(known, 0.01)
    assert shows.minutes == cheapest
    assert shows.is_proved
    assert places.minutes >= shows.minutes
    assert shows.plan.minutes(PROCEDURES) == shows.minutes


def test_what_the_solver_prints_is_not_heard(monkeypatch, capfd):
    import scipy.optimize

    real = scipy.optimize.milp

    def talking(*given, **named):
        os.write(1, b"from below Python")
        return real(*given, **named)

    monkeypatch.setattr(scipy.optimize, "milp", talking)
    assert least_plans(lineup(LINE, ("linked-out",)), 0.01)
    os.write(1, b"an answer")
    assert capfd.readouterr().out == "an answer"


def test_what_places_all_leaves_no_more_places_than_every_reading():
    """The last outlet of a row has to be read, and so has each before it."""
    _, places = least_plans(lineup(LINE, ("terminated",)), 0.01)
    assert {spot.at for spot in places.plan.spots} == {"S1", "S2", "S3"}
