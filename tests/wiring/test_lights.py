"""Lights with one-way and two-way switches, and circuits of several actives: what is drawn."""

import pytest

from faultfinder.source.document import parse_yaml
from faultfinder.source.problem import BadInput
from faultfinder.wiring.fault import parse_fault
from faultfinder.wiring.file import circuit_from

LIGHTS = """\
board: DB
device: {curve: C, rating: 10}
cable: {active: 1.5, earth: 1.5}
points:
  V1: {kind: two-way}
  V2: {kind: two-way}
  G1: {kind: light}
  V3: {kind: switch}
  G3: {kind: light}
runs:
  - {from: DB, to: V1, length: 12}
  - {from: V1, to: V2, length: 15, carries: [A, T1, T2, N, E]}
  - {from: V2, to: G1, length: 7, carries: [S, N, E]}
  - {from: V2, to: G3, length: 9}
  - {from: G3, to: V3, length: 3, carries: [A, S, E]}
"""
THREE_PHASE = """\
board: DB
actives: [L1, L2, L3]
device: {curve: C, rating: 32}
cable: {active: 6, earth: 2.5}
points:
  O1: {kind: appliance}
  O2: {kind: outlet, phase: L2, switched: both}
runs:
  - {from: DB, to: O1, length: 8}
  - {from: O1, to: O2, length: 3}
"""


def read(text):
    return circuit_from(parse_yaml(text, "c.yaml"))


def told(text):
    with pytest.raises(BadInput) as bad:
        read(text)
    return [f"{p.position} {p.id} | {p.found}" for p in bad.value.problems]


def test_who_switches_what():
    circuit = read(LIGHTS)
    named = {p.name: [s.name for s in circuit.switches_of(p)] for p in circuit.points}
    assert named == {"V1": [], "V2": [], "G1": ["V1", "V2"], "V3": [], "G3": ["V3"]}
    assert circuit.switch_words(circuit.point("G1")) == ("1-1", "1-2", "2-1", "2-2")
    assert circuit.switch_words(circuit.point("G3")) == ("on", "off")
    assert circuit.operated("G1", "2-1") == ("V1",)
    assert circuit.operated("G1", "2-2") == ("V1", "V2")
    assert circuit.operated("G3", "off") == ("V3",)
    assert circuit.operated("G3", "on") == ()


def test_what_a_wall_switch_switches():
    circuit = read(LIGHTS)
    common = {p.name: circuit.common_of(p) for p in circuit.points if p.is_wall_switch}
    assert common == {"V1": "A", "V2": "S", "V3": "A"}
    assert circuit.point("V3").switched == ("S",)
    assert circuit.point("V1").switched == ("T1", "T2")


def test_conductors_of_each_place():
    circuit = read(LIGHTS)
    assert circuit.conductors_at("V1..V2") == ("A", "T1", "T2", "N", "E")
    assert circuit.conductors_at("DB..V1") == ("A", "N", "E")
    assert circuit.conductors_at("G1") == ("A", "N", "E")
    assert circuit.conductors_at("V3") == ("A", "S")
    assert circuit.conductors_at("V2") == ("S", "T1", "T2")
    assert circuit.all_conductors == ("A", "S", "T1", "T2", "N", "E")
    three = read(THREE_PHASE)
    assert three.conductors_at("O1") == ("L1", "L2", "L3", "N", "E")
    assert three.conductors_at("O2") == ("L2", "N", "E")
    assert three.point("O2").switched == ("L2", "N")


def test_a_fault_may_be_of_any_conductor_there_is():
    fault, ohms = parse_fault("bridged t2 - E in V1..V2 3 kohm", read(LIGHTS))
    assert (fault.conductors, fault.at, ohms) == (("T2", "E"), "V1..V2", "3 kohm")
    fault, _ = parse_fault("transposed L3-L1 at O1", read(THREE_PHASE))
    assert fault.conductors == ("L1", "L3")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "length: 7, carries: [S, N, E]",
            "length: 7",
            "c.yaml:7:7 not-fed | S does not reach G1, drawn as light",
        ),
        (
            "length: 15, carries: [A, T1, T2, N, E]",
            "length: 15, carries: [A, T1, N, E]",
            "c.yaml:6:7 not-fed | T2 does not reach V2, drawn as two-way",
        ),
        (
            "carries: [A, S, E]",
            "carries: [S, E]",
            "c.yaml:8:7 not-fed | A and S do not reach V3, drawn as switch",
        ),
        (
            "V3: {kind: switch}",
            "V3: {kind: switch, switched: yes}",
            'c.yaml:8:32 impossible-value | switch "V3" has a switch',
        ),
        (
            "device: {",
            "actives: [L1, L2]\nphase: L1\ndevice: {",
            "c.yaml:3:8 impossible-value | a circuit of several actives is on no single phase",
        ),
        (
            "G1: {kind: light}",
            "G1: {kind: light, phase: L2}",
            "c.yaml:7:28 impossible-value | G1 takes L2, which the circuit does not have",
        ),
    ],
)
def test_what_cannot_be_is_told(old, new, said):
    assert old in LIGHTS
    assert said in told(LIGHTS.replace(old, new))


def test_a_load_has_ohms_or_watts_at_a_voltage():
    loads = "loads:\n  - {at: O2, watts: 529}\n  - {at: O1, between: L1-L3, ohms: 40, fixed: yes}\n"
    plugged, fixed = read(THREE_PHASE + loads).loads
    assert (plugged.between, plugged.is_fixed) == (("L2", "N"), False)
    assert plugged.r_ohm == pytest.approx(230**2 / 529)  # P = U2 / R
    assert (fixed.between, fixed.r_ohm, fixed.is_fixed) == (("L1", "L3"), 40.0, True)
