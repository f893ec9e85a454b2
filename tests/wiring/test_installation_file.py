"""Installation files: what is read of them, and each mistake told with its place."""

# ruff: noqa: E501, ISC004 - a table reads best with one case a line

import math
from pathlib import Path

import pytest

from faultfinder.source.document import load_yaml
from faultfinder.source.problem import BadInput
from faultfinder.wiring.installation import Impedance
from faultfinder.wiring.installation_file import installation_from, is_installation

SITE = """\
installation: Tern Cottage
supply: {system: TN-C-S, phases: three, loop: 0.4 ohm, electrode: 20 ohm}
boards:
  SB: {feeder: {from: DB, length: 18, cable: {active: 10, earth: 4}, device: {curve: C, rating: 40}}}
  DB: {rcd: 30 mA}
circuits:
  kitchen: {file: kitchen.yaml, phase: L1}
  oven:
    board: SB
    actives: [L3, L1, L2]
    device: {curve: C, rating: 32}
    cable: {active: 6, earth: 2.5}
    points:
      O1: {kind: appliance}
      O2: {kind: outlet, phase: L2, switched: true}
    runs:
      - {from: SB, to: O1, length: 8}
      - {from: O1, to: O2, length: 3}
    loads:
      - {at: O1, watts: 2300, volts: 230, between: L2-N, fixed: true, what: fan}
earth-paths:
  - {what: water pipe, from: K1, to: DB, ohms: 0.3}
"""
KITCHEN = """\
board: DB
device: {curve: C, rating: 20}
cable: {active: 2.5, earth: 2.5}
points: {K1: {}}
runs: [{from: DB, to: K1, length: 14}]
"""


@pytest.fixture(autouse=True)
def kitchen_here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("kitchen.yaml").write_text(KITCHEN, "utf-8")


def read(text=SITE):
    Path("site.yaml").write_text(text, "utf-8")
    return installation_from(load_yaml(Path("site.yaml")))


def problems(text):
    with pytest.raises(BadInput) as bad:
        read(text)
    return [
        f"{p.position} {p.id} | {p.found} | {p.expected} | {p.nearest}" for p in bad.value.problems
    ]


def test_what_is_read():
    whole = read()
    assert whole.name == "Tern Cottage"
    assert [board.name for board in whole.boards] == ["DB", "SB"]  # each after what feeds it
    main, sub = whole.boards
    assert (main.link, sub.link, main.residual_ma) == (True, False, 30.0)
    assert (sub.feeder.board, sub.feeder.cable.earth_mm2) == ("DB", 4.0)
    kitchen, oven = whole.circuits
    assert (kitchen.name, kitchen.phase, kitchen.neighbours) == ("kitchen", "L1", ())
    assert oven.actives == ("L1", "L2", "L3")
    assert oven.point("O2").switched == ("L2",)
    assert oven.contacts(oven.point("O2")) == ("L2", "N", "E")
    (load,) = oven.loads
    assert (load.between, load.r_ohm, load.is_fixed) == (("L2", "N"), 23.0, True)
    assert whole.earth_paths[0].r_ohm == 0.3
    assert list(whole.boards_down_to("SB")) == [main, sub]
    assert whole.circuit_of("O2") is oven


def test_a_loop_is_shared_between_the_way_out_and_the_way_back():
    supply = read().supply
    assert supply.line == supply.neutral == Impedance(0.2)
    assert supply.loop_ohm == pytest.approx(0.4)
    said = SITE.replace("loop: 0.4 ohm", "fault-current: 575 A")
    assert read(said).supply.loop_ohm == pytest.approx(0.4)
    apart = SITE.replace("loop: 0.4 ohm", "line: {r: 0.1, x: 0.02}, neutral: {r: 0.05}")
    assert read(apart).supply.loop_ohm == pytest.approx(0.15 + 0.02j)


@pytest.mark.parametrize(
    ("system", "loop_ohm", "link"), [("TN-C-S", 0.35, True), ("TN-S", 0.8, False)]
)
def test_the_usual_loop_and_link_of_a_system(system, loop_ohm, link):
    """Typical greatest external loops, and where neutral meets earth (sources in the module)."""
    whole = read(SITE.replace("TN-C-S, phases: three, loop: 0.4 ohm", f"{system}, phases: three"))
    assert whole.supply.loop_ohm == pytest.approx(loop_ohm)
    assert whole.boards[0].link is link


def test_an_electrode_not_drawn_is_none():
    assert math.isinf(read(SITE.replace(", electrode: 20 ohm", "")).supply.electrode_ohm)


