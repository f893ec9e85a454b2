"""Circuit files: what they may say, and what is said about each mistake in one."""

# ruff: noqa: E501 - a table reads best with one case a line

import pytest
from hypothesis import given
from hypothesis import strategies as st

from faultfinder.source.document import parse_yaml
from faultfinder.source.problem import BadInput
from faultfinder.wiring.circuit import Cable, Circuit, Device, Point, Run
from faultfinder.wiring.file import circuit_from

CIRCUIT = """\
board: DB
device: {curve: C, rating: 20}
cable: {active: 2.5, earth: 2.5, material: copper}
points:
  S1: {kind: outlet, switched: true}
  S2: {kind: outlet}
  J1: {kind: joint-box}
  S3: {}
runs:
  - {from: DB, to: S1, length: 14}
  - {from: S1, to: J1, length: 6}
  - {from: J1, to: S2, length: 3}
  - {from: J1, to: S3, length: 4}
"""


def changed(*pairs: tuple[str, str]) -> str:
    text = CIRCUIT
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def read(text: str) -> Circuit:
    return circuit_from(parse_yaml(text, "c.yaml"))


def complaints(text: str) -> list[str]:
    with pytest.raises(BadInput) as caught:
        read(text)
    assert caught.value.sources == {"c.yaml": text}
    return [
        " | ".join([f"{p.position} {p.id}", p.found, p.expected, p.nearest])
        for p in caught.value.problems
    ]


