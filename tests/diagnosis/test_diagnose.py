"""The whole way: verdicts, what is said of suspects, and what to do next."""

import math
from dataclasses import replace
from functools import cache

import pytest
from modelled import BRANCHED, DEAD, LINE, LONG, MODES, RING, RULEBOOK, case, readings

from faultfinder.diagnosis import offers
from faultfinder.diagnosis.catalogue import catalogue
from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.readings.reading import Reading, Spot
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

OPEN_EARTH = Fault("open", ("E",), "S1..S2")
PAIRS = ("A-N", "A-E", "N-E")


@cache
def of(circuit, faults, tests):
    return diagnose(case(circuit, faults, tests), RULEBOOK)


def found(*faults, circuit=LINE, taken=None, tests=("terminated",)):
    if taken is None:
        return of(circuit, faults, tests)
    return diagnose(case(circuit, taken=taken), RULEBOOK)


def changed(taken, **values):
    """Return readings with those of some spots, such as ``S1_on_A_N``, set to a value."""
    return [
        replace(r, amount=Amount(values[key], "="))
        if (key := f"{r.spot.at}_{r.spot.switch}_{r.spot.between}".replace("-", "_")) in values
        else r
        for r in taken
    ]


def insulation(mohm, *pairs):
    """Return readings of insulation at the board, all of one value."""
    spots = [Spot("insulation", "DB", "", pair) for pair in pairs]
    return [Reading(spot, Amount(mohm, "="), 0.01) for spot in spots]


# -- verdicts ------------------------------------------------------------------------------------


def test_a_sound_circuit():
    diagnosis = found()
    assert diagnosis.verdict == "sound"
    assert not diagnosis.anything_wrong
    assert diagnosis.suspects[0].faults == ()
    assert diagnosis.suspects[0].supported_by == (
        "15 of 15 readings are as a sound circuit should read.",
    )
    assert diagnosis.next_checks == ()


def test_no_readings():
    diagnosis = found(taken=[])
    assert diagnosis.verdict == "sound"
    assert diagnosis.readings == ()
    assert diagnosis.suspects[0].faults == ()
    assert diagnosis.cautions == ()


def test_a_fault():
    diagnosis = found(OPEN_EARTH)
    assert diagnosis.verdict == "fault"
    assert diagnosis.anything_wrong
    (leader,) = diagnosis.leading
    assert leader.faults == (OPEN_EARTH,)
    assert leader.title == "earth open in run S1..S2"
    assert leader.probability > 0.99


def test_one_wild_reading_is_a_slip_and_no_fault_but_nothing_is_sound_until_it_is_read_again():
    diagnosis = found(taken=changed(readings(LINE), S1_on_A_N=42.0))
    assert diagnosis.verdict == "unexplained"
    assert not diagnosis.suspects[0].faults
    assert sum(not reading.is_fine for reading in diagnosis.readings) == 1
    sound = diagnosis.suspects[0]
    assert sound.spoken_against_by == (
        "A-N at S1, switch on reads 42.0 ohm; a sound circuit would read 15.2 ohm.",
    )
    assert sound.reason == ""


def test_what_no_single_fault_makes_is_unexplained():
    wild = changed(
        readings(LINE), S1_on_A_N=42.0, S2_on_A_E=77.0, S3__N_E=1.2, S1_off_N_E=93.0, S3__A_N=2.0
    )
    diagnosis = found(taken=wild)
    assert diagnosis.verdict == "unexplained"
    assert diagnosis.anything_wrong


@pytest.mark.parametrize(
    ("first_a_n", "verdict"),
    [
        (Amount(math.inf, "open"), "unexplained"),
        (Amount(5.0, "<"), "unexplained"),
        (Amount(100.0, ">"), "unexplained"),
        (Amount(42.0, "="), "fault"),
        (Amount(100.0, "<"), "fault"),
    ],
    ids=["open", "less", "more", "one number", "a bound that is kept"],
)
def test_a_fault_may_leave_one_number_misread_but_no_open_and_no_bound(first_a_n, verdict):
    """An earth lost from S2 on, and A-N at S1, of 15.2 ohm, that no second fault makes either."""
    taken = [
        replace(r, amount=first_a_n)
        if (r.spot.at, r.spot.switch, r.spot.between) == ("S1", "on", "A-N")
        else r
        for r in readings(LINE, [OPEN_EARTH])
    ]
    diagnosis = found(taken=taken)
    assert diagnosis.suspects[0].faults == (OPEN_EARTH,)
    assert diagnosis.verdict == verdict