def test_an_installation_is_told_from_a_circuit():
    Path("site.yaml").write_text(SITE, "utf-8")
    assert is_installation(load_yaml(Path("site.yaml")))
    assert not is_installation(load_yaml(Path("kitchen.yaml")))


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "system: TN-C-S",
            "system: TNCS",
            'site.yaml:2:18 unknown-value | unknown system "TNCS" | TN-C-S, TN-S or TT | TN-C-S',
        ),
        (
            "loop: 0.4 ohm",
            "loop: 0.4 ohm, fault-current: 500",
            "site.yaml:2:71 impossible-value | the supply's impedance is said twice: loop and "
            "fault-current | loop, or fault-current, or line with neutral and earth | ",
        ),
        (
            "system: TN-C-S, phases: three, loop: 0.4 ohm, electrode: 20 ohm",
            "system: TT, phases: three",
            "site.yaml:2:18 impossible-value | a TT installation without an earth electrode | "
            "electrode: 100 ohm | ",
        ),
        (
            "from: DB, length: 18",
            "from: D, length: 18",
            'site.yaml:4:23 not-fed | no board "D" | SB or DB | DB',
        ),
        (
            "DB: {rcd: 30 mA}",
            "DB: {rcd: 30 mA}\n  XB: {}",
            "site.yaml:4:3 not-fed | 2 boards without a feeder: DB and XB | one main board, which "
            "the supply feeds | ",
        ),
        (
            "kitchen.yaml, phase: L1",
            "kitchen.yaml",
            "site.yaml:7:12 impossible-value | circuit kitchen does not say which active feeds it "
            "| phase: one of L1, L2 or L3, or actives: [L1, L2, L3] | ",
        ),
        (
            "kitchen.yaml",
            "kitchn.yaml",
            'site.yaml:7:19 missing-file | "kitchn.yaml": there is no such file |  | kitchen.yaml',
        ),
        (
            "SB: {feeder",
            "SC: {feeder",
            'site.yaml:9:5 missing-board | no board "SB", which circuit oven is on | SC or DB | ',
        ),
        (
            "from: K1, to: DB",
            "from: K9, to: DB",
            'site.yaml:22:30 missing-point | no point or board "K9" | a point, a board, or ground '
            "| ",
        ),
        (
            "at: O1, watts: 2300, volts: 230, between: L2-N",
            "at: O1, watts: 2300, between: L2-L2",
            'site.yaml:20:40 impossible-value | "L2-L2" is no pair at O1 | L1-L2, L1-L3, L1-N, '
            "L1-E, L2-L3, L2-N, L2-E, L3-N, L3-E or N-E | L2-L3",
        ),
        (
            "at: O1, watts: 2300, volts: 230, between: L2-N",
            "at: O3, ohms: 23",
            'site.yaml:20:14 missing-point | no outlet, light or appliance "O3" | O1 or O2 | ',
        ),
        (
            "at: O1, watts: 2300, volts: 230, between: L2-N",
            "at: O1",
            "site.yaml:20:9 missing-key | a load of no size | ohms: 26 or watts: 2000 | ",
        ),
        (
            "from: K1, to: DB",
            "from: K1, to: K1",
            "site.yaml:22:5 loop | a path from K1 to itself | a path between two places | ",
        ),
        (
            "earth-paths:",
            "earth-paths:\n  - {what: water pipe, from: K1, to: DB, ohms: 9}",
            "duplicate-name | a second water pipe from K1 to DB | another word for it in what | ",
        ),
        (
            "    loads:",
            "    loads:\n      - {at: O1, between: L2-N, ohms: 9, what: fan}",
            "duplicate-name | a second fan between L2-N at O1 | another word for it in what | ",
        ),
        (
            "loop: 0.4 ohm",
            "line: {r: 0}",
            "impossible-value | a supply without impedance | line and neutral above 0 ohm | ",
        ),
        (
            "DB: {rcd: 30 mA}",
            "DB: {rcd: 30 mA}\n  ground: {feeder: {from: DB, length: 1, cable: {active: 6}}}",
            'duplicate-name | a board named "ground" | another name | ',
        ),
        (
            "O1: {kind: appliance}",
            "O1: {kind: light}",
            "impossible-value | a light on a circuit of several actives",
        ),
        (
            "phase: L2, switched",
            "phase: L2, swtched",
            'site.yaml:15:37 unknown-key | unknown key "swtched"',
        ),
        (
            "O2: {kind: outlet",
            "K1: {kind: outlet",
            "no point",
        ),
    ],
)
def test_each_mistake_is_told(old, new, told):
    assert old in SITE
    found = problems(SITE.replace(old, new))
    assert any(told in line for line in found), found


def test_no_two_points_have_one_name():
    (told,) = problems(SITE.replace("O1", "K1"))
    assert "K1 of circuit oven is a point of circuit kitchen already" in told


def test_boards_that_feed_each_other_in_a_round_are_refused():
    ring = SITE.replace(
        "DB: {rcd: 30 mA}", "DB: {}\n  TB: {feeder: {from: SB, length: 3, cable: {active: 6}}}"
    )
    told = problems(ring.replace("SB: {feeder: {from: DB", "SB: {feeder: {from: TB"))
    assert all("boards feed each other in a round: SB and TB" in line for line in told)
    assert len(told) == 2


def test_selective_devices():
    whole = read(SITE.replace("DB: {rcd: 30 mA}", "DB: {rcd: 300 mA, selective: yes}"))
    assert whole.board("DB").selective
    assert not whole.board("SB").selective
    assert [c.linked for c in whole.circuits] == [True, False]


def test_selective_without_a_residual_current():
    assert problems(SITE.replace("DB: {rcd: 30 mA}", "DB: {selective: yes}")) == [
        "site.yaml:5:19 impossible-value | selective, and no residual current device | rcd: 300 mA beside it | "
    ]