MISTAKES: dict[str, tuple[str, str, list[str]]] = {
    "unknown key": (
        "board: DB",
        "bord: DB",
        [
            'c.yaml:1:1 missing-key | the key "board" is missing |  | ',
            'c.yaml:1:1 unknown-key | unknown key "bord" | format, name, region, kind, board, device, cable, temperature, phase, actives, loads, points or runs | board',
        ],
    ),
    "unknown key in a point": (
        "kind: outlet, switched",
        "kind: outlet, swiched",
        [
            'c.yaml:5:22 unknown-key | unknown key "swiched" | kind, switched, phase, floor, room or distance | switched'
        ],
    ),
    "unknown key in a run": (
        "to: S1, length",
        "to: S1, lenght",
        [
            'c.yaml:10:5 missing-key | the key "length" is missing |  | ',
            'c.yaml:10:24 unknown-key | unknown key "lenght" | from, to, length, cable or carries | length',
        ],
    ),
    "unknown kind": (
        "joint-box",
        "joint box",
        [
            'c.yaml:7:14 unknown-value | unknown kind "joint box" | outlet, light, appliance, joint-box, switch or two-way | joint-box'
        ],
    ),
    "unknown material": (
        "copper",
        "coper",
        [
            'c.yaml:3:44 unknown-value | unknown conductor material "coper" | copper or aluminium | copper'
        ],
    ),
    "unknown curve": (
        "curve: C",
        "curve: E",
        ['c.yaml:2:17 unknown-value | unknown tripping curve "E" | B, C or D | '],
    ),
    "unknown region": (
        "board: DB",
        "board: DB\nregion: au-nzs",
        ['c.yaml:2:9 unknown-value | unknown region "au-nzs" | au-nz, iec, uk or us | au-nz'],
    ),
    "unknown table": (
        "material: copper",
        "conductors: as-nzs-coper",
        [
            'c.yaml:3:46 unknown-value | unknown conductor table "as-nzs-coper" | as-nzs-copper, awg-aluminium, awg-copper, iec-60228-aluminium, iec-60228-copper-class-1, iec-60228-copper-class-2 or iec-60228-copper-class-5 | as-nzs-copper'
        ],
    ),
    "table of another material": (
        "material: copper",
        "material: aluminium, conductors: as-nzs-copper",
        [
            "c.yaml:3:67 impossible-value | as-nzs-copper is a table of copper, not of aluminium | material: copper, or another table | "
        ],
    ),
    "unknown format": (
        "board: DB",
        "board: DB\nformat: 2",
        ['c.yaml:2:9 unknown-value | unknown format "2" | 1 | '],
    ),
    "size no table has": (
        "active: 2.5",
        "active: 3",
        [
            "c.yaml:3:17 unknown-value | unknown size 3 mm² in as-nzs-copper | 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120 mm² | 2.5 or 4"
        ],
    ),
    "neutral size no table has": (
        "earth: 2.5",
        "earth: 2.5, neutral: 0.5",
        [
            "c.yaml:3:43 unknown-value | unknown size 0.5 mm² in as-nzs-copper | 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120 mm² | 1"
        ],
    ),
    "own size no table has": (
        "length: 6",
        "length: 6, cable: {earth: 5}",
        [
            "c.yaml:11:50 unknown-value | unknown size 5 mm² in as-nzs-copper | 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120 mm² | 4 or 6"
        ],
    ),
    "own material without the sizes": (
        "length: 6",
        "length: 6, cable: {material: aluminium}",
        [
            "c.yaml:11:42 unknown-value | unknown size 2.5 mm² in iec-60228-aluminium | 10, 16, 25, 35, 50, 70, 95, 120 mm² | 10"
        ],
    ),
    "own material unknown": (
        "length: 6",
        "length: 6, cable: {material: coper}",
        [
            'c.yaml:11:53 unknown-value | unknown conductor material "coper" | copper or aluminium | copper'
        ],
    ),
    "missing point": (
        "to: S2",
        "to: S20",
        [
            'c.yaml:12:20 missing-point | no point "S20" | the board DB or a point: S1, S2, J1 or S3 | S2'
        ],
    ),
    "missing start": (
        "from: S1",
        "from: SB",
        [
            'c.yaml:11:12 missing-point | no point "SB" | the board DB or a point: S1, S2, J1 or S3 | '
        ],
    ),
    "run without an end": (
        "from: S1, to: J1",
        "from: S1, to:",
        [
            'c.yaml:11:16 yaml-syntax | no ":" after the key | "key: value", with a space after the colon | '
        ],
    ),
    "loop": (
        "length: 4}",
        "length: 4}\n  - {from: S3, to: S1, length: 1}",
        [
            "c.yaml:14:5 loop | this run closes a loop: S1 - J1 - S3 - S1 | a radial circuit, each point fed by one run; or kind: ring | "
        ],
    ),
    "run to itself": (
        "from: J1, to: S3",
        "from: S3, to: S3",
        ['c.yaml:13:5 loop | a run from "S3" to itself | a run between two places | '],
    ),
    "run drawn twice": (
        "length: 4}",
        "length: 4}\n  - {from: J1, to: S1, length: 6}",
        [
            "c.yaml:14:5 duplicate-run | the run J1..S1 is drawn on line 11 already | one run between two points | "
        ],
    ),
    "point not fed": (
        "  - {from: J1, to: S2, length: 3}\n",
        "",
        [
            "c.yaml:6:7 not-fed | no run leads from the board DB to point S2 | runs that reach every point | "
        ],
    ),
    "points not fed": (
        "  - {from: S1, to: J1, length: 6}\n",
        "",
        [
            "c.yaml:6:7 not-fed | no run leads from the board DB to points S2, J1 and S3 | runs that reach every point | "
        ],
    ),
    "no runs": (
        "runs:\n  - {from: DB, to: S1, length: 14}\n  - {from: S1, to: J1, length: 6}\n  - {from: J1, to: S2, length: 3}\n  - {from: J1, to: S3, length: 4}\n",
        "runs: []\n",
        [
            "c.yaml:5:7 not-fed | no run leads from the board DB to point S1 | runs that reach every point | ",
            "c.yaml:6:7 not-fed | no run leads from the board DB to point S2 | runs that reach every point | ",
            "c.yaml:7:7 not-fed | no run leads from the board DB to point J1 | runs that reach every point | ",
            "c.yaml:8:7 not-fed | no run leads from the board DB to point S3 | runs that reach every point | ",
        ],
    ),
    "no points": (
        "points:\n  S1: {kind: outlet, switched: true}\n  S2: {kind: outlet}\n  J1: {kind: joint-box}\n  S3: {}\nruns:\n  - {from: DB, to: S1, length: 14}\n  - {from: S1, to: J1, length: 6}\n  - {from: J1, to: S2, length: 3}\n  - {from: J1, to: S3, length: 4}\n",
        "points: {}\nruns: []\n",
        ["c.yaml:4:9 missing-point | no point is drawn | at least one point | "],
    ),
    "negative length": (
        "length: 14",
        "length: -14",
        ['c.yaml:10:32 out-of-range | "-14" is too small | more than 0 m | '],
    ),
    "zero length": (
        "length: 14",
        "length: 0",
        ['c.yaml:10:32 out-of-range | "0" is too small | more than 0 m | '],
    ),
    "length too short": (
        "length: 14",
        "length: 0.1 mm",
        ['c.yaml:10:32 out-of-range | "0.1 mm" is too small | at least 0.001 | '],
    ),
    "length too long": (
        "length: 14",
        "length: 14000",
        ['c.yaml:10:32 out-of-range | "14000" is too large | at most 10000 | '],
    ),
    "length in ohm": (
        "length: 14",
        "length: 12 ohm",
        [
            'c.yaml:10:32 impossible-unit | "ohm" is a unit of resistance, not of length | mm, cm, m or km | '
        ],
    ),
    "length with a decimal comma": (
        "length: 14",
        "length: '1,5'",
        [
            'c.yaml:10:32 decimal-comma | the comma in "1,5" is ambiguous | a point before the decimals, and no sign between thousands | 1.5'
        ],
    ),
    "length with a decimal comma, unquoted": (
        "length: 14",
        "length: 1,5",
        [
            'c.yaml:10:34 decimal-comma | the comma before "5" ends the value | a point before the decimals | '
        ],
    ),
    "length of another kind": (
        "length: 14",
        "length: [14]",
        ["c.yaml:10:32 wrong-kind | a list stands here | a number | "],
    ),
    "length not written": (
        "length: 14",
        "length:",
        [
            'c.yaml:10:24 yaml-syntax | no ":" after the key | "key: value", with a space after the colon | '
        ],
    ),
    "length missing": (
        ", length: 14",
        "",
        ['c.yaml:10:5 missing-key | the key "length" is missing |  | '],
    ),
    "the same point twice": (
        "  S2: {kind: outlet}",
        "  S1: {kind: outlet}",
        [
            'c.yaml:6:3 duplicate-key | the key "S1" is written twice, on lines 5 and 6 | each key once | '
        ],
    ),
    "the board's name": (
        "  S2: {kind: outlet}",
        "  DB: {kind: outlet}\n  S2: {}",
        ['c.yaml:6:7 duplicate-name | point "DB" has the board\'s name | another name | '],
    ),
    "a name with a space": (
        "  S2: {kind: outlet}",
        "  Hall 2: {kind: outlet}\n  S2: {}",
        [
            'c.yaml:6:3 bad-name | "Hall 2" cannot be a name | one word of at most 40 letters, digits, - _ / \' and single points, that begins with a letter or a digit | Hall-2'
        ],
    ),
    "a name like a run": (
        "  S2: {kind: outlet}",
        "  S1..S9: {kind: outlet}\n  S2: {}",
        [
            'c.yaml:6:3 bad-name | "S1..S9" cannot be a name | one word of at most 40 letters, digits, - _ / \' and single points, that begins with a letter or a digit | S1.S9'
        ],
    ),
    "a name without letters": (
        "  S2: {kind: outlet}",
        "  '?': {kind: outlet}\n  S2: {}",
        [
            'c.yaml:6:3 bad-name | "?" cannot be a name | one word of at most 40 letters, digits, - _ / \' and single points, that begins with a letter or a digit | '
        ],
    ),
    "a long name": (
        "board: DB",
        "board: BBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBB",
        [
            'c.yaml:1:8 bad-name | "BBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBB…" cannot be a name | one word of at most 40 letters, digits, - _ / \' and single points, that begins with a letter or a digit | '
        ],
    ),
    "no name": (
        "board: DB",
        "board:",
        [
            "c.yaml:1:7 bad-name | a name is missing here | one word of at most 40 letters, digits, - _ / ' and single points, that begins with a letter or a digit | "
        ],
    ),
    "switch at a joint box": (
        "kind: joint-box",
        "kind: joint-box, switched: yes",
        [
            'c.yaml:7:35 impossible-value | joint box "J1" has a switch | a switch of its own only at an outlet or appliance; a light\'s is a point of kind: switch | '
        ],
    ),
    "switched by a word of no meaning": (
        "switched: true",
        "switched: activ",
        ['c.yaml:5:32 unknown-value | unknown switched "activ" | yes, no, active or both | active'],
    ),
    "switched not written": (
        "switched: true",
        "switched:",
        [
            'c.yaml:5:22 yaml-syntax | no ":" after the key | "key: value", with a space after the colon | '
        ],
    ),
    "switched by a list": (
        "switched: true",
        "switched: [A]",
        ["c.yaml:5:32 wrong-kind | a list stands here | active, both or none | "],
    ),
    "rating with a wrong unit": (
        "rating: 20",
        "rating: 20 V",
        ['c.yaml:2:28 impossible-unit | "V" is a unit of voltage, not of current | mA, A or kA | '],
    ),
    "rating of nothing": (
        "rating: 20",
        "rating: 0.01",
        ['c.yaml:2:28 out-of-range | "0.01" is too small | at least 0.1 | '],
    ),
    "rcd in volts": (
        "rating: 20",
        "rating: 20, rcd: 30 V",
        ['c.yaml:2:37 impossible-unit | "V" is a unit of voltage, not of current | mA, A or kA | '],
    ),
    "rcd too large": (
        "rating: 20",
        "rating: 20, rcd: 300 A",
        ['c.yaml:2:37 out-of-range | "300 A" is too large | at most 100000 | '],
    ),
    "rcd as a bound": (
        "rating: 20",
        'rating: 20, rcd: ">30 mA"',
        ['c.yaml:2:37 impossible-value | ">30 mA" is not one number | one number in mA | '],
    ),
    "too cold": (
        "board: DB",
        "board: DB\ntemperature: -240",
        ['c.yaml:2:14 out-of-range | "-240" is too small | at least -50 | '],
    ),
    "too hot": (
        "board: DB",
        "board: DB\ntemperature: 1000",
        ['c.yaml:2:14 out-of-range | "1000" is too large | at most 150 | '],
    ),
    "a list of points": (
        "points:\n  S1: {kind: outlet, switched: true}\n  S2: {kind: outlet}\n  J1: {kind: joint-box}\n  S3: {}\n",
        "points: [S1]\n",
        ['c.yaml:4:9 wrong-kind | a list stands here | a block of "key: value" lines | '],
    ),
    "a cable in words": (
        "cable: {active: 2.5, earth: 2.5, material: copper}",
        "cable: 2.5",
        ['c.yaml:3:8 wrong-kind | "2.5" stands here | a block of "key: value" lines | '],
    ),
}