def test_two_numbers_misread_are_one_too_many():
    taken = changed(readings(LINE, [OPEN_EARTH]), S1_on_A_N=70.0, S1_off_N_E=93.0)
    diagnosis = found(taken=taken)
    assert diagnosis.suspects[0].faults == (OPEN_EARTH,)
    assert diagnosis.verdict == "unexplained"


EACH_AND_ALL = pytest.mark.parametrize(
    "pairs", [("A-N",), ("A-E",), ("N-E",), ("A+N-E",), PAIRS], ids=" ".join
)


@pytest.mark.untraced
@EACH_AND_ALL
@pytest.mark.parametrize("circuit", [LINE, LONG], ids=["line", "long"])
@pytest.mark.parametrize("mohm", [2.0, 20.0, 100.0, 500.0])
def test_insulation_that_passes_is_no_fault(mohm, circuit, pairs):
    """Above the least a standard allows: old, damp or long, but nothing calls it bridged."""
    diagnosis = found(circuit=circuit, taken=insulation(mohm, *pairs))
    assert diagnosis.verdict != "fault"
    assert not diagnosis.outside_limit


@pytest.mark.untraced
@EACH_AND_ALL
@pytest.mark.parametrize("circuit", [LINE, LONG], ids=["line", "long"])
@pytest.mark.parametrize("mohm", [0.0, 0.38])
def test_insulation_that_is_gone_is_a_fault(mohm, circuit, pairs):
    diagnosis = found(circuit=circuit, taken=insulation(mohm, *pairs))
    assert len(diagnosis.outside_limit) == len(pairs)
    if len(pairs) > 1:  # no single bridge spoils all three pairs: the cable, or several
        assert diagnosis.verdict == "unexplained"
        return
    assert diagnosis.verdict == "fault"
    modes = {s.faults[0].mode for s in diagnosis.leading}
    # Something left connected reads the same, and is looked for before anything is opened.
    # So does a second link, where neutral and earth have no ohms between them.
    assert "bridged" in modes <= {"bridged", "set-up", "link-extra"}


# -- what was not read ---------------------------------------------------------------------------


def test_everything_read_leaves_nothing_unread():
    assert found().not_read == ()
    # A joint box has nothing to be read in by this test.
    assert found(circuit=BRANCHED).not_read == ()


def test_outlets_and_switch_positions_that_were_not_read_are_named():
    taken = [r for r in readings(LINE) if r.spot.at != "S3"]
    on = [r for r in taken if (r.spot.at, r.spot.switch) != ("S2", "off")]
    off = [r for r in taken if (r.spot.at, r.spot.switch) != ("S1", "on")]
    assert found(taken=taken).not_read == ("S3",)
    assert found(taken=on).not_read == ("S2 switched off", "S3")
    assert found(taken=off).not_read == ("S1 switched on", "S3")
    assert found(taken=insulation(500.0, *PAIRS)).not_read == ("S1", "S2", "S3")


def test_a_circuit_hardly_read_is_as_sound_as_before_it_was_read():
    """Twelve outlets, one of them read: the others' faults cannot show, and are kept apart."""
    (before, *_) = catalogue(LONG, MODES)
    few = [r for r in readings(LONG) if r.spot.at == "S1" and r.spot.switch == "on"]
    for taken in (few, few[:1]):
        diagnosis = found(circuit=LONG, taken=taken)
        assert diagnosis.verdict == "sound"
        (sound,) = [s for s in diagnosis.suspects if not s.faults]
        assert sound.probability == pytest.approx(math.exp(before.log_prior), abs=0.1)
        assert diagnosis.unseen > 0.2
        assert found(circuit=LONG).unseen < diagnosis.unseen / 2


