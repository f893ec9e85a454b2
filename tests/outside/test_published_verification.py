"""What the dead tests that standards prescribe for outlets can find, one by one and together.

The tests, their order, and what each is for, are quoted below with their sources. The plans are in
``rules/plans``; the table of ``docs/coverage.md`` is held against them here. Run this file to print
it.
"""

from functools import cache
from pathlib import Path

import pytest
from modelled import RULEBOOK, TERMINATORS, UNKNOWN

from faultfinder.coverage.by_model import by_model
from faultfinder.coverage.lineup import line_up
from faultfinder.coverage.plan import load_plan
from faultfinder.coverage.result import share
from faultfinder.readings.file import load_circuit
from faultfinder.source.content import content_folder

# AS/NZS 3000:2018 clause 8.3.3 (amendment 1), quoted on a Western Australian contractors'
# association's member page (seen); IEC 60364-6 6.4.3 and BS 7671 part 6 ask for the same (from
# memory).
ORDER = ("continuity", "insulation", "polarity", "correct-connections")
# Polarity: single-pole devices in the line conductor only, socket contacts correctly wired (BS 7671
# as described in Basic Electrical Installation Work, p. 356, seen; same aim as IEC 60364-6).
# Correct connections: no short circuit, no transposition that would energise the earthing system
# (AS/NZS 3000:2018 clause 8.3.8, from memory).
PAGE = Path(__file__).parents[2] / "docs" / "coverage.md"
CIRCUIT = load_circuit(content_folder("cases") / "demo.yaml")
NAMES = (*ORDER, "before-energising")
ALL, NONE = pytest.approx(1, abs=0.002), pytest.approx(0, abs=0.002)


@cache
def covered(name):
    plan = load_plan(
        content_folder("rules") / "plans" / f"{name}.yaml", CIRCUIT, RULEBOOK.procedures
    )
    lineup = line_up(CIRCUIT, RULEBOOK, plan.spots, TERMINATORS, UNKNOWN)
    return by_model(lineup, plan)


def seen(name, mode, conductors, at="outlet"):
    """Return the share seen of a fault at outlets, or in runs."""
    ones = [
        one
        for one in covered(name).faults
        if (one.fault.mode, "-".join(one.fault.conductors)) == (mode, conductors)
        and (CIRCUIT.run(one.fault.at) is None) == (at == "outlet")
    ]
    assert ones
    return share(ones)


def rows():
    kinds = {
        (one.fault.mode, "-".join(one.fault.conductors))
        for one in covered(NAMES[0]).faults
        if CIRCUIT.run(one.fault.at) is None
    }
    for mode, conductors in sorted(kinds):
        shares = [seen(name, mode, conductors) for name in NAMES]
        words = ["yes" if s > 0.995 else "no" if s < 0.005 else f"{s:.0%}" for s in shares]
        yield f"| {f'{mode} {conductors}'.strip()} | {' | '.join(words)} |"


@pytest.mark.parametrize("at", ["outlet", "run"])
def test_insulation_and_continuity_do_not_find_active_and_neutral_exchanged_and_polarity_does(at):
    assert seen("insulation", "transposed", "A-N", at) == NONE
    assert seen("continuity", "transposed", "A-N", at) == NONE
    assert seen("polarity", "transposed", "A-N", at) == ALL


def test_polarity_finds_a_switch_in_the_neutral():
    for name in ("continuity", "insulation", "correct-connections"):
        assert seen(name, "switch-in-neutral", "") == NONE
    assert seen("polarity", "switch-in-neutral", "") == ALL


def test_correct_connections_find_what_would_energise_the_earth():
    for conductors in ("A-E", "N-E", "A-N-E", "A-E-N"):
        assert seen("correct-connections", "transposed", conductors) == ALL
    assert seen("correct-connections", "bridged", "A-E", "run") > 0.2


def test_continuity_finds_an_open_earth_and_nothing_of_the_neutral():
    assert seen("continuity", "open", "E") == ALL
    assert seen("continuity", "open", "N") == NONE


def test_insulation_finds_what_joins_conductors_and_nothing_else():
    found = {one.fault.mode for one in covered("insulation").faults if one.detected > 0.005}
    assert found == {"bridged", "link-extra"}
    assert seen("insulation", "bridged", "A-N", "run") > 0.95


def test_all_four_find_every_gross_fault_and_leave_what_is_a_matter_of_degree():
    gross = [
        one
        for one in covered("before-energising").faults
        if one.ohms is None and one.fault.mode != "undersized"
    ]
    assert share(gross) == ALL
    assert 0.96 < covered("before-energising").detected < 0.99


def test_the_last_plan_is_the_four_before_it_in_their_order():
    spots = {name: set(covered(name).plan.spots) for name in NAMES}
    assert set.union(*(spots[name] for name in ORDER)) == spots[NAMES[-1]]
    first = [covered(name).plan.spots[0] for name in ORDER]
    whole = covered(NAMES[-1]).plan.spots
    assert [whole.index(spot) for spot in first] == sorted(map(whole.index, first))


def test_the_page_has_the_table():
    page = PAGE.read_text("utf-8")
    for row in rows():
        assert row in page


if __name__ == "__main__":
    print(*rows(), sep="\n")  # noqa: T201