@pytest.mark.parametrize("case", MISTAKES)
def test_each_mistake_is_told_in_full(case):
    old, new, said = MISTAKES[case]
    assert complaints(changed((old, new))) == said


def test_all_mistakes_come_at_once():
    text = changed(("curve: C", "curve: E"), ("active: 2.5", "active: 3"), ("to: S2", "to: S20"))
    assert [line.split(" | ")[1] for line in complaints(text)] == [
        'unknown tripping curve "E"',
        "unknown size 3 mm² in as-nzs-copper",
        'no point "S20"',
    ]


def test_mistakes_of_shape_come_at_once_too():
    text = changed(
        ("switched: true", "switched: x"), ("length: 14", "length: 0"), ("S3: {}", "S 3: {}")
    )
    assert [line.split(" | ")[0] for line in complaints(text)] == [
        "c.yaml:5:32 unknown-value",
        "c.yaml:8:3 bad-name",
        "c.yaml:10:32 out-of-range",
    ]


def test_what_is_not_fed_waits_until_the_runs_are_right():
    text = changed(("to: J1, length", "to: J2, length"))
    assert [line.split(" | ")[0] for line in complaints(text)] == ["c.yaml:11:20 missing-point"]


def test_the_least_a_circuit_says():
    circuit = read(CIRCUIT)
    assert circuit.name == ""
    assert circuit.region.id == "au-nz"
    assert circuit.temperature_c == circuit.region.test_temperature_c
    assert circuit.device == Device("C", 20.0, None)
    assert circuit.points == (
        Point("S1", "outlet", ("A",)),
        Point("S2", "outlet", ()),
        Point("J1", "joint-box", ()),
        Point("S3", "outlet", ()),
    )
    cable = Cable(2.5, 2.5, 2.5, circuit.region.conductor_table("copper"))
    assert set(circuit.runs) == {
        Run("DB", "S1", 14.0, cable),
        Run("S1", "J1", 6.0, cable),
        Run("J1", "S2", 3.0, cable),
        Run("J1", "S3", 4.0, cable),
    }