@EACH_AND_ALL
def test_insulation_that_passes_leaves_the_unseen_what_it_was(pairs):
    """Good insulation says nothing of loose or open conductors.

    A bridge of just so many megohms is a little likelier than before, at many places, none of them
    probable enough to be listed: that may add some, but not a tale of its own.
    """
    (before, *_) = catalogue(LONG, MODES)
    diagnosis = found(circuit=LONG, taken=insulation(20.0, *pairs))
    assert diagnosis.unseen < 1 - math.exp(before.log_prior) + 0.2


def test_a_reading_outside_its_limit_is_something_wrong():
    """A drawing of 400 m of cable: all as it should be, and no fault current to trip a device."""
    long_line = replace(LINE, runs=(replace(LINE.runs[0], length_m=400.0), *LINE.runs[1:]))
    diagnosis = found(circuit=long_line)
    assert diagnosis.verdict == "sound"
    assert any(reading.within_limit is False for reading in diagnosis.readings)
    assert diagnosis.anything_wrong


# -- suspects ------------------------------------------------------------------------------------


def test_groups_are_numbered_as_they_are_listed():
    for fault in (OPEN_EARTH, Fault("bridged", ("A", "N"), "S2..S3", 1.0)):
        numbers = [suspect.group for suspect in found(fault).suspects]
        assert numbers == sorted(numbers)
        assert set(numbers) == set(range(1, max(numbers) + 1))
        assert [s.rank for s in found(fault).suspects] == list(range(1, len(numbers) + 1))


def test_the_sound_circuit_is_always_listed():
    for fault in (OPEN_EARTH, Fault("switch-stuck-on", (), "S1")):
        assert sum(not s.faults for s in found(fault).suspects) == 1


def test_a_leader_is_supported_by_readings_that_a_sound_circuit_would_not_give():
    (leader,) = found(OPEN_EARTH).leading
    assert 1 <= len(leader.supported_by) <= 3
    for sentence in leader.supported_by:
        assert " reads open; sound would be " in sentence
        assert sentence.endswith("with this fault open.")
    assert leader.spoken_against_by == ()
    spots = [sentence.split(",")[0] for sentence in leader.supported_by]
    assert len(set(spots)) == len(spots)  # one switch position is enough


def test_a_rival_is_spoken_against():
    sound = next(s for s in found(OPEN_EARTH).suspects if not s.faults)
    assert sound.spoken_against_by
    assert all("a sound circuit would read" in s for s in sound.spoken_against_by)


def test_a_sign_gives_the_reason():
    (leader,) = found(OPEN_EARTH).leading
    assert leader.signs == ("open-in-run-e",)
    assert leader.reason == (
        "A-E and N-E are lost from S2 on and A-N is right: only the earth is missing, from the run "
        "that feeds S2."
    )


def test_without_a_sign_the_model_gives_it():
    leader = found(Fault("transposed", ("A", "N"), "S1..J1"), circuit=BRANCHED).suspects[0]
    assert leader.faults[0].at == "S1..J1"
    assert leader.signs == ()
    assert leader.reason.endswith("are off; the circuit with this fault in it reads as was read.")


def test_a_mode_says_what_to_do():
    (leader,) = found(OPEN_EARTH).leading
    mode = RULEBOOK.modes["open"]
    assert (leader.look_for, leader.remedy) == (mode.look_for, mode.remedy)
    assert (leader.retest, leader.cautions) == (mode.retest, mode.cautions_for(("E",)))


def test_ohms_are_said_with_their_interval():
    leader = found(Fault("high-resistance", ("A",), "S1..S2", 2.5)).suspects[0]
    ((low, high),) = leader.ohms
    assert low < leader.faults[0].r_ohm < high
    assert leader.title == "poor joint of about 2.50 ohm in the active in run S1..S2"


def test_cautions_are_those_of_the_tests_used_each_once():
    both = found(tests=("terminated", "long-lead")).cautions
    one, two = (RULEBOOK.procedures[test].cautions for test in ("terminated", "long-lead"))
    assert both == tuple(dict.fromkeys((*one, *two)))


# -- next checks ---------------------------------------------------------------------------------


def partly_read():
    """Return an open earth seen at S3 and not at S1, S2 never read."""
    return [r for r in readings(LINE, [OPEN_EARTH]) if r.spot.at != "S2"]


