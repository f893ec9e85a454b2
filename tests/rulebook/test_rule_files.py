"""Rule files: what is said of each mistake in one, and of rules that do not fit each other."""

# ruff: noqa: E501 - a table reads best with one case a line

from pathlib import Path

import pytest

from faultfinder.rulebook.rulebook import load_rulebook, shipped_rulebook
from faultfinder.source.content import content_folder
from faultfinder.source.problem import BadInput

RULES = {
    "faults/open.yaml": """\
format: 1
kind: fault-mode
id: open
title: Open conductor
conductors: one
ways:
  - {at: [run, outlet], steps: [{do: break}]}
prior: {run: 0.002, outlet: 0.001, why: common}
says: "{conductors} open {place}"
look_for: a conductor out of its terminal
remedy: Remake the termination.
cautions: [Prove the circuit dead again.]
retest: [lead, pairs]
basis:
  - {claim: an open removes the path, source: circuit theory}
""",
    "faults/bridged.yaml": """\
format: 1
kind: fault-mode
id: bridged
title: Two conductors bridged
conductors: pair
ways:
  - {at: [run], steps: [{do: bridge, along: 0.3}], weight: 2}
ohms: {from: 0.01 ohm, to: 2 Mohm}
prior: {run: 0.001, why: rare}
says: "{conductors} bridged through about {ohms} {place}"
look_for: a pinched core
remedy: Separate the cores.
cautions: [Prove the circuit dead again.]
retest: [pairs]
""",
    "faults/stuck.yaml": """\
format: 1
kind: fault-mode
id: stuck
title: Switch stuck off
conductors: none
ways:
  - {at: [switched-outlet], steps: [{do: break, to: switched}]}
prior: {outlet: 0.001, why: rare}
says: "the switch does not close {place}"
look_for: a switch that does not click
remedy: Replace the outlet.
cautions: [Prove the circuit dead again.]
retest: [pairs]
""",
    "tests/pairs.yaml": """\
format: 1
kind: test
id: pairs
title: Two resistances with known resistors
supply: dead
quantity: resistance
at: [outlet]
switch: both
pairs: [A-N, A-E]
fit:
  - {from: A, to: common, ohms: terminators.active}
  - {from: N, to: common, ohms: terminators.neutral}
  - {from: common, to: earth bar}
  - {from: first, to: earth bar}
limits:
  - {between: A-E, limit: earth-loop, plus: [terminators.active]}
minutes: {set_up: 8, each: 2}
steps: [Read.]
cautions: [Prove dead.]
""",
    "tests/lead.yaml": """\
format: 1
kind: test
id: lead
title: One conductor with a trailing lead
supply: dead
quantity: resistance
at: [outlet]
switch: both
pairs: [A, E]
minutes: {set_up: 5, each: 3}
steps: [Read.]
cautions: [Prove dead.]
""",
    "signs/open.yaml": """\
format: 1
kind: signs
id: open
title: Signs of an open conductor
signs:
  - id: open-in-run
    each: [{c: A, lost: A-N}, {c: E, lost: A-E}]
    when:
      - {as: one, fact: reading, where: {test: pairs, between: "{lost}", grade: open}}
      - {as: two, fact: reading, where: {test: lead}, same: {at: one.at, switch: one.switch}}
      - {as: never, fact: reading, where: {between: E, grade: [high, low]}, absent: yes}
    points_to: {mode: open, conductors: ["{c}"], at: run-to, of: one}
    says: "{lost} is lost from {at} on: only the {conductors} is missing."
  - id: open-end-to-end
    when:
      - {as: one, fact: reading, where: {test: lead, between: E}, unless: {grade: high}}
    points_to: {mode: open, conductors: [E], at: outlet, of: one}
    says: "The {conductors} has no path to {at}."
""",
    "signs/stuck.yaml": """\
format: 1
kind: signs
id: stuck
title: Signs of a switch stuck off
signs:
  - id: never-closes
    when:
      - {as: one, fact: switch, where: {effect: none}}
    points_to: {mode: stuck, at: outlet, of: one}
    says: "Switching at {at} changes nothing."
""",
    "inspect.yaml": """\
format: 1
kind: inspection
id: inspect
title: Open the accessory and look
minutes: {set_up: 0, each: 6}
seen: {here: 0.9, run: 0.45, why: judgement}
cautions: [Prove dead.]
steps: [Look at each terminal.]
board: {steps: [Take the cover off.], cautions: [Isolate the whole board.]}
""",
    "part.yaml": """\
format: 1
kind: separation
id: part
title: Part the circuit
tests: [lead]
minutes: 10
cautions: [Prove dead.]
steps: [Take the cable off.]
""",
    "repair.yaml": """\
format: 1
kind: repair
id: repair
title: Mend it
minutes: {point: 12, run: 25, call_back: 60, why: judgement}
cautions: [Prove dead.]
exchange: [Fit a good one.]
remake: [Remake both ends.]
""",
    "walk.yaml": """\
format: 1
kind: walking
id: walk
title: From place to place
metres_per_minute: 30
room: 0.2
floor: 1
why: judgement
""",
    "tolerances.yaml": """\
format: 1
kind: tolerances
id: tolerances
title: Errors that are not faults
run_length: 0.08
cable: 0.07
terminator: 0.01
leads: 0.01
leak: 1.5
leak_of_pair: 1.0
supply_volts: 0.04
supply_ohms: 0.3
cores: 0.3
cores_of_pair: 0.3
gain: 0.5
scatter: [0.3, 0.5]
stated_scatter: [0.5]
slip: 0.001
band: 2.6
""",
}