def test_the_most_a_circuit_says():
    circuit = read(
        """\
format: 1
name: Kitchen sockets
region: uk
board: "Board/1"
device: {curve: B, rating: 32 A, rcd: 30}
cable: {active: 4 mm2, neutral: 6, earth: 2.5, material: copper, conductors: iec-60228-copper-class-5}
temperature: 15 °C
points:
  Küche.1: {kind: outlet, switched: both}
runs:
  - {from: Küche.1, to: "Board/1", length: 1200 cm, cable: {active: 10, neutral: 10, earth: 10, material: aluminium}}
"""
    )
    assert (circuit.name, circuit.region.id, circuit.board) == ("Kitchen sockets", "uk", "Board/1")
    assert circuit.device == Device("B", 32.0, 30.0)
    assert circuit.temperature_c == 15.0
    assert circuit.points == (Point("Küche.1", "outlet", ("A", "N")),)
    (run,) = circuit.runs
    assert (run.name, run.length_m, run.cable.table.material) == (
        "Board/1..Küche.1",
        12.0,
        "aluminium",
    )


@pytest.mark.parametrize(
    ("written", "broken"),
    [
        *[(word, ("A",)) for word in ("true", "yes", "on", "Yes", "active", '"on"')],
        *[(word, ()) for word in ("false", "no", "off", "none", "'no'")],
        ("both", ("A", "N")),
    ],
)
def test_switched_means_what_a_person_meant(written, broken):
    circuit = read(changed(("switched: true", f"switched: {written}")))
    assert circuit.points[0].switched == broken


