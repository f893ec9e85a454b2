"""What is said about each mistake in a case file and in the files it names."""

# ruff: noqa: E501 - a table reads best with one case a line

from pathlib import Path

import pytest

from readings.written import CIRCUIT, changed, complaints

ROW = "switch: off, A-N: open, A-E: open, N-E: 5.2}"
MISTAKES: dict[str, tuple[str, str, list[str]]] = {
    "unknown key": (
        "terminators:",
        "terminaters:",
        [
            'case.yaml:13:1 unknown-key | unknown key "terminaters" | format, title, installation, circuit, terminators, instrument, readings, found, looked, exchanged, cannot, in-order or notes | terminators'
        ],
    ),
    "no circuit": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\n",
        "",
        ['case.yaml:1:1 missing-key | the key "circuit" is missing |  | '],
    ),
    "no readings": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "title: none\n",
        [
            'case.yaml:1:1 no-readings | no readings yet | readings; "faultfinder expect" on this file shows what to read | '
        ],
    ),
    "a circuit and no case": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\nterminators: {active: 10, neutral: 5}\nreadings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "board: DB\nruns: []\n",
        [
            "case.yaml:1:1 not-a-case | this is a circuit, and no readings on it | a case: circuit, readings | "
        ],
    ),
    "circuit not written": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\n",
        "circuit:\n",
        ["case.yaml:1:9 empty-value | nothing is written here |  | "],
    ),
    "circuit a list": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\n",
        "circuit: [a]\n",
        [
            'case.yaml:1:10 wrong-kind | a list stands here | a block of "key: value" lines, or text | '
        ],
    ),
    "missing circuit file": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\n",
        "circuit: circiut.yaml\n",
        ['case.yaml:1:10 missing-file | "circiut.yaml": there is no such file |  | circuit.yaml'],
    ),
    "missing circuit file in a folder": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\n",
        "circuit: sub/circiut.yaml\n",
        [
            'case.yaml:1:10 missing-file | "sub/circiut.yaml": there is no such file |  | sub/circuit.yaml'
        ],
    ),
    "missing folder": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\n",
        "circuit: nowhere/circuit.yaml\n",
        [
            'case.yaml:1:10 missing-file | "nowhere/circuit.yaml": there is no folder "nowhere" |  | '
        ],
    ),
    "a folder for a circuit": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\n",
        "circuit: sub\n",
        ['case.yaml:1:10 not-a-file | "sub": this is a folder | a file | '],
    ),
    "an empty circuit file": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\n",
        "circuit: empty.yaml\n",
        ['case.yaml:1:10 empty-file | "empty.yaml": the file is empty |  | '],
    ),
    "a circuit file that is wrong": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\n",
        "circuit: wrong.yaml\n",
        ['wrong.yaml:3:19 unknown-value | unknown tripping curve "E" | B, C or D | '],
    ),
    "a case that names itself": (
        "circuit:\n  board: DB\n  device: {curve: C, rating: 20}\n  cable: {active: 2.5, earth: 2.5, material: copper}\n  points:\n    S1: {kind: outlet, switched: true}\n    S2: {kind: outlet, switched: false}\n    J1: {kind: joint-box}\n  runs:\n    - {from: DB, to: S1, length: 14}\n    - {from: S1, to: S2, length: 6}\n    - {from: S1, to: J1, length: 2}\n",
        "circuit: case.yaml\n",
        ['case.yaml:1:10 wrong-kind | "case.yaml" stands here | a block of "key: value" lines | '],
    ),
    "a mistake in the circuit": (
        "to: S2",
        "to: S3",
        [
            'case.yaml:11:22 missing-point | no point "S3" | the board DB or a point: S1, S2 or J1 | '
        ],
    ),
    "unknown key of a reading": (
        "A-N: 15.3",
        "A-X: 15.3",
        [
            'case.yaml:15:45 unknown-key | test terminated has no reading "A-X" | test, at, switch, parted, note, A-N, A-E or N-E | A-N'
        ],
    ),
    "pair of another test": (
        "A-N: 15.3",
        "A+N-E: 15.3",
        [
            'case.yaml:15:45 unknown-key | test terminated has no reading "A+N-E" | test, at, switch, parted, note, A-N, A-E or N-E | N-E'
        ],
    ),
    "unknown test": (
        "test: terminated",
        "test: terminted",
        [
            'case.yaml:15:12 unknown-test | unknown test "terminted" | fault-current, insulation, insulation-1000, insulation-250, linked-out, long-lead, loop, rcd, rcd-5x, residual, residual-test, ring-cross, ring-ends, terminated, voltage, voltage-drop, voltage-loaded or voltage-low-impedance | terminated'
        ],
    ),
    "no test": (
        "test: terminated, ",
        "",
        ["case.yaml:15:5 missing-key | a reading without a test | test: ID | "],
    ),
    "test misspelt": (
        "{test: terminated, at: S1, switch: on",
        "{tets: terminated, at: S1, switch: on",
        ['case.yaml:15:6 unknown-key | unknown key "tets" | test: ID | test'],
    ),
    "keys in capitals": (
        "{test: terminated, at: S1, switch: on",
        "{test: terminated, AT: S1, switch: on",
        ['case.yaml:15:24 unknown-key | unknown key "AT" | at: POINT | at'],
    ),
    "no place and a conductor": (
        "{test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}",
        "{test: long-lead, A: 0.2}",
        ["case.yaml:15:5 missing-key | a reading without a place | at: POINT | "],
    ),
    "no value in any row": (
        "switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}",
        "switch: on}",
        [
            'case.yaml:15:3 no-readings | no readings yet | readings; "faultfinder expect" on this file shows what to read | '
        ],
    ),
    "instrument of another quantity": (
        "terminators: {active: 10, neutral: 5}\n",
        "terminators: {active: 10, neutral: 5}\ninstrument: {insulation: {percent: 5, plus: 2 digits, range: 2 V}}\n",
        [
            'case.yaml:14:45 unknown-unit | unknown unit "digits" | uohm, mohm, ohm, kohm, Mohm or Gohm | ',
            'case.yaml:14:62 impossible-unit | "V" is a unit of voltage, not of resistance | uohm, mohm, ohm, kohm, Mohm or Gohm | ',
        ],
    ),
    "no place": (
        "at: S1, ",
        "",
        ["case.yaml:15:5 missing-key | a reading without a place | at: POINT | "],
    ),
    "missing point": (
        "at: S1",
        "at: S11",
        ['case.yaml:15:28 missing-point | no point "S11" in the circuit | DB, S1, S2 or J1 | S1'],
    ),
    "impossible unit": (
        "A-N: 15.3",
        "A-N: 0.42 V",
        [
            'case.yaml:15:50 impossible-unit | "V" is a unit of voltage, not of resistance | uohm, mohm, ohm, kohm, Mohm or Gohm | '
        ],
    ),
    "unknown unit": (
        "A-N: 15.3",
        "A-N: 15.3 omh",
        [
            'case.yaml:15:50 unknown-unit | unknown unit "omh" | uohm, mohm, ohm, kohm, Mohm or Gohm | 15.3 ohm'
        ],
    ),
    "no number": (
        "A-N: open",
        "A-N: opne",
        [
            'case.yaml:16:50 not-a-number | "opne" is not a number | a number in ohm, a number with its unit, or "open" | open'
        ],
    ),
    "negative": (
        "A-N: 15.3",
        "A-N: -15.3",
        ['case.yaml:15:50 out-of-range | "-15.3" is too small | at least -0.5 ohm | '],
    ),
    "too large": (
        "A-N: 15.3",
        "A-N: 1e13",
        ['case.yaml:15:50 out-of-range | "1e13" is too large | at most 1e+12 ohm | '],
    ),
    "decimal comma": (
        "A-N: 15.3",
        "A-N: '15,3'",
        [
            'case.yaml:15:50 decimal-comma | the comma in "15,3" is ambiguous | a point before the decimals, and no sign between thousands | 15.3'
        ],
    ),
    "decimal comma, unquoted": (
        "A-N: 15.3",
        "A-N: 15,3",
        [
            'case.yaml:15:53 decimal-comma | the comma before "3" ends the value | a point before the decimals | '
        ],
    ),
    "a time of day": (
        "A-N: 15.3",
        "A-N: 12:30",
        [
            'case.yaml:15:50 unknown-unit | unknown unit ":30" | uohm, mohm, ohm, kohm, Mohm or Gohm | '
        ],
    ),
    "thousands or decimals": (
        "A-N: 15.3",
        "A-N: '1,200'",
        [
            'case.yaml:15:50 decimal-comma | the comma in "1,200" is ambiguous | a point before the decimals, and no sign between thousands | '
        ],
    ),
    "bound unquoted": (
        "A-N: 15.3",
        "A-N: >200 Mohm",
        [
            'case.yaml:15:50 yaml-syntax | an unquoted value may not begin with ">" | the value in quotes | ">200 Mohm"'
        ],
    ),
    "no value": (
        "A-N: 15.3",
        "A-N: ",
        [
            'case.yaml:15:50 empty-value | nothing is written here | a number in ohm, a number with its unit, or "open" | '
        ],
    ),
    "no space after the colon": (
        "A-N: 15.3",
        "A-N:15.3",
        [
            'case.yaml:15:45 unknown-key | test terminated has no reading "A-N:15.3" | test, at, switch, parted, note, A-N, A-E or N-E | A-N: 15.3'
        ],
    ),
    "reading a list": (
        "A-N: 15.3",
        "A-N: [15.3]",
        ["case.yaml:15:50 wrong-kind | a list stands here | text | "],
    ),
    "row in words": (
        "  - {test: terminated, at: S1, switch: on,",
        "  - S1\n  - {test: terminated, at: S1, switch: on,",
        ['case.yaml:15:5 wrong-kind | "S1" stands here | a block of "key: value" lines | '],
    ),
    "duplicate that disagrees": (
        "switch: off, A-N: open, A-E: open, N-E: 5.2}",
        "switch: off, A-N: open, A-E: open, N-E: 5.2}\n  - {test: terminated, at: S1, switch: on, A-E: 10.9}",
        [
            "case.yaml:17:49 duplicate-reading | A-E at S1, switch on is 10.2 on line 15 and 10.9 on line 17 | one value for each reading | "
        ],
    ),
    "duplicate that disagrees, switch not noted": (
        "switch: off, A-N: open, A-E: open, N-E: 5.2}",
        "switch: off, A-N: open, A-E: open, N-E: 5.2}\n  - {test: terminated, at: S1, E-A: open}",
        [
            "case.yaml:17:37 duplicate-reading | A-E at S1, switch on is 10.2 on line 15 and open on line 17 | one value for each reading; without switch: it counts as on | "
        ],
    ),
    "duplicate in one row": (
        "A-E: 10.2",
        "A-E: 10.2, E-A: 10.3",
        [
            "case.yaml:15:72 duplicate-reading | A-E at S1, switch on is 10.2 on line 15 and 10.3 on line 15 | one value for each reading | "
        ],
    ),
    "the same key twice": (
        "A-E: 10.2",
        "A-E: 10.2, A-E: 10.3",
        [
            'case.yaml:15:67 duplicate-key | the key "A-E" is written twice, on line 15 | each key once | '
        ],
    ),
    "unknown switch": (
        "switch: off",
        "switch: of",
        ['case.yaml:16:40 unknown-value | unknown switch "of" | on or off | off'],
    ),
    "switch in both": (
        "switch: off",
        "switch: on/off",
        ['case.yaml:16:40 unknown-value | unknown switch "on/off" | on or off | off'],
    ),
    "switch off without a switch": (
        "at: S1, switch: off",
        "at: S2, switch: off",
        [
            "case.yaml:16:40 impossible-value | S2 is drawn without a switch, and cannot be read with it off | no switch in this reading, or switched: true at S2 in the circuit | "
        ],
    ),
    "switch off at the board": (
        "switch: off, A-N: open, A-E: open, N-E: 5.2}",
        "switch: off, A-N: open, A-E: open, N-E: 5.2}\n  - {test: insulation, at: DB, switch: off, A-E: 500}",
        [
            "case.yaml:17:40 impossible-value | DB is drawn without a switch, and cannot be read with it off | no switch in this reading | "
        ],
    ),
    "joint box": (
        "at: S1, switch: on",
        "at: J1",
        [
            "case.yaml:15:28 impossible-value | test terminated is not read at J1, a joint box | a place of kind outlet | "
        ],
    ),
    "board": (
        "at: S1, switch: on",
        "at: DB",
        [
            "case.yaml:15:28 impossible-value | test terminated is not read at DB, a board | a place of kind outlet | "
        ],
    ),
    "no terminators": (
        "terminators: {active: 10, neutral: 5}\n",
        "",
        [
            "case.yaml:14:12 missing-key | a reading of test terminated, and no terminators in the case | terminators: {active: 10, neutral: 5}, the resistors fitted at the board | "
        ],
    ),
    "one terminator": (
        "active: 10, ",
        "",
        ['case.yaml:13:14 missing-key | the key "active" is missing |  | '],
    ),
    "terminator of no ohms": (
        "active: 10",
        "active: 0",
        ['case.yaml:13:23 out-of-range | "0" is too small | more than 0 ohm | '],
    ),
    "terminator open": (
        "active: 10",
        "active: open",
        ['case.yaml:13:23 impossible-value | "open" is not one number | one number in ohm | '],
    ),
    "terminator in volts": (
        "active: 10",
        "active: 10 V",
        [
            'case.yaml:13:23 impossible-unit | "V" is a unit of voltage, not of resistance | uohm, mohm, ohm, kohm, Mohm or Gohm | '
        ],
    ),
    "terminator too large": (
        "active: 10",
        "active: 10 Mohm",
        ['case.yaml:13:23 out-of-range | "10 Mohm" is too large | at most 10000 | '],
    ),
    "readings in a block": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings: {test: terminated, at: S1}\n",
        [
            'case.yaml:14:11 wrong-kind | a block of "key: value" lines stands here | a list, or text | '
        ],
    ),
    "readings not written": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n",
        [
            'case.yaml:14:10 no-readings | no readings yet | readings; "faultfinder expect" on this file shows what to read | '
        ],
    ),
    "missing table": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings: radings.csv\n",
        ['case.yaml:14:11 missing-file | "radings.csv": there is no such file |  | readings.csv'],
    ),
    "instrument of no kind": (
        "terminators: {active: 10, neutral: 5}\n",
        "terminators: {active: 10, neutral: 5}\ninstrument: {resistence: {percent: 1}}\n",
        [
            'case.yaml:14:14 unknown-key | unknown key "resistence" | resistance, insulation, voltage, loop or residual | resistance'
        ],
    ),
    "instrument in a wrong unit": (
        "terminators: {active: 10, neutral: 5}\n",
        "terminators: {active: 10, neutral: 5}\ninstrument: {resistance: {percent: 1 V}}\n",
        [
            'case.yaml:14:36 impossible-unit | "V" is a unit of voltage, not of share | % or ratio | '
        ],
    ),
    "instrument too bad": (
        "terminators: {active: 10, neutral: 5}\n",
        "terminators: {active: 10, neutral: 5}\ninstrument: {resistance: {percent: 60, plus: -1, range: 0}}\n",
        [
            'case.yaml:14:36 out-of-range | "60" is too large | at most 50 | ',
            'case.yaml:14:46 out-of-range | "-1" is too small | at least 0 ohm | ',
            'case.yaml:14:57 out-of-range | "0" is too small | more than 0 ohm | ',
        ],
    ),
    "found in words": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\nfound: [broken]\n",
        [
            'case.yaml:17:9 not-a-fault | "broken" is not a fault | MODE CONDUCTORS at PLACE: "open E at S3..S4" or "bridged A-E at S2 0.1 ohm" | '
        ],
    ),
    "found nothing written": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\nfound: ['']\n",
        [
            'case.yaml:17:9 not-a-fault | nothing is written here | MODE CONDUCTORS at PLACE: "open E at S3..S4" or "bridged A-E at S2 0.1 ohm" | '
        ],
    ),
    "found one, no list": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\nfound: open E at S2\n",
        ['case.yaml:17:8 wrong-kind | "open E at S2" stands here | a list | [open E at S2]'],
    ),
    "found an unknown mode": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\nfound: [opne E at S2]\n",
        [
            'case.yaml:17:9 not-a-fault | unknown fault mode "opne" | bridged, cross-circuit, high-resistance, link-extra, link-missing, not-supplied, open, parallel-earth, switch-bypassed, switch-in-neutral, switch-stuck-off, switch-stuck-on, transposed or undersized | open'
        ],
    ),
    "found at no place": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\nfound: [open E at S1..S3]\n",
        [
            'case.yaml:17:9 not-a-fault | no point or run "S1..S3" | one of S1, S2, J1, DB..S1, S1..S2, S1..J1 | S1..S2'
        ],
    ),
    "found in an unknown conductor": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\nfound: [open L at S1]\n",
        ['case.yaml:17:9 not-a-fault | unknown conductor "L" | one of A, N, E, joined by - | '],
    ),
    "found in one conductor twice": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\nfound: [bridged A-A at S1]\n",
        [
            'case.yaml:17:9 not-a-fault | "A-A" names a conductor twice | "open E at S3..S4" or "bridged A-E at S2 0.1 ohm" | '
        ],
    ),
    "found with ohms that are none": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\nfound: [high-resistance E at S1 2 V]\n",
        [
            'case.yaml:17:9 not-a-fault | "V" is a unit of voltage, not of resistance | uohm, mohm, ohm, kohm, Mohm or Gohm | '
        ],
    ),
    "found with a bound": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\nfound: ['high-resistance E at S1 >2 ohm']\n",
        ['case.yaml:17:9 not-a-fault | ">2 ohm" is not one resistance | a number in ohm | '],
    ),
    "unknown format": (
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\n",
        "readings:\n  - {test: terminated, at: S1, switch: on,  A-N: 15.3, A-E: 10.2, N-E: 5.2}\n  - {test: terminated, at: S1, switch: off, A-N: open, A-E: open, N-E: 5.2}\nformat: one\n",
        ['case.yaml:17:9 unknown-value | unknown format "one" | 1 | '],
    ),
    "tab": (
        "  board: DB",
        "\tboard: DB",
        ["case.yaml:2:1 tab-indent | a tab stands here | spaces: YAML allows no tab here | "],
    ),
    "quote not closed": (
        "board: DB",
        "board: 'DB",
        [
            "case.yaml:2:10 yaml-syntax | the quote that opens here is never closed | a closing quote | "
        ],
    ),
    "brace not closed": (
        "N-E: 5.2}\n",
        "N-E: 5.2\n",
        [
            'case.yaml:15:5 yaml-syntax | the "{" that opens here is not closed, or a comma is missing | a comma between entries and "}" at the end | '
        ],
    ),
}


@pytest.mark.parametrize("case", MISTAKES)
def test_each_mistake_is_told_in_full(case):
    Path("circuit.yaml").write_text(CIRCUIT, "utf-8")
    Path("readings.csv").write_text("test,at\n", "utf-8")
    Path("empty.yaml").write_text("\n", "utf-8")
    Path("wrong.yaml").write_text(CIRCUIT.replace("curve: C", "curve: E"), "utf-8")
    Path("sub").mkdir()
    Path("sub/circuit.yaml").write_text(CIRCUIT, "utf-8")
    old, new, said = MISTAKES[case]
    assert complaints(changed((old, new))) == said