@pytest.fixture
def rules(tmp_path, monkeypatch):
    """Return a folder of small rules of our own, inside the folder the test runs in."""
    monkeypatch.chdir(tmp_path)
    for name, text in RULES.items():
        path = Path("rules", name)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    return Path("rules")


def spoil(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), "utf-8")


def complaints(rules: Path) -> list[str]:
    with pytest.raises(BadInput) as caught:
        load_rulebook(rules)
    assert caught.value.sources
    return [
        " | ".join([f"{p.position} {p.id}", p.found, p.expected, p.nearest])
        for p in caught.value.problems
    ]


MISTAKES: dict[str, tuple[str, str, str, list[str]]] = {
    "unknown key": (
        "faults/open.yaml",
        "look_for:",
        "lookfor:",
        [
            'rules/faults/open.yaml:1:1 missing-key | the key "look_for" is missing |  | ',
            'rules/faults/open.yaml:10:1 unknown-key | unknown key "lookfor" | format, kind, id, title, basis, signs, examples, conductors, only, ways, ohms, prior, says, look_for, remedy, cautions, retest or reads_like | look_for',
        ],
    ),
    "missing key": (
        "faults/open.yaml",
        "remedy:",
        "# remedy:",
        ['rules/faults/open.yaml:1:1 missing-key | the key "remedy" is missing |  | '],
    ),
    "unknown kind": (
        "faults/open.yaml",
        "kind: fault-mode",
        "kind: fault",
        [
            'rules/faults/open.yaml:2:7 unknown-value | unknown kind "fault" | fault-mode | fault-mode'
        ],
    ),
    "id of another name": (
        "faults/open.yaml",
        "id: open",
        "id: opened",
        ['rules/faults/open.yaml:3:5 id-not-file-name | id "opened" | "open" | open'],
    ),
    "id of no form": (
        "faults/open.yaml",
        "id: open",
        "id: Open",
        [
            'rules/faults/open.yaml:3:5 bad-value | "Open" does not fit here | text of the pattern ^[a-z0-9]+(-[a-z0-9]+)*$ | '
        ],
    ),
    "no id": (
        "faults/open.yaml",
        "id: open",
        "id:",
        ["rules/faults/open.yaml:3:4 empty-value | nothing is written here |  | "],
    ),
    "basis without a source": (
        "faults/open.yaml",
        "source: circuit theory",
        "sources: x",
        [
            'rules/faults/open.yaml:15:5 missing-key | the key "source" is missing |  | ',
            'rules/faults/open.yaml:15:39 unknown-key | unknown key "sources" | claim or source | source',
        ],
    ),
    "unknown test to take again": (
        "faults/open.yaml",
        "retest: [lead",
        "retest: [leda",
        ['rules/faults/open.yaml:13:10 unknown-test | unknown test "leda" | lead or pairs | lead'],
    ),
    "certain prior": (
        "faults/open.yaml",
        "run: 0.002",
        "run: 1",
        ['rules/faults/open.yaml:8:14 out-of-range | "1" is too large | less than 1 | '],
    ),
    "unknown blank in what a mode says": (
        "faults/open.yaml",
        "{place}",
        "{spot}",
        [
            "rules/faults/open.yaml:9:7 rule-makes-no-sense | no word for {spot} | the blanks {conductors}, {place}, {ohms}, {to}, {active}, {neutral}, {earth} and {earthing} | "
        ],
    ),
    "a brace in what a mode says": (
        "faults/open.yaml",
        "{place}",
        "{place",
        [
            "rules/faults/open.yaml:9:7 rule-makes-no-sense | a brace in this text begins no blank | the blanks {conductors}, {place}, {ohms}, {to}, {active}, {neutral}, {earth} and {earthing} | "
        ],
    ),
    "unknown blank in a remedy": (
        "faults/open.yaml",
        "remedy: ",
        "remedy: mend the {activ} of {place} ",
        [
            "rules/faults/open.yaml:11:9 rule-makes-no-sense | no word for {activ} | the blanks {active}, {neutral}, {earth} and {earthing} | {active}"
        ],
    ),
    "unknown step": (
        "faults/open.yaml",
        "do: break",
        "do: brake",
        [
            'rules/faults/open.yaml:7:38 unknown-value | unknown do "brake" | break, add-ohms, scale, exchange, bridge, join, unswitch, switch, link, unlink, earth-path or cut-off | break'
        ],
    ),
    "more ohms than none": (
        "faults/open.yaml",
        "do: break",
        "do: scale",
        [
            "rules/faults/open.yaml:7:33 rule-makes-no-sense | do: scale without by | do: scale, by: 1.6 | "
        ],
    ),
    "a break by a factor": (
        "faults/open.yaml",
        "do: break",
        "do: break, by: 2",
        [
            "rules/faults/open.yaml:7:33 rule-makes-no-sense | do: break with by | do: scale, by: 1.6 | "
        ],
    ),
    "a link in a run": (
        "faults/open.yaml",
        "do: break",
        "do: link",
        [
            "rules/faults/open.yaml:7:33 rule-makes-no-sense | do: link is at an outlet or a board | at: [outlet], or another way at: [board] | "
        ],
    ),
    "a link out of a run": (
        "faults/open.yaml",
        "do: break",
        "do: unlink",
        [
            "rules/faults/open.yaml:7:33 rule-makes-no-sense | do: unlink is at a board | at: [board] | "
        ],
    ),
    "an earth path in a run": (
        "faults/open.yaml",
        "do: break",
        "do: earth-path",
        [
            "rules/faults/open.yaml:7:33 rule-makes-no-sense | do: earth-path is at an outlet | at: [outlet] | "
        ],
    ),
    "a break at a board": (
        "faults/open.yaml",
        "at: [run, outlet]",
        "at: [board]",
        [
            "rules/faults/open.yaml:7:27 rule-makes-no-sense | do: break at a board | at: [run], or do: link, unlink, earth-path or cut-off | "
        ],
    ),
    "no place": (
        "faults/open.yaml",
        "at: [run, outlet]",
        "at: []",
        ["rules/faults/open.yaml:7:10 out-of-range | too few entries | at least 1 | "],
    ),
    "a bridge of one conductor": (
        "faults/open.yaml",
        "do: break",
        "do: bridge",
        [
            "rules/faults/open.yaml:7:33 rule-makes-no-sense | do: bridge is between the conductors of the fault | conductors: pair, and no to: in this step | "
        ],
    ),
    "a bridge beside the given conductors": (
        "faults/bridged.yaml",
        "do: bridge",
        "do: bridge, to: A",
        [
            "rules/faults/bridged.yaml:7:25 rule-makes-no-sense | do: bridge is between the conductors of the fault | conductors: pair, and no to: in this step | "
        ],
    ),
    "an exchange of one conductor": (
        "faults/open.yaml",
        "do: break",
        "do: exchange",
        [
            "rules/faults/open.yaml:7:33 rule-makes-no-sense | do: exchange is between the conductors of the fault | conductors: pair or exchange, and no to: in this step | "
        ],
    ),
    "ohms of no range": (
        "faults/open.yaml",
        "do: break",
        "do: add-ohms",
        [
            "rules/faults/open.yaml:7:33 rule-makes-no-sense | do: add-ohms needs ohms | ohms: {from: 0.01 ohm, to: 2 Mohm} | "
        ],
    ),
    "a switch in a run": (
        "faults/open.yaml",
        "do: break",
        "do: unswitch, to: A",
        [
            "rules/faults/open.yaml:7:33 rule-makes-no-sense | do: unswitch needs a switch, and a run has none | at: [switched-outlet] | "
        ],
    ),
    "no conductor to break": (
        "faults/stuck.yaml",
        "do: break, to: switched",
        "do: break",
        [
            "rules/faults/stuck.yaml:7:37 rule-makes-no-sense | do: break is given no conductor | to: switched, A, N or E | "
        ],
    ),
    "a range the wrong way round": (
        "faults/bridged.yaml",
        "{from: 0.01 ohm, to: 2 Mohm}",
        "{from: 2 Mohm, to: 0.01 ohm}",
        [
            "rules/faults/bridged.yaml:8:26 rule-makes-no-sense | from 2e+06 ohm to 0.01 ohm is no range | the smaller value first | "
        ],
    ),
    "a limit on what is not read": (
        "tests/pairs.yaml",
        "between: A-E",
        "between: E-A",
        [
            'rules/tests/pairs.yaml:16:15 rule-makes-no-sense | a limit for "E-A", which this test does not read | A-N or A-E | '
        ],
    ),
    "a limit on an unknown conductor": (
        "tests/pairs.yaml",
        "between: A-E",
        "between: L-E",
        [
            'rules/tests/pairs.yaml:16:15 rule-makes-no-sense | a limit for "L-E", which this test does not read | A-N or A-E | A-E'
        ],
    ),
    "a limit of no kind": (
        "tests/pairs.yaml",
        "limit: earth-loop",
        "limit: earthloop",
        [
            'rules/tests/pairs.yaml:16:27 unknown-value | unknown limit "earthloop" | earth-loop, earth, insulation, loop, fault-current, voltage-drop or trip-time | earth-loop'
        ],
    ),
    "a limit of something else": (
        "tests/pairs.yaml",
        "limit: earth-loop",
        "limit: voltage-drop",
        [
            "rules/tests/pairs.yaml:16:27 rule-makes-no-sense | a limit of voltage-drop, and this test reads resistance | earth-loop or earth | "
        ],
    ),
    "insulation without a test voltage": (
        "tests/lead.yaml",
        "quantity: resistance",
        "quantity: insulation",
        [
            "rules/tests/lead.yaml:6:11 rule-makes-no-sense | insulation without volts | volts: 500, for insulation alone | "
        ],
    ),
    "a test voltage for resistance": (
        "tests/lead.yaml",
        "switch: both",
        "switch: both\nvolts: 500",
        [
            "rules/tests/lead.yaml:6:11 rule-makes-no-sense | resistance with volts | volts: 500, for insulation alone | "
        ],
    ),
    "a fit to an unknown conductor": (
        "tests/pairs.yaml",
        "{from: A, to: common",
        "{from: L, to: common",
        [
            'rules/tests/pairs.yaml:11:12 rule-makes-no-sense | no conductor "L" | A, N, E, first, second, A far, N far, E far, first far or second far, or a bar in small letters | '
        ],
    ),
    "a fit to a far end that is joined": (
        "tests/pairs.yaml",
        "{from: A, to: common",
        "{from: A far, to: common",
        [
            'rules/tests/pairs.yaml:11:12 rule-makes-no-sense | "A far" is joined to the near end already | ring: parted, or A | '
        ],
    ),
    "one conductor read at the board of a joined ring": (
        "tests/lead.yaml",
        "at: [outlet",
        "at: [board, outlet",
        [
            'rules/tests/lead.yaml:9:9 rule-makes-no-sense | "A" at the board has no other end there | ring: parted, or at: the points it is read at | '
        ],
    ),
    "a fit to a bar misspelt": (
        "tests/pairs.yaml",
        "{from: A, to: common",
        "{from: A, to: comon",
        [
            'rules/tests/pairs.yaml:11:19 rule-makes-no-sense | nothing else is joined to "comon" | what two or more things are joined to | common'
        ],
    ),
    "a fit of unknown ohms": (
        "tests/pairs.yaml",
        "ohms: terminators.active",
        "ohms: terminators.actve",
        [
            'rules/tests/pairs.yaml:11:33 unknown-value | unknown ohms "terminators.actve" | terminators.active or terminators.neutral | terminators.active'
        ],
    ),
    "a pair of unknown conductors": (
        "tests/pairs.yaml",
        "pairs: [A-N",
        "pairs: [L-N",
        [
            'rules/tests/pairs.yaml:9:9 rule-makes-no-sense | "L-N" is no pair of conductors | conductors as in A-N, A+N-E, A-A, or E alone | '
        ],
    ),
    "a pair of one conductor": (
        "tests/pairs.yaml",
        "pairs: [A-N",
        "pairs: [N-N",
        [
            'rules/tests/pairs.yaml:9:9 rule-makes-no-sense | "N-N" names a conductor twice | conductors as in A-N, A+N-E, A-A, or E alone | '
        ],
    ),
    "half a pair": (
        "tests/pairs.yaml",
        "pairs: [A-N",
        "pairs: [A-",
        [
            'rules/tests/pairs.yaml:9:9 rule-makes-no-sense | "A-" is no pair of conductors | conductors as in A-N, A+N-E, A-A, or E alone | '
        ],
    ),
    "an effort of no time": (
        "tests/pairs.yaml",
        "each: 2",
        "each: 0",
        ['rules/tests/pairs.yaml:17:28 out-of-range | "0" is too small | more than 0 | '],
    ),
    "a scatter of nothing": (
        "tolerances.yaml",
        "scatter: [0.3",
        "scatter: [0",
        ['rules/tolerances.yaml:16:11 out-of-range | "0" is too small | more than 0 | '],
    ),
    "an inspection without steps": (
        "inspect.yaml",
        "[Look at each terminal.]",
        "[]",
        ["rules/inspect.yaml:8:8 out-of-range | too few entries | at least 1 | "],
    ),
    "parting for a test that is not there": (
        "part.yaml",
        "[lead]",
        "[leda]",
        ['rules/part.yaml:5:9 unknown-test | unknown test "leda" | lead or pairs | lead'],
    ),
    "a look that always sees": (
        "inspect.yaml",
        "here: 0.9",
        "here: 1",
        ['rules/inspect.yaml:6:14 out-of-range | "1" is too large | less than 1 | '],
    ),
    "a sign for an unknown mode": (
        "signs/open.yaml",
        "{mode: open",
        "{mode: opne",
        [
            'rules/signs/open.yaml:12:23 unknown-mode | unknown mode "opne" | bridged, open or stuck | open'
        ],
    ),
    "a sign for an unknown conductor": (
        "signs/open.yaml",
        "{c: A, lost",
        "{c: L, lost",
        ['rules/signs/open.yaml:12:41 unknown-conductor | unknown conductor "L" | A, N or E | '],
    ),
    "a sign for conductors the mode cannot have": (
        "signs/open.yaml",
        "conductors: [E]",
        "conductors: [A, E]",
        [
            "rules/signs/open.yaml:17:41 rule-makes-no-sense | mode open cannot have the conductors A and E | A, N or E | "
        ],
    ),
    "a sign for a conductor twice": (
        "signs/open.yaml",
        "mode: open, conductors: [E]",
        "mode: bridged, conductors: [E, E]",
        [
            "rules/signs/open.yaml:17:44 rule-makes-no-sense | mode bridged cannot have the conductors E and E | A-N, A-E or N-E | "
        ],
    ),
    "a sign for no conductors": (
        "signs/open.yaml",
        "conductors: [E], ",
        "",
        [
            "rules/signs/open.yaml:17:16 rule-makes-no-sense | mode open cannot have the conductors none | A, N or E | "
        ],
    ),
    "a sign for conductors of a mode without": (
        "signs/stuck.yaml",
        "{mode: stuck",
        "{conductors: [A], mode: stuck",
        [
            "rules/signs/stuck.yaml:9:29 rule-makes-no-sense | mode stuck cannot have the conductors A | no conductors | "
        ],
    ),
    "a sign that points at no pattern": (
        "signs/open.yaml",
        "at: run-to, of: one",
        "at: run-to, of: on",
        ['rules/signs/open.yaml:12:66 unknown-pattern | unknown pattern "on" | one or two | one'],
    ),
    "a sign that points at what is absent": (
        "signs/open.yaml",
        "at: run-to, of: one",
        "at: run-to, of: never",
        ['rules/signs/open.yaml:12:66 unknown-pattern | unknown pattern "never" | one or two | '],
    ),
    "same as no pattern": (
        "signs/open.yaml",
        "at: one.at",
        "at: noe.at",
        [
            'rules/signs/open.yaml:6:9 rule-makes-no-sense | sign "open-in-run": pattern "two" refers to "noe", which no earlier pattern binds |  | '
        ],
    ),
    "same as itself": (
        "signs/open.yaml",
        "at: one.at",
        "at: two.at",
        [
            'rules/signs/open.yaml:6:9 rule-makes-no-sense | sign "open-in-run": pattern "two" refers to "two", which no earlier pattern binds |  | '
        ],
    ),
    "same as no field": (
        "signs/open.yaml",
        "at: one.at",
        "at: one",
        [
            'rules/signs/open.yaml:10:66 bad-value | "one" does not fit here | text of the pattern ^\\{?[a-z][a-z0-9-]*\\}?\\.[a-z]+$ | '
        ],
    ),
    "same as a word of each": (
        "signs/open.yaml",
        "at: one.at",
        'at: "{c}.at"',
        [
            'rules/signs/open.yaml:6:9 rule-makes-no-sense | sign "open-in-run": pattern "two" refers to "A", which no earlier pattern binds |  | ',
            'rules/signs/open.yaml:6:9 rule-makes-no-sense | sign "open-in-run": pattern "two" refers to "E", which no earlier pattern binds |  | ',
        ],
    ),
    "a pattern named twice": (
        "signs/open.yaml",
        "as: two",
        "as: one",
        [
            'rules/signs/open.yaml:6:9 rule-makes-no-sense | sign "open-in-run": two patterns are called "one" |  | '
        ],
    ),
    "a word that each does not give": (
        "signs/open.yaml",
        '"{lost}"',
        '"{lots}"',
        [
            "rules/signs/open.yaml:9:64 rule-makes-no-sense | no word for {lots} in entry 1 of each | {c} or {lost} | {lost}"
        ],
    ),
    "a word that one entry lacks": (
        "signs/open.yaml",
        "{c: E, lost: A-E}",
        "{c: E}",
        [
            "rules/signs/open.yaml:9:64 rule-makes-no-sense | no word for {lost} in entry 2 of each | {c} | "
        ],
    ),
    "a word and no each": (
        "signs/stuck.yaml",
        "effect: none",
        'effect: "{c}"',
        ["rules/signs/stuck.yaml:8:49 rule-makes-no-sense | no word for {c} |  | "],
    ),
    "a word with a point": (
        "signs/open.yaml",
        "{c: A, lost",
        "{c: one.at, lost",
        [
            'rules/signs/open.yaml:7:16 bad-value | "one.at" does not fit here | text of the pattern ^[A-Za-z0-9+-]+$ | '
        ],
    ),
    "a blank that nothing fills": (
        "signs/open.yaml",
        "from {at} on",
        "from {place} on",
        [
            "rules/signs/open.yaml:13:11 rule-makes-no-sense | no word for {place} | {c}, {lost}, {at}, {conductors}, {active}, {neutral}, {earth} or {earthing} | "
        ],
    ),
    "a brace not closed": (
        "signs/open.yaml",
        "from {at} on",
        "from {at on",
        [
            "rules/signs/open.yaml:13:11 rule-makes-no-sense | a brace in this text begins no blank | {c}, {lost}, {at}, {conductors}, {active}, {neutral}, {earth} or {earthing} | "
        ],
    ),
    "a blank without a name": (
        "signs/open.yaml",
        "from {at} on",
        "from {} on",
        [
            "rules/signs/open.yaml:13:11 rule-makes-no-sense | a brace in this text begins no blank | {c}, {lost}, {at}, {conductors}, {active}, {neutral}, {earth} or {earthing} | "
        ],
    ),
    "an unknown test in a pattern": (
        "signs/open.yaml",
        "test: pairs",
        "test: pair",
        ['rules/signs/open.yaml:9:48 unknown-test | unknown test "pair" | lead or pairs | pairs'],
    ),
    "a pair its test does not read": (
        "signs/open.yaml",
        "{c: A, lost: A-N}",
        "{c: A, lost: N-E}",
        ['rules/signs/open.yaml:9:64 unknown-pair | unknown pair "N-E" | A-E or A-N | A-E'],
    ),
    "a pair no test reads": (
        "signs/open.yaml",
        "where: {between: E",
        "where: {between: N",
        ['rules/signs/open.yaml:11:53 unknown-pair | unknown pair "N" | A, A-E, A-N or E | '],
    ),
    "a field no reading has": (
        "signs/open.yaml",
        "grade: open}",
        "grad: open}",
        [
            'rules/signs/open.yaml:9:74 unknown-field | a reading has no field "grad" | test, at, switch, between, grade, like, spread, lowest or switched | grade'
        ],
    ),
    "a field of the other kind": (
        "signs/stuck.yaml",
        "where: {effect",
        "where: {switch: off, effect",
        [
            'rules/signs/stuck.yaml:8:41 unknown-field | a switch has no field "switch" | test, at, between, effect or should | '
        ],
    ),
    "a word no field has": (
        "signs/open.yaml",
        "grade: open}",
        "grade: [short, opne]}",
        [
            'rules/signs/open.yaml:9:89 unknown-grade | unknown grade "opne" | as-expected, high, low, open, short or conducts | open'
        ],
    ),
    "a word no field has in unless": (
        "signs/open.yaml",
        "unless: {grade: high}",
        "unless: {spread: last_read}",
        [
            'rules/signs/open.yaml:16:84 unknown-spread | unknown spread "last_read" | fine, beyond, everywhere, here-and-beyond, only-here, last-read, scattered or on-ring | last-read'
        ],
    ),
    "neither yes nor no": (
        "signs/open.yaml",
        "unless: {grade: high}",
        "unless: {switched: maybe, lowest: yes}",
        ['rules/signs/open.yaml:16:86 unknown-switched | unknown switched "maybe" | yes or no | '],
    ),
    "a word from each that no field has": (
        "signs/open.yaml",
        "test: lead}",
        'test: lead, grade: "{c}"}',
        [
            'rules/signs/open.yaml:10:61 unknown-grade | unknown grade "A" | as-expected, high, low, open, short or conducts | ',
            'rules/signs/open.yaml:10:61 unknown-grade | unknown grade "E" | as-expected, high, low, open, short or conducts | ',
        ],
    ),
    "like a pair its test does not read": (
        "signs/open.yaml",
        "unless: {grade: high}",
        "unless: {like: A-E}",
        ['rules/signs/open.yaml:16:82 unknown-pair | unknown pair "A-E" | A, E or none | '],
    ),
    "a pair not to be that its test does not read": (
        "signs/open.yaml",
        "unless: {grade: high}",
        "unless: {between: N}",
        ['rules/signs/open.yaml:16:85 unknown-pair | unknown pair "N" | A or E | '],
    ),
    "the same as a field its fact has not": (
        "signs/open.yaml",
        "same: {at: one.at, switch: one.switch}",
        "same: {at: one.att, swich: one.switch}",
        [
            'rules/signs/open.yaml:10:66 unknown-field | a reading has no field "att" | test, at, switch, between, grade, like, spread, lowest or switched | at',
            'rules/signs/open.yaml:10:75 unknown-field | a reading has no field "swich" | test, at, switch, between, grade, like, spread, lowest or switched | switch',
        ],
    ),
    "a fact of no kind": (
        "signs/open.yaml",
        "fact: reading",
        "fact: readings",
        [
            'rules/signs/open.yaml:9:25 unknown-value | unknown fact "readings" | reading or switch | reading'
        ],
    ),
    "absent and not": (
        "signs/open.yaml",
        "absent: yes",
        "absent: maybe",
        [
            'rules/signs/open.yaml:11:85 not-yes-or-no | "maybe" is neither yes nor no | yes or no | '
        ],
    ),
    "no words for a field": (
        "signs/open.yaml",
        "[high, low]",
        "[]",
        ["rules/signs/open.yaml:11:63 out-of-range | too few entries | at least 1 | "],
    ),
    "two signs of one name": (
        "signs/open.yaml",
        "id: open-end-to-end",
        "id: open-in-run-a",
        [
            'rules/signs/open.yaml:14:9 duplicate-name | another sign is called "open-in-run-a" too |  | '
        ],
    ),
    "a sign named as in another file": (
        "signs/stuck.yaml",
        "id: never-closes",
        "id: open-end-to-end",
        [
            'rules/signs/stuck.yaml:6:9 duplicate-name | another sign is called "open-end-to-end" too |  | '
        ],
    ),
    "two sets of words of one name": (
        "signs/open.yaml",
        "{c: E, lost: A-E}",
        "{c: A, lost: A-E}",
        [
            'rules/signs/open.yaml:6:9 duplicate-name | another sign is called "open-in-run-a" too |  | '
        ],
    ),
    "no signs": (
        "signs/stuck.yaml",
        "signs:\n",
        "signs: []\nold:\n",
        [
            "rules/signs/stuck.yaml:5:8 out-of-range | too few entries | at least 1 | ",
            'rules/signs/stuck.yaml:6:1 unknown-key | unknown key "old" | format, kind, id, title, basis, signs or examples | ',
        ],
    ),
    "a caution for no conductor": (
        "faults/open.yaml",
        "[Prove the circuit dead again.]",
        "[{when: [L], say: Mind it.}, {when: E, say: Mind it.}, {when: [E], says: Mind it.}]",
        [
            'rules/faults/open.yaml:12:20 unknown-value | unknown when "L" | A, N or E | ',
            'rules/faults/open.yaml:12:47 wrong-kind | "E" stands here | a list | [E]',
            'rules/faults/open.yaml:12:66 missing-key | the key "say" is missing |  | ',
            'rules/faults/open.yaml:12:78 unknown-key | unknown key "says" | when or say | say',
        ],
    ),
    "a caution for conductors no fault of the mode has": (
        "faults/open.yaml",
        "[Prove the circuit dead again.]",
        "[Prove dead., {when: [A, E], say: Mind it.}]",
        [
            "rules/faults/open.yaml:12:32 rule-makes-no-sense | no fault of this mode has the conductors A and E | A, N or E | "
        ],
    ),
    "a caution for conductors of a mode without": (
        "faults/stuck.yaml",
        "[Prove the circuit dead again.]",
        "[Prove dead., {when: [A], say: Mind it.}]",
        [
            "rules/faults/stuck.yaml:12:32 rule-makes-no-sense | no fault of this mode has the conductors A | a caution for all | "
        ],
    ),
    "no chance for a run": (
        "faults/open.yaml",
        "run: 0.002, ",
        "",
        [
            "rules/faults/open.yaml:8:8 rule-makes-no-sense | no chance for runs, where it can be | run: 0.001 | "
        ],
    ),
    "no chance for an outlet": (
        "faults/stuck.yaml",
        "outlet: 0.001, ",
        "",
        [
            "rules/faults/stuck.yaml:8:8 rule-makes-no-sense | no chance for outlets, where it can be | outlet: 0.001 | "
        ],
    ),
    "a chance for where it cannot be": (
        "faults/bridged.yaml",
        "run: 0.001,",
        "run: 0.001, outlet: 0.1,",
        [
            "rules/faults/bridged.yaml:9:29 rule-makes-no-sense | a chance for outlets, where it cannot be | a way at: [outlet] | "
        ],
    ),
}