@pytest.mark.parametrize(
    ("written", "milliamps"),
    [("30", 30), ("30 mA", 30), ("0.03 A", 30), ("1e2", 100), ("10.5", 10.5)],
)
def test_a_residual_current_is_in_milliamps(written, milliamps):
    circuit = read(changed(("rating: 20", f"rating: 20, rcd: {written}")))
    assert circuit.device.residual_ma == pytest.approx(milliamps, rel=1e-15)


@pytest.mark.parametrize(
    ("written", "sizes"),
    [
        ("{active: 4}", (4, 4, 4)),
        ("{active: 4, earth: 2.5}", (4, 4, 2.5)),
        ("{active: 2.5, neutral: 4, earth: 1.5}", (2.5, 4, 1.5)),
    ],
)
def test_neutral_and_earth_are_as_active_unless_said(written, sizes):
    circuit = read(changed(("{active: 2.5, earth: 2.5, material: copper}", written)))
    cable = circuit.runs[0].cable
    assert (cable.active_mm2, cable.neutral_mm2, cable.earth_mm2) == sizes
    assert cable.table.material == "copper"


@pytest.mark.parametrize(
    ("own", "sizes", "table"),
    [
        ("{}", (16, 16, 10), "iec-60228-aluminium"),
        ("{active: 25}", (25, 25, 10), "iec-60228-aluminium"),
        ("{earth: 16}", (16, 16, 16), "iec-60228-aluminium"),
        ("{material: copper}", (16, 16, 10), "as-nzs-copper"),
        ("{conductors: iec-60228-copper-class-2, material: copper}", (16, 16, 10), "iec-60228-copper-class-2"),
    ],
)  # fmt: skip
def test_a_run_has_the_circuit_s_cable_but_for_what_it_says(own, sizes, table):
    circuit = read(
        changed(
            ("{active: 2.5, earth: 2.5, material: copper}", "{active: 16, earth: 10, material: aluminium}"),
            ("length: 6}", f"length: 6, cable: {own}}}"),
        )
    )  # fmt: skip
    cable = circuit.path("J1")[-1].cable
    assert (cable.active_mm2, cable.neutral_mm2, cable.earth_mm2) == sizes
    assert cable.table.id == table
    assert circuit.path("S1")[0].cable == Cable(
        16, 16, 10, circuit.region.conductor_table("aluminium")
    )


