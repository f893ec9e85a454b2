"""Links of neutral to earth, missing and one too many, against sums done by hand.

TN-C-S, 0.2 ohm out and 0.2 ohm back. 20 m of 2.5 mm² are 0.1482 ohm a conductor (7.41 ohm/km, IEC
60228) and 30 m of 10 mm² 0.0549 ohm; both have 0.08 mohm/m of reactance (NF C 15-100 clause 525).
"""

import math

import pytest
from modelled import LINE, RULEBOOK

from faultfinder.diagnosis.diagnose import diagnose
from faultfinder.diagnosis.foretell import ImpossibleFault, foretell, must_fit
from faultfinder.readings.case import Case
from faultfinder.readings.reading import Instrument, Reading, Spot, Terminators
from faultfinder.reporting.as_text import diagnosis_text
from faultfinder.source.document import parse_yaml
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault
from faultfinder.wiring.installation_file import installation_from

TEXT = """
installation: Samphire Yard
supply: {system: TN-C-S, line: {r: 0.2}, neutral: {r: 0.2}}
boards:
  DB: {}
  WB: {feeder: {from: DB, length: 30, cable: {active: 10}}}
circuits:
  kitchen:
    board: DB
    device: {curve: C, rating: 20}
    cable: {active: 2.5}
    points: {K1: {}, K2: {}}
    runs: [{from: DB, to: K1, length: 20}, {from: K1, to: K2, length: 5}]
  bench:
    board: WB
    device: {curve: C, rating: 20}
    cable: {active: 2.5}
    points: {B1: {}}
    runs: [{from: WB, to: B1, length: 20}]
"""
SITE = installation_from(parse_yaml(TEXT, "yard.yaml"))
RUN, FEEDER = 0.1482 + 0.0016j, 0.0549 + 0.0024j
MISSING, EXTRA = Fault("link-missing", (), "DB"), Fault("link-extra", (), "WB")


def expected(circuit, test, *faults, site=SITE):
    """Return what each pair of a test should read, by place and pair."""
    told = foretell(
        site.circuit(circuit), RULEBOOK, [test], Terminators(10, 5), Instrument(), faults, site
    )
    return {(e.spot.at, e.spot.between): e.value for e in told.readings}


def test_without_the_link_there_is_no_earth_loop():
    sound, missing = expected("kitchen", "loop"), expected("kitchen", "loop", MISSING)
    assert sound["K1", "A-E"] == pytest.approx(abs(0.4 + 2 * RUN), rel=1e-6)
    assert missing["K1", "A-E"] == missing["DB", "A-E"] == math.inf
    assert missing["K1", "A-N"] == pytest.approx(abs(0.4 + 2 * RUN), rel=1e-6)


def test_without_the_link_the_loop_is_by_the_electrode():
    """Its 40 ohm are those of the whole way to the source."""
    earthed = TEXT.replace("neutral: {r: 0.2}}", "neutral: {r: 0.2}, electrode: 40}")
    site = installation_from(parse_yaml(earthed, "yard.yaml"))
    missing = expected("kitchen", "loop", MISSING, site=site)
    assert missing["K1", "A-E"] == pytest.approx(abs(0.2 + 40 + 2 * RUN), rel=1e-6)


def test_a_second_link_at_a_sub_board_shares_the_neutral_s_current():
    """From there on only the circuit's own neutral lies between N and E of the outlet."""
    sound = 230 / (0.4 + 2 * FEEDER + 2 * RUN + 23)
    found = expected("bench", "voltage-loaded")
    assert found["B1", "N-E"] == pytest.approx(abs(sound * (FEEDER + RUN)), rel=1e-4)
    shared = 230 / (0.4 + 1.5 * FEEDER + 2 * RUN + 23)
    found = expected("bench", "voltage-loaded", EXTRA)
    assert found["B1", "N-E"] == pytest.approx(abs(shared * RUN), rel=1e-4)


@pytest.mark.parametrize(
    ("mode", "circuit"),
    [
        ("link-extra", SITE.circuit("kitchen")),  # there is one at DB already
        ("link-missing", SITE.circuit("bench")),  # and none at WB
        ("link-extra", LINE),
        ("link-missing", LINE),  # nothing is known of the board
        ("open", SITE.circuit("kitchen")),
    ],
)
def test_where_a_link_cannot_be_missing_or_one_too_many(mode, circuit):
    conductors = ("E",) if mode == "open" else ()
    with pytest.raises(ImpossibleFault, match=f'"{mode}" cannot be at {circuit.board}'):
        must_fit(RULEBOOK.modes[mode], circuit, Fault(mode, conductors, circuit.board))


def test_an_open_device_leaves_what_capacitance_carries_over():
    """Nothing of the supply is left to an instrument of 3 kohm; the loop is lost with it."""
    off = Fault("not-supplied", (), "DB")
    assert max(expected("kitchen", "voltage-low-impedance", off).values()) < 0.01
    lost = expected("kitchen", "loop", off)
    assert {lost["K1", "A-E"], lost["K1", "A-N"], lost["DB", "A-N"]} == {math.inf}
    beside = expected("bench", "voltage", Fault("not-supplied", (), "WB"))
    assert beside["B1", "A-N"] < 1


@pytest.mark.parametrize("boards", [("K1", "K2"), ("DB", "K1", "K2")])
def test_no_voltage_anywhere_leads_to_the_device(boards):
    circuit = SITE.circuit("kitchen")
    taken = tuple(
        Reading(Spot("voltage-low-impedance", at, "", pair), Amount(0.0, "="), 0.1)
        for at in boards
        for pair in ("A-N", "A-E", "N-E")
    )
    case = Case("", "", circuit, Terminators(10, 5), Instrument(), taken, installation=SITE)
    diagnosis = diagnose(case, RULEBOOK)
    suspects = diagnosis.suspects
    assert suspects[0].faults == (Fault("not-supplied", (), "DB"),)
    assert suspects[0].signs == ("no-voltage-anywhere-voltage-low-impedance",)
    look = next(check for check in diagnosis.next_checks if check.spot.at == "DB")
    assert (look.test, look.risk, look.steps) == ("inspect", "dead with supply nearby", ())
    assert "may be live at any moment" in " ".join(look.cautions)
    assert "At board DB, look for the device" in " ".join(diagnosis_text(diagnosis).split())
    run_open = Fault("open", ("A",), "DB..K1")
    grouped = {s.faults: s.group for s in suspects}
    if "DB" in boards:
        assert grouped.get((run_open,)) != 1
    else:
        assert grouped[(run_open,)] == 1


def test_a_missing_link_is_found_by_live_readings_and_named_by_its_signs():
    circuit = SITE.circuit("kitchen")
    told = foretell(
        circuit, RULEBOOK, ["loop"], Terminators(10, 5), Instrument(), [MISSING], SITE
    ).readings
    taken = tuple(
        Reading(e.spot, Amount(e.value, "open" if e.is_open else "="), 0.01) for e in told
    )
    case = Case("", "", circuit, Terminators(10, 5), Instrument(), taken, installation=SITE)
    leader = diagnose(case, RULEBOOK).suspects[0]
    assert leader.faults == (MISSING,)
    assert leader.title == "no link from neutral to earth at board DB"
    assert leader.signs == ("no-earth-loop-anywhere-loop",)
