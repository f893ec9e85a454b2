"""Whatever is done to a case file, it is read or refused with places; nothing else comes out."""

import random
from pathlib import Path

from hypothesis import example, given
from hypothesis import strategies as st

from faultfinder.source.problem import BadInput
from readings.written import CASE, CIRCUIT, TERMINATORS, read

WHOLE = (
    CASE
    + """\
  - {test: insulation, at: DB, A+N-E: ">200 Mohm"}
  - {test: long-lead, at: J1, E: 120 mohm}
found: [open E at S1..S2, "bridged A-E at S2 0.1 ohm"]
instrument: {resistance: {percent: 1, plus: 0.01, range: 2000}}
"""
)
TABLE = 'test,at,switch,A-N,note\nterminated,S1,on,15.3,"a, b"\nterminated,S1,off,open,\n'
SIGNS = "{}[],:#&*!|>'\"%@`-?<= \t\n\\\0\x07éΩ0123456789eE.+xSADN"
WORDS = ["", "{}", "[]", "S1", "DB", "on", "open", "-1", "1e400", "nan", "1,5", "A-E", "a: b", "*x"]


def spoiled(text: str, seed: int, moves: list[str]) -> str:
    """Do some of what hands and programs do to files: lose, repeat, swap and garble."""
    dice = random.Random(seed)  # noqa: S311 - any numbers will do
    for move in moves:
        lines = text.split("\n")
        row, place = dice.randrange(len(lines)), dice.randrange(len(text) + 1)
        match move:
            case "drop line":
                del lines[row]
                text = "\n".join(lines)
            case "double line":
                lines.insert(row, lines[row])
                text = "\n".join(lines)
            case "swap lines":
                other = dice.randrange(len(lines))
                lines[row], lines[other] = lines[other], lines[row]
                text = "\n".join(lines)
            case "indent":
                lines[row] = dice.choice([" ", "  ", "\t", "- "]) + lines[row]
                text = "\n".join(lines)
            case "drop":
                text = text[:place] + text[place + dice.randint(1, 4) :]
            case "put":
                text = text[:place] + dice.choice(SIGNS) + text[place:]
            case "cut":
                text = text[:place]
            case "word":
                words = text.split(" ")
                words[dice.randrange(len(words))] = dice.choice(WORDS)
                text = " ".join(words)
            case "value":
                pieces = text.split(": ")
                which = dice.randrange(len(pieces))
                rest = pieces[which].lstrip("0123456789abcdefghijklmnopqrstuvwxyz.")
                pieces[which] = dice.choice(WORDS) + rest
                text = ": ".join(pieces)
    return text


MOVES = st.lists(
    st.sampled_from(
        ["drop line", "double line", "swap lines", "indent", "drop", "put", "cut", "word", "value"]
    ),
    min_size=1,
    max_size=4,
)


def is_read_or_refused(text: str) -> None:
    try:
        read(text)
        bad = None
    except BadInput as refusal:
        bad = refusal
    for problem in bad.problems if bad else ():
        lines = bad.sources.get(problem.position.file, "\n" * 9999).count("\n") + 2
        assert 0 <= problem.position.line <= lines
        assert problem.id
        assert problem.found


@given(st.integers(0, 2**32), MOVES)
def test_a_spoiled_case_is_read_or_refused(seed, moves):
    is_read_or_refused(spoiled(WHOLE, seed, moves))


@given(st.integers(0, 2**32), MOVES)
def test_a_spoiled_table_is_read_or_refused(seed, moves):
    Path("r.csv").write_text(spoiled(TABLE, seed, moves), "utf-8")
    is_read_or_refused(CIRCUIT + TERMINATORS + "readings: r.csv\n")


@given(st.text())
@example("circuit: case.yaml")
@example("{circuit: {}, readings: {}}")
def test_any_text_is_read_or_refused(text):
    is_read_or_refused(text)