def test_a_run_of_another_material_leaves_the_circuit_s_table():
    circuit = read(
        changed(
            ("{active: 2.5, earth: 2.5, material: copper}", "{active: 16, conductors: iec-60228-copper-class-5}"),
            ("length: 6}", "length: 6, cable: {material: aluminium}}"),
        )
    )  # fmt: skip
    assert circuit.path("J1")[-1].cable.table.id == "iec-60228-aluminium"


def test_a_run_written_from_its_far_end_is_turned_round():
    turned = changed(("{from: S1, to: J1, length: 6}", "{from: J1, to: S1, length: 6}"))
    circuit = read(turned)
    assert circuit == read(CIRCUIT)
    assert circuit.run("J1..S1") == circuit.run("S1..J1") == circuit.feeding_run("J1")
    assert circuit.feeding_run("J1").name == "S1..J1"


@given(st.permutations(range(4)), st.lists(st.booleans(), min_size=4, max_size=4))
def test_neither_the_order_nor_the_direction_of_the_runs_matters(order, turned):
    ends = [("DB", "S1", 14), ("S1", "J1", 6), ("J1", "S2", 3), ("J1", "S3", 4)]
    lines = [
        f"  - {{from: {b if turn else a}, to: {a if turn else b}, length: {length}}}\n"
        for (a, b, length), turn in zip((ends[i] for i in order), turned, strict=True)
    ]
    circuit = read(CIRCUIT[: CIRCUIT.index("  - {")] + "".join(lines))
    assert set(circuit.runs) == set(read(CIRCUIT).runs)
    assert circuit.points == read(CIRCUIT).points


@given(
    parents=st.lists(st.integers(0, 30), min_size=1, max_size=12),
    lengths=st.lists(st.floats(0.001, 10_000), min_size=12, max_size=12),
    kinds=st.lists(st.sampled_from([("outlet", "none"), ("outlet", "active"), ("outlet", "both"), ("joint-box", "none")]), min_size=12, max_size=12),
    region=st.sampled_from(["au-nz", "uk", "iec"]),
    temperature=st.floats(-50, 150),
    residual=st.none() | st.floats(1, 1000),
)  # fmt: skip
def test_a_circuit_written_down_is_read_back_equal(parents, lengths, kinds, region, temperature, residual):  # fmt: skip
    names = ["DB", *(f"P{number}" for number in range(len(parents)))]
    rcd = f", rcd: {residual!r}" if residual else ""
    text = (
        f"board: DB\nregion: {region}\ntemperature: {temperature!r}\n"
        f"device: {{curve: B, rating: 16{rcd}}}\ncable: {{active: 2.5, earth: 1.5}}\npoints:\n"
    )
    for name, (kind, switched) in zip(names[1:], kinds, strict=False):
        text += f"  {name}: {{kind: {kind}, switched: {switched}}}\n"
    text += "runs:\n"
    ends = [(names[parent % (place + 1)], names[place + 1]) for place, parent in enumerate(parents)]
    for (near, far), length in zip(ends, lengths, strict=False):
        text += f"  - {{from: {near}, to: {far}, length: {length!r}}}\n"
    circuit = read(text)
    assert circuit.region.id == region
    assert circuit.temperature_c == temperature
    assert circuit.device == Device("B", 16.0, pytest.approx(residual) if residual else None)
    poles = {"none": (), "active": ("A",), "both": ("A", "N")}
    assert circuit.points == tuple(
        Point(name, kind, poles[switched])
        for name, (kind, switched) in zip(names[1:], kinds, strict=False)
    )
    cable = Cable(2.5, 2.5, 1.5, circuit.region.conductor_table("copper"))
    assert {run.name: run for run in circuit.runs} == {
        f"{near}..{far}": Run(near, far, length, cable)
        for (near, far), length in zip(ends, lengths, strict=False)
    }