@pytest.mark.parametrize("case", MISTAKES)
def test_each_mistake_is_told_in_full(rules, case):
    file, old, new, said = MISTAKES[case]
    spoil(rules / file, old, new)
    assert complaints(rules) == said


def test_the_rules_that_come_with_the_program_fit_each_other():
    rulebook = load_rulebook(content_folder("rules"))
    assert rulebook.pointers == shipped_rulebook().pointers
    assert rulebook.modes == shipped_rulebook().modes
    assert rulebook.pointers


def test_rules_of_our_own_are_read(rules):
    rulebook = load_rulebook(rules)
    assert set(rulebook.modes) == {"open", "bridged", "stuck"}
    assert set(rulebook.procedures) == {"pairs", "lead"}
    assert [pointer.sign.id for pointer in rulebook.pointers] == [
        "open-in-run-a",
        "open-in-run-e",
        "open-end-to-end",
        "never-closes",
    ]
    assert rulebook.modes["open"].basis[0].source == "circuit theory"


def test_a_sign_is_written_out_once_for_each_set_of_words(rules):
    pointer = load_rulebook(rules).pointers[1]
    one, two, never = pointer.sign.patterns
    assert dict(one.where) == {"test": ("pairs",), "between": ("A-E",), "grade": ("open",)}
    assert two.same == (("at", "one", "at"), ("switch", "one", "switch"))
    assert (one.absent, two.absent, never.absent) == (False, False, True)
    assert (pointer.target.conductors, pointer.target.at) == (("E",), "run-to")
    assert pointer.says == "A-E is lost from {at} on: only the {conductors} is missing."