def test_checks_are_ranked_by_what_they_tell_a_minute():
    diagnosis = found(taken=partly_read())
    checks = diagnosis.next_checks
    assert [check.rank for check in checks] == list(range(1, len(checks) + 1))
    worth = [check.information_bits / check.minutes for check in checks]
    assert worth == sorted(worth, reverse=True)
    assert all(check.information_bits > 0 and check.minutes > 0 for check in checks)
    assert len({(check.test, check.spot.at) for check in checks}) == len(checks)


def test_the_first_check_reads_the_outlet_between():
    first = found(taken=partly_read()).next_checks[0]
    assert (first.test, first.spot.at, first.risk) == ("terminated", "S2", "dead")
    assert first.spot.between in {"A-E", "N-E"}
    assert {spot.between for spot in first.also} == {"A-N", "A-E", "N-E"} - {first.spot.between}
    # The test is set up already: a reading costs what each does, and 9 m of walk from S3.
    walk = 9.0 / RULEBOOK.walking.metres_per_minute
    assert first.minutes == round(RULEBOOK.procedures["terminated"].minutes.each + walk, 1)


def test_outcomes_name_the_suspects_that_would_show_them():
    diagnosis = found(taken=partly_read())
    for check in diagnosis.next_checks:
        ranks = [rank for outcome in check.outcomes for rank in outcome.suspects]
        assert len(set(ranks)) == len(ranks)
        assert set(ranks) <= {suspect.rank for suspect in diagnosis.suspects}
        for outcome in check.outcomes:
            first = diagnosis.suspects[outcome.suspects[0] - 1]
            assert outcome.group == first.group
    values = [outcome.value for outcome in diagnosis.next_checks[0].outcomes]
    assert math.inf in values
    assert any(isinstance(value, float) and math.isfinite(value) for value in values)


def test_taking_the_first_check_tells_more():
    fewer, more = partly_read(), list(readings(LINE, [OPEN_EARTH]))
    first = found(taken=fewer).next_checks[0]
    with_it = fewer + [r for r in more if r.spot == first.spot]
    assert len(with_it) == len(fewer) + 1
    assert len(found(taken=with_it).leading) < len(found(taken=fewer).leading)


def ends_of_a_ring():
    """Return a ring with an open earth of which only the ends were read, at the board."""
    return found(OPEN_EARTH, circuit=RING, tests=("ring-ends",))


def test_a_test_not_set_up_costs_its_setting_up_and_hands_in_a_board_that_may_be_live():
    checks = [check for check in ends_of_a_ring().next_checks if check.test != "inspect"]
    assert checks
    for check in checks:
        assert check.test != "ring-ends"
        minutes = RULEBOOK.procedures[check.test].minutes
        walk = sum(r.length_m for r in RING.path(check.spot.at)) if check.spot.at != "DB" else 0.0
        whole = minutes.set_up + minutes.each + walk / RULEBOOK.walking.metres_per_minute
        assert check.minutes == round(whole, 1)
        assert check.risk == "dead with supply nearby"


def test_a_look_is_dead():
    (look,) = found(OPEN_EARTH).next_checks
    assert (look.test, look.risk) == ("inspect", "dead")


def test_a_check_says_how_and_what_to_mind():
    for check in (*ends_of_a_ring().next_checks, *found(taken=partly_read()).next_checks):
        rule = RULEBOOK.procedures.get(check.test, RULEBOOK.inspection)
        assert check.steps == rule.steps
        assert check.cautions[: len(rule.cautions)] == rule.cautions


def test_checks_that_part_the_suspects_alike_are_offered_once():
    """A-E and N-E at S2 both tell where the earth is lost: one of them is enough."""
    shorted = found(taken=insulation(0.0, "A-E"))
    for diagnosis in (found(taken=partly_read()), ends_of_a_ring(), shorted):
        parted = [frozenset(o.suspects for o in c.outcomes) for c in diagnosis.next_checks]
        assert parted
        assert len(set(parted)) == len(parted)