def test_sizes_by_wire_gauge():
    """In any region: 12 AWG is 3.309 mm² and 5.211 ohm/km, ASTM B258 and IEC 60028."""
    circuit = read(changed(("active: 2.5, earth: 2.5, material: copper", "active: 12 AWG")))
    cable = circuit.runs[0].cable
    assert cable.table.id == "awg-copper"
    assert cable.active_mm2 == cable.earth_mm2 == pytest.approx(3.309, abs=0.0005)
    assert circuit.conductor_ohm(circuit.runs[0], "A") == pytest.approx(14 * 5.211e-3, rel=1e-4)


def test_a_run_of_another_gauge_and_metal():
    gauges = ("active: 2.5, earth: 2.5, material: copper", "active: 12 AWG, earth: AWG 14")
    run = (
        "length: 14}",
        "length: 14, cable: {active: 4/0 AWG, earth: 2 AWG, material: aluminium}}",
    )
    assert read(changed(gauges, run)).runs[0].cable.table.id == "awg-aluminium"


@pytest.mark.parametrize(
    ("cable", "said"),
    [
        (
            "active: 12 AWG, earth: 2.5",
            "c.yaml:3:32 unknown-value | unknown size 2.5 mm² in awg-copper | 18 AWG, 16 AWG, 14 AWG, 12 AWG, 10 AWG, 8 AWG, 6 AWG, 4 AWG, 3 AWG, 2 AWG, 1 AWG, 1/0 AWG, 2/0 AWG, 3/0 AWG, 4/0 AWG | 14 AWG or 12 AWG",
        ),
        (
            "active: 13 AWG",
            "c.yaml:3:17 unknown-value | no building cable is made in 13 AWG | 18 AWG, 16 AWG, 14 AWG, 12 AWG, 10 AWG, 8 AWG, 6 AWG, 4 AWG, 3 AWG, 2 AWG, 1 AWG, 1/0 AWG, 2/0 AWG, 3/0 AWG or 4/0 AWG | ",
        ),
        (
            "active: 12 AWG, conductors: as-nzs-copper",
            "c.yaml:3:17 unknown-value | unknown size 12 AWG in as-nzs-copper | 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120 mm² | 2.5 or 4",
        ),
    ],
)
def test_gauges_that_no_table_has(cable, said):
    assert complaints(changed(("active: 2.5, earth: 2.5, material: copper", cable))) == [said]


@pytest.mark.parametrize(
    ("device", "region", "said"),
    [
        ("rating: 20", "uk", 'c.yaml:3:9 missing-key | the key "curve" is missing | B, C or D | '),
        (
            "curve: C, rating: 20",
            "us",
            "c.yaml:3:17 impossible-value | a curve, and region us has none | the device's rating alone | ",
        ),
    ],
)
def test_devices_of_regions_with_curves_and_without(device, region, said):
    cable = "active: 12 AWG" if region == "us" else "active: 2.5"
    pairs = (
        ("board: DB", f"board: DB\nregion: {region}"),
        ("curve: C, rating: 20", device),
        ("active: 2.5, earth: 2.5, material: copper", cable),
    )
    assert complaints(changed(*pairs)) == [said]


def test_a_device_without_a_curve():
    circuit = read(
        changed(
            ("board: DB", "board: DB\nregion: us"),
            ("curve: C, rating: 20", "rating: 20"),
            ("active: 2.5, earth: 2.5, material: copper", "active: 12 AWG"),
        )
    )
    assert str(circuit.device) == "20 A"
    assert circuit.runs[0].cable.table.id == "awg-copper"