def test_mistakes_in_several_files_of_a_folder_come_at_once(rules):
    spoil(rules / "faults/open.yaml", "do: break", "do: brake")
    spoil(rules / "faults/stuck.yaml", "remedy:", "remdy:")
    assert [line.split(" | ")[0] for line in complaints(rules)] == [
        "rules/faults/open.yaml:7:38 unknown-value",
        "rules/faults/stuck.yaml:1:1 missing-key",
        "rules/faults/stuck.yaml:11:1 unknown-key",
    ]


def test_clashes_in_several_files_come_at_once_with_their_lines(rules):
    spoil(rules / "faults/open.yaml", "retest: [lead", "retest: [leda")
    spoil(rules / "signs/open.yaml", "{mode: open", "{mode: opne")
    with pytest.raises(BadInput) as caught:
        load_rulebook(rules)
    assert str(caught.value) == (
        'rules/faults/open.yaml:13:10: error: unknown test "leda" [unknown-test]\n'
        "  13 | retest: [leda, pairs]\n"
        "     |          ^\n"
        "  expected  lead or pairs\n"
        "  try       lead\n"
        'rules/signs/open.yaml:12:23: error: unknown mode "opne" [unknown-mode]\n'
        '  12 |     points_to: {mode: opne, conductors: ["{c}"], at: run-to, of: one}\n'
        "     |                       ^\n"
        "  expected  bridged, open or stuck\n"
        "  try       open"
    )


def test_a_mode_taken_away_is_missed_by_its_signs(rules):
    (rules / "faults/stuck.yaml").unlink()
    assert [line.split(" | ")[1] for line in complaints(rules)] == ['unknown mode "stuck"']


def test_a_test_taken_away_is_missed_by_modes_and_signs(rules):
    (rules / "tests/lead.yaml").unlink()
    assert [line.split(" | ")[:2] for line in complaints(rules)] == [
        ["rules/faults/open.yaml:13:10 unknown-test", 'unknown test "lead"'],
        ["rules/part.yaml:5:9 unknown-test", 'unknown test "lead"'],
        ["rules/signs/open.yaml:10:48 unknown-test", 'unknown test "lead"'],
        ["rules/signs/open.yaml:11:53 unknown-pair", 'unknown pair "E"'],
        ["rules/signs/open.yaml:16:48 unknown-test", 'unknown test "lead"'],
    ]


def test_a_folder_without_rules(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BadInput) as caught:
        load_rulebook(Path("nowhere"))
    assert str(caught.value) == ('nowhere: error: there is no folder "nowhere" [missing-file]')
