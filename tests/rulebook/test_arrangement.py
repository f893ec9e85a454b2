"""Test procedures as probes, and what the trade expects of the readings on a sound circuit."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import AU_NZ, COPPER, circuits

from faultfinder.network.branch import Branch, Node, edited
from faultfinder.network.edits import Step, fault_edit
from faultfinder.network.solve import resistances
from faultfinder.network.wiring import network_of
from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.arrangement import probe_for, spots_of
from faultfinder.rulebook.rulebook import shipped_rulebook
from faultfinder.wiring.circuit import CONDUCTORS, Cable, Circuit, Device, Point, Run
from faultfinder.wiring.fault import Fault

PROCEDURES = shipped_rulebook().procedures
OPEN = math.inf
FITTED = Terminators(active_ohm=10.0, neutral_ohm=5.0)
CABLE = Cable(2.5, 2.5, 2.5, COPPER)
CIRCUIT = Circuit(
    "DB",
    Device("C", 20.0),
    (Point("S1", "outlet", ("A",)), Point("J1", "joint-box"), Point("S2", "outlet")),
    (Run("DB", "S1", 14.0, CABLE), Run("S1", "J1", 6.0, CABLE), Run("J1", "S2", 5.0, CABLE)),
    AU_NZ,
)


def at_board(conductor):
    return Node("DB", conductor)


def contact(place, conductor):
    return Node(place, conductor, "contact")


def bar(name):
    return Node("DB", name, "bar")


# -- from procedure to probe ---------------------------------------------------------------------


def probe(test, at, switch, between, terminators=None):
    return probe_for(PROCEDURES[test], CIRCUIT, terminators, Spot(test, at, switch, between))


def test_terminated():
    ours = probe("terminated", "S1", "on", "A-E", FITTED)
    assert (ours.first, ours.second) == ((contact("S1", "A"),), (contact("S1", "E"),))
    assert ours.fitted == (
        Branch(at_board("A"), bar("common"), 10.0),
        Branch(at_board("N"), bar("common"), 5.0),
        Branch(bar("common"), bar("neutral bar"), 0.0),
        Branch(bar("neutral bar"), bar("earth bar"), 0.0),
        Branch(at_board("E"), bar("earth bar"), 0.0),
    )


def test_terminated_needs_its_terminators():
    with pytest.raises(ValueError, match="terminators"):
        probe("terminated", "S1", "on", "A-E")


@pytest.mark.parametrize("test", ["linked-out", "long-lead", "insulation"])
def test_the_others_do_not(test):
    between = PROCEDURES[test].pairs[0]
    assert probe(test, "S1", "on", between) == probe(test, "S1", "on", between, FITTED)


@pytest.mark.parametrize(("first", "second"), [("A", "N"), ("A", "E"), ("N", "E")])
def test_linked_out_joins_what_is_read(first, second):
    ours = probe("linked-out", "S2", "", f"{first}-{second}")
    assert (ours.first, ours.second) == ((contact("S2", first),), (contact("S2", second),))
    assert ours.fitted == (Branch(at_board(first), at_board(second), 0.0),)


def test_long_lead_goes_from_the_board_to_the_point():
    ours = probe("long-lead", "J1", "", "E")
    assert (ours.first, ours.second) == ((at_board("E"),), (Node("J1", "E"),))
    assert ours.fitted == ()


def test_insulation_of_two_conductors_joined_against_the_third():
    ours = probe("insulation", "DB", "", "A+N-E")
    assert (ours.first, ours.second) == ((at_board("A"), at_board("N")), (at_board("E"),))
    assert ours.fitted == ()


def test_an_outlet_being_read_is_in_use_and_its_switch_as_noted():
    assert probe("long-lead", "S1", "on", "A").operated == {"in use at S1"}
    assert probe("long-lead", "S1", "", "A").operated == {"in use at S1"}
    assert probe("long-lead", "S1", "off", "A").operated == {"in use at S1", "switch of S1"}


def test_what_each_procedure_reads():
    """Both positions of a switch where there is one; joint boxes and the board as it says."""

    def read(test):
        return [(s.at, s.switch) for s in spots_of(PROCEDURES[test], CIRCUIT)[:: count(test)]]

    def count(test):
        return len(PROCEDURES[test].pairs)

    outlets = [("S1", "on"), ("S1", "off"), ("S2", "")]
    everywhere = [("S1", "on"), ("S1", "off"), ("J1", ""), ("S2", "")]
    assert read("terminated") == outlets
    assert read("long-lead") == everywhere
    assert read("linked-out") == everywhere
    assert read("insulation") == [("DB", ""), *everywhere]
    pairs = [spot.between for spot in spots_of(PROCEDURES["insulation"], CIRCUIT)[:4]]
    assert pairs == ["A-N", "A-E", "N-E", "A+N-E"]


def test_a_switch_that_is_not_to_be_tried_is_read_on():
    procedure = PROCEDURES["terminated"].model_copy(update={"switch": "on"})
    places = {(spot.at, spot.switch) for spot in spots_of(procedure, CIRCUIT)}
    assert places == {("S1", "on"), ("S2", "")}


@given(circuits())
def test_every_spot_has_a_probe_and_no_two_are_the_same(circuit):
    for procedure in PROCEDURES.values():
        spots = spots_of(procedure, circuit)
        assert len(set(spots)) == len(spots)
        probes = [probe_for(procedure, circuit, FITTED, spot) for spot in spots]
        assert len(set(probes)) == len(spots)


# -- what the trade expects (common practice, no source) ------------------------------------------
# With known resistors a and n at the board, a sound outlet reads a + n between active and neutral,
# a between active and earth, n between neutral and earth, each with the two conductors.

PAIRS = ("A-N", "A-E", "N-E")
TERMINATOR_OHMS = st.floats(1.0, 100.0)
TERMINATORS = st.builds(Terminators, TERMINATOR_OHMS, TERMINATOR_OHMS)
POSITIONS = {
    (): {"": "all"},
    ("A",): {"on": "all", "off": "N-E"},
    ("A", "N"): {"on": "all", "off": ""},
}


def paths_ohm(circuit, terminators, outlet):
    """Return what lies between the common point and each terminal of a sound outlet.

    Ohms are worked out here from the table, not by the model: per km at 20 °C, times length,
    times 1 + 0.00393 (t - 20) for copper (IEC 60228, AS/NZS 3008.1, from memory).
    """
    factor = 1 + 0.00393 * (circuit.temperature_c - 20)
    ohms = {"A": terminators.active_ohm, "N": terminators.neutral_ohm, "E": 0.0}
    for run in circuit.path(outlet):
        sizes = (run.cable.active_mm2, run.cable.neutral_mm2, run.cable.earth_mm2)
        for conductor, size in zip(CONDUCTORS, sizes, strict=True):
            ohms[conductor] += COPPER.ohm_per_km_20c[size] / 1000 * run.length_m * factor
    return ohms


def expected_readings(ohms, legible):
    """Return A-N, A-E and N-E of an outlet fed so; pairs the switch takes away are open."""
    pairs = {
        "A-N": ohms["A"] + ohms["N"],
        "A-E": ohms["A"] + ohms["E"],
        "N-E": ohms["N"] + ohms["E"],
    }
    return [r_ohm if legible in ("all", pair) else OPEN for pair, r_ohm in pairs.items()]


def terminated(circuit, terminators, network, place, switch):
    procedure = PROCEDURES["terminated"]
    spots = [Spot("terminated", place, switch, pair) for pair in PAIRS]
    probes = [probe_for(procedure, circuit, terminators, spot) for spot in spots]
    return list(resistances(network, probes)[0])


@given(circuits(), TERMINATORS)
def test_sound_outlets_switched_unswitched_and_both_poles(circuit, terminators):
    """Off, a switch in the active leaves n only; a switch in both poles leaves nothing."""
    network = network_of(circuit)
    for point in circuit.outlets():
        ohms = paths_ohm(circuit, terminators, point.name)
        for switch, legible in POSITIONS[point.switched].items():
            found = terminated(circuit, terminators, network, point.name, switch)
            assert found == pytest.approx(expected_readings(ohms, legible), rel=1e-12)


@given(circuits(), TERMINATORS, st.data())
def test_crossed_conductors_show_each_other_s_terminator(circuit, terminators, data):
    """Active and neutral exchanged: n on A-E and a on N-E; others and cyclic ones likewise."""
    outlet = data.draw(st.sampled_from(circuit.outlets()))
    crossed = data.draw(
        st.sampled_from((("A", "N"), ("A", "E"), ("N", "E"), ("A", "N", "E"), ("A", "E", "N")))
    )
    sound = network_of(circuit)
    edit = fault_edit(sound, circuit, (Step("exchange"),), Fault("", crossed, outlet.name))
    ohms = paths_ohm(circuit, terminators, outlet.name)
    lands_on = dict(zip(crossed, (*crossed[1:], crossed[0]), strict=True))
    landed = ohms | {lands_on[conductor]: ohms[conductor] for conductor in crossed}
    for switch, legible in POSITIONS[outlet.switched].items():
        found = terminated(circuit, terminators, edited(sound, edit), outlet.name, switch)
        assert found == pytest.approx(expected_readings(landed, legible), rel=1e-12)


def test_in_round_numbers():
    """10 and 5 ohm, next to no cable: 15, 10, 5; off: open, open, 5; and all exchanges."""
    board_side = Run("DB", "S1", 1e-9, CABLE)
    circuit = Circuit(
        "DB", Device("C", 20.0), (Point("S1", "outlet", ("A",)),), (board_side,), AU_NZ
    )
    sound = network_of(circuit)
    expected = {
        (): (15, 10, 5),
        ("A", "N"): (15, 5, 10),
        ("A", "E"): (5, 10, 15),
        ("N", "E"): (10, 15, 5),
        ("A", "N", "E"): (10, 5, 15),
        ("A", "E", "N"): (5, 15, 10),
    }
    for crossed, on in expected.items():
        fault = Fault("", crossed, "S1")
        edit = fault_edit(sound, circuit, (Step("exchange"),), fault) if crossed else {}
        for switch, values in (("on", on), ("off", (OPEN, OPEN, on[2]))):
            found = terminated(circuit, FITTED, edited(sound, edit), "S1", switch)
            assert found == pytest.approx(values, rel=1e-9), (crossed, switch)


@given(circuits())
def test_long_lead_and_linked_out_of_a_sound_circuit(circuit):
    """One conductor alone, and R1 + R2 of two (BS 7671 Guide, Appendix 4; off: active open)."""
    network = network_of(circuit)
    for test in ("long-lead", "linked-out"):
        spots = spots_of(PROCEDURES[test], circuit)
        probes = [probe_for(PROCEDURES[test], circuit, None, spot) for spot in spots]
        for spot, read in zip(spots, resistances(network, probes)[0], strict=True):
            ohms = paths_ohm(circuit, Terminators(0.0, 0.0), spot.at)
            conductors = spot.between.split("-")
            broken = circuit.point(spot.at).switched if spot.switch == "off" else ()
            whole = sum(ohms[conductor] for conductor in conductors)
            expected = OPEN if set(conductors) & set(broken) else whole
            assert read == pytest.approx(expected, rel=1e-12), spot
