"""The repair and its re-test list."""

from evidence.test_links import SITE
from modelled import BRANCHED, LINE, RING, RULEBOOK, case

from faultfinder.guiding.ending import mending
from faultfinder.reporting.dialogue import repair
from faultfinder.reporting.layout import plain
from faultfinder.wiring.fault import SET_UP, Fault


def retests(fault, circuit=BRANCHED):
    found = mending(case(circuit), RULEBOOK, (fault,))
    return {retest.test: retest for retest in found.retests}


def test_a_run_is_tested_again_at_its_end_and_beyond():
    found = retests(Fault("open", ("E",), "J1..S2"))
    assert list(found) == list(RULEBOOK.modes["open"].retest)
    assert found["long-lead"].at == ("S2", "S3")
    assert found["terminated"].at == ("S2", "S3")
    # Insulation is of the circuit: once, at the board.
    assert found["insulation"].at == ("DB",)


def test_an_outlet_is_tested_again_with_what_is_fed_through_its_terminals():
    """They were opened for the repair, and the earth of what is beyond hangs on them."""
    assert retests(Fault("open", ("E",), "S2"))["long-lead"].at == ("S2", "S3")
    assert retests(Fault("open", ("E",), "S3"))["long-lead"].at == ("S3",)
    assert retests(Fault("open", ("E",), "S2"), RING)["long-lead"].at == ("S1", "S2", "S3")


def test_a_repair_at_a_board_tells_of_what_is_live_there():
    at_board = RULEBOOK.inspection.board.cautions
    for fault, circuit in (
        (Fault("open", ("E",), "DB..S1"), LINE),
        (Fault("link-extra", (), "WB"), SITE.circuit("bench")),
    ):
        assert set(at_board) <= set(mending(case(circuit), RULEBOOK, (fault,)).cautions)


def test_where_a_repair_asks_for_live_tests_dead_ones_come_first():
    procedures = RULEBOOK.procedures
    for mode in RULEBOOK.modes.values():
        live = [procedures[test].is_live for test in mode.retest]
        assert live == sorted(live)
        assert not live[0]


def test_a_ring_is_tested_again_all_round():
    assert retests(Fault("open", ("E",), "S1..S2"), RING)["long-lead"].at == ("S1", "S2", "S3")


def test_the_limits_are_those_of_the_standard():
    """At least 1 Mohm at 500 V d.c.: AS/NZS 3000:2018 clause 8.3.6 (clause from memory)."""
    found = retests(Fault("open", ("E",), "S1..S2"), LINE)
    (limit,) = found["insulation"].limits
    assert "at least 1.00 Mohm" in limit
    assert any("E at most" in said for said in found["long-lead"].limits)


def test_the_repair_says_what_where_and_what_to_mind():
    fault = Fault("open", ("E",), "S1..S2")
    found = mending(case(LINE), RULEBOOK, (fault,))
    assert "open in run S1..S2" in found.title
    assert found.remedy == (RULEBOOK.modes["open"].remedy,)
    assert found.cautions == RULEBOOK.modes["open"].cautions_for(("E",))


def test_what_is_wrong_at_a_board_is_tested_again_everywhere():
    found = retests(Fault("link-extra", (), "WB"), SITE.circuit("bench"))
    assert list(found) == list(RULEBOOK.modes["link-extra"].retest)
    assert all("B1" in r.at or r.at == ("WB",) for r in found.values())
    assert any("B1" in retest.at for retest in found.values())


def test_of_two_faults_each_repair_says_where():
    two = (Fault("open", ("E",), "S1..S2"), Fault("transposed", ("A", "N"), "S3"))
    found = mending(case(LINE), RULEBOOK, two)
    assert [text.split(":")[0] for text in found.remedy] == ["At S1..S2", "At S3"]
    assert len({retest.test for retest in found.retests}) == len(found.retests)


def test_a_mistake_of_the_test_is_corrected_and_all_read_again():
    fault = Fault(SET_UP, (), "DB", set_up="link-out")
    found = mending(case(LINE), RULEBOOK, (fault,))
    assert [retest.test for retest in found.retests] == ["terminated"]
    assert found.retests[0].at == ("S1", "S2", "S3")


def test_what_is_done_is_headed_as_what_it_is():
    mistake, fault = Fault(SET_UP, (), "DB", set_up="link-out"), Fault("open", ("E",), "S3")

    def headings(*faults):
        lines = repair(mending(case(LINE), RULEBOOK, faults), 200, plain)
        return [line for line in lines if line and not line.startswith((" ", "FOUND"))]

    assert headings(fault) == ["REPAIR", "TEST AGAIN"]
    assert headings(mistake) == ["CORRECT THE TEST and read again", "READ AGAIN"]
    both = ["CORRECT THE TEST and read again, then REPAIR", "TEST AGAIN"]
    assert headings(mistake, fault) == both