def test_where_nothing_is_left_to_tell_apart_it_says_where_to_look():
    (check,) = found(OPEN_EARTH).next_checks
    assert (check.test, check.spot.at, check.spot.between) == ("inspect", "S2", "")
    assert check.why.startswith(f"look for {RULEBOOK.modes['open'].look_for}")
    minutes = RULEBOOK.inspection.minutes
    walk = 9.0 / RULEBOOK.walking.metres_per_minute  # from S3, read last
    assert check.minutes == round(minutes.set_up + minutes.each + walk, 1)


def test_alike_suspects_are_told_apart_by_opening_the_accessory():
    diagnosis = found(Fault("switch-bypassed", (), "S1"))
    assert {s.faults[0].mode for s in diagnosis.leading} == {"switch-bypassed", "switch-stuck-on"}
    assert {(check.test, check.spot.at) for check in diagnosis.next_checks} == {("inspect", "S1")}


def test_every_dead_test_can_be_offered_though_none_was_made_with_terminators():
    """Read end to end only, the case states no terminators: the usual ones are taken."""
    fault = Fault("transposed", ("A", "N"), "S1..S2")
    taken = [r for r in readings(LINE, [fault], ("long-lead",)) if r.spot.between == "A"]
    diagnosis = diagnose(replace(case(LINE, taken=taken), terminators=None), RULEBOOK)
    assert diagnosis.verdict == "fault"
    assert diagnosis.next_checks


@pytest.mark.parametrize("test", DEAD)
def test_every_test_can_be_diagnosed(test):
    """An open earth shows in any test but one of insulation, which a broken core does not spoil."""
    circuit = RING if RULEBOOK.procedures[test].for_rings_only else LINE
    diagnosis = found(OPEN_EARTH, circuit=circuit, tests=(test,))
    faults = [s.faults[0] for s in diagnosis.leading if s.faults]
    is_of_cores = RULEBOOK.procedures[test].quantity != "insulation"
    assert (OPEN_EARTH in faults) == is_of_cores


@pytest.mark.parametrize(
    ("used", "weighed"),
    [
        ("terminated", {"insulation"}),
        ("insulation", {"insulation"}),
        ("insulation-250", {"insulation", "insulation-250"}),
    ],
)
def test_insulation_is_weighed_at_the_usual_voltage_and_at_one_in_use(used, weighed, monkeypatch):
    asked = set()

    def spots(procedure, circuit):
        asked.add(procedure.id)
        return spots_of(procedure, circuit)

    monkeypatch.setattr(offers, "spots_of", spots)
    bridge = Fault("bridged", ("A", "E"), "S2", 5.0)
    diagnosis = found(taken=[r for r in readings(LINE, [bridge], (used,)) if r.spot.at != "S2"])
    assert {test for test in asked if RULEBOOK.procedures[test].quantity == "insulation"} == weighed
    offered = [check.test for check in diagnosis.next_checks]
    assert len({test for test in offered if test.startswith("insulation")}) <= 1


def test_bounds_and_opens_are_judged_together():
    taken = [
        Reading(Spot("insulation", "DB", "", "A-N"), Amount(200.0, ">"), 1.0),
        Reading(Spot("insulation", "DB", "", "A-E"), Amount(0.05, "<"), 0.01),
        Reading(Spot("insulation", "DB", "", "N-E"), Amount(math.inf, "open"), 0.01),
    ]
    diagnosis = found(taken=taken)
    assert diagnosis.verdict == "fault"
    named = {
        (s.faults[0].set_up or s.faults[0].mode, s.faults[0].conductors) for s in diagnosis.leading
    }
    assert named == {
        ("bridged", ("A", "E")),
        # Left connected, these read the same.
        ("arrester-left-in", ("A", "E")),
        ("active-not-isolated", ()),
    }
    assert [reading.grade for reading in diagnosis.readings] == [
        "as-expected",
        "conducts",
        "as-expected",
    ]


def test_the_likeliest_place_is_opened_first():
    """A bridge in an outlet leads the run beside it: the outlet is opened, not the run's end."""
    fault = Fault("bridged", ("A", "E"), "S2", 0.05)
    diagnosis = found(fault)
    assert diagnosis.suspects[0].faults[0].at == "S2"
    looks = [check.spot.at for check in diagnosis.next_checks if check.test == "inspect"]
    assert looks[0] == "S2"
