"""Tables of what should be read: they fit the screen, and units are never lost."""

import pytest
from modelled import BRANCHED, DEAD, LINE, RULEBOOK, TERMINATORS, expected

from faultfinder.diagnosis.foretell import Foretold
from faultfinder.reporting.expectations import expectations_text
from faultfinder.reporting.layout import plain
from faultfinder.wiring.fault import Fault

TESTS = DEAD


def text(circuit=LINE, faults=(), tests=("terminated",), width=80, style=plain):
    foretold = Foretold(expected(circuit, faults, tests), ())
    return expectations_text(circuit, TERMINATORS, faults, foretold, RULEBOOK, width, style)


@pytest.mark.parametrize("width", [40, 80])
@pytest.mark.parametrize("circuit", [LINE, BRANCHED], ids=["line", "branched"])
@pytest.mark.parametrize(
    "faults",
    [(), (Fault("bridged", ("A", "E"), "S1", 0.11e6), Fault("open", ("N",), "S2"))],
    ids=["sound", "faulty"],
)
def test_everything_fits(width, circuit, faults):
    lines = text(circuit, faults, TESTS, width).split("\n")
    assert max(len(line) for line in lines) <= width
    assert all(line == line.rstrip() for line in lines)


def test_a_wide_screen_has_a_line_for_each_place_and_position():
    lines = text().split("\n")
    (head,) = (line for line in lines if line.startswith("at "))
    assert head.split() == ["at", "A-N", "A-E", "N-E"]
    rows = [line for line in lines if line.startswith(("S1", "S2", "S3"))]
    assert [row.split("  ")[0] for row in rows] == ["S1 on", "S1 off", "S2 on", "S2 off", "S3"]
    assert rows[1].split()[:4] == ["S1", "off", "open", "open"]


def test_a_narrow_screen_has_a_line_for_each_pair():
    lines = text(width=40).split("\n")
    at = lines.index("S1 off")
    assert lines[at + 1 : at + 3] == ["  A-N  open", "  A-E  open"]
    assert lines[at + 3].startswith("  N-E  5.21 (")


def test_it_says_what_it_is_of():
    assert text().startswith("board DB, C20: sound, as drawn\n")
    faulty = text(faults=[Fault("open", ("E",), "S2"), Fault("high-resistance", ("A",), "S1", 2.0)])
    said = " ".join(faulty.split())
    assert said.startswith(
        "board DB, C20, with: earth open in outlet S2 and poor joint of 2.00 ohm in the "
        "active in outlet S1 "
    )


def test_terminators_and_limits_are_said_under_their_test():
    said = text()
    assert "terminators 10 ohm (active) and 5 ohm (neutral)" in said
    assert "limit A-E: at most" in said
    assert "terminators" not in text(tests=("long-lead",)).split("long-lead")[1]


def test_pairs_held_to_one_limit_share_its_line():
    said = text(tests=("insulation",))
    assert said.count("limit ") == 1
    assert "limit A-N, A-E, N-E, A+N-E: at least 1.00 Mohm." in said


def test_a_band_across_two_units_says_both():
    said = text(faults=[Fault("high-resistance", ("E",), "S1", 990.0)])
    (row,) = [line for line in said.split("\n") if line.startswith("  A-E  1.00 kohm (")]
    assert row.endswith(" kohm)")
    assert " ohm-" in row


def test_over_range_says_what_is_the_least():
    assert "open (over " in text(tests=("insulation",))


def marked(words, role):
    assert role in {"heading", "quiet"}
    return f"<{words}>"


def test_a_style_only_adds():
    dressed = text(style=marked)
    undressed = [
        line.removeprefix("<").removesuffix(">") if line.startswith("<") else line
        for line in dressed.split("\n")
    ]
    assert undressed == text().split("\n")
