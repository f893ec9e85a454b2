"""What a person types, as readings: values with or without their pairs, in any usual spelling."""

import re
from collections.abc import Sequence

from faultfinder.diagnosis.result import NextCheck
from faultfinder.readings.reading import Reading, ReadingForms
from faultfinder.readings.rows import Cell, Row, RowReader
from faultfinder.source.problem import Position
from faultfinder.wiring.circuit import Circuit

_TYPED = Position("typed", 0, 0)
_PREFIXES = {"k": "kohm", "K": "kohm", "M": "Mohm", "G": "Gohm"}
_VALUE = re.compile(r"[<>]?=?\s*[-+]?[0-9.,]+(e[-+]?[0-9]+)?", re.IGNORECASE)
_WORDS = {"infinity": "open", "inf": "open", "o.l": "open", "o.l.": "open", "over": "open"}


class NotUnderstood(ValueError):  # noqa: N818 - says what it is, as BadInput does
    """An answer that could not be read; says what was found and what was expected."""

    def __init__(self, found: str, expected: str) -> None:
        """Keep the two apart."""
        super().__init__(found)
        self.found, self.expected = found, expected


def pairs_asked(check: NextCheck, tests: ReadingForms) -> tuple[str, ...]:
    """Return the pairs that a check reads, in the order its test lists them."""
    asked = {check.spot.between, *(spot.between for spot in check.also)}
    order = list(tests[check.test].pairs)

    def place(pair: str) -> tuple[int, str]:
        return (order.index(pair) if pair in order else len(order), pair)

    return tuple(sorted(asked, key=place))


def readings_typed(
    text: str, check: NextCheck, circuit: Circuit, tests: ReadingForms
) -> tuple[Reading, ...]:
    """Return the readings of an answer to a check.

    One value is of the pair asked first; several are of all pairs in their order, or each has its
    pair before it: ``A-E open N-E 0.4``.

    Raises
    ------
    NotUnderstood
        If it cannot be read so.
    """
    pairs = pairs_asked(check, tests)
    typed = _with_pairs(_tokens(text), check, pairs)
    cells = [Cell(pair, _spelt(value), _TYPED, _TYPED) for pair, value in typed.items()]
    spot = check.spot
    where = {"test": spot.test, "at": spot.at, "switch": spot.switch, "parted": spot.parted}
    head = [Cell(key, value, _TYPED, _TYPED) for key, value in where.items() if value]
    reader = RowReader(circuit, tests, has_terminators=True, has_supply=True)
    found = tuple(reader.read([Row(_TYPED, (*head, *cells))]))
    for problem in reader.problems:
        raise NotUnderstood(problem.found, problem.expected)
    return found


def _tokens(text: str) -> list[str]:
    """Return the words of an answer; a comma between digits is a decimal one."""
    spaced = re.sub(r"[;:=]|,(?=\s|$)|(?<![0-9]),|,(?![0-9])", " ", text)
    words = []
    for word in spaced.split():
        # Beside decimal points a comma stands between values.
        words += word.split(",") if "." in word else [word]
    return words


def _with_pairs(tokens: Sequence[str], check: NextCheck, pairs: Sequence[str]) -> dict[str, str]:
    named: dict[str, str] = {}
    bare: list[str] = []
    pair = ""
    for token in tokens:
        meant = _pair(token, pairs)
        if meant:
            if pair:
                raise NotUnderstood(f"{pair} without a value", f"{pair} 0.4")
            pair = meant
        elif pair:
            named[pair], pair = token, ""
        elif (bare or named) and re.fullmatch("[a-zA-ZΩµ]+", token) and not _is_word(token):
            # The unit of the value before.
            if bare:
                bare[-1] += f" {token}"
            else:
                last = next(reversed(named))
                named[last] += f" {token}"
        elif bare and bare[-1] in {"<", ">"}:
            bare[-1] += token
        else:
            bare.append(token)
    if pair:
        raise NotUnderstood(f"{pair} without a value", f"{pair} 0.4")
    if named and bare:
        raise NotUnderstood(f'"{bare[0]}" without its pair', f"{pairs[0]} {bare[0]}")
    if len(bare) == 1:
        return {check.spot.between: bare[0]}
    if bare and len(bare) != len(pairs):
        wanted = "one value" if len(pairs) == 1 else f"one value, or {len(pairs)}: {_said(pairs)}"
        raise NotUnderstood(f"{len(bare)} values", wanted)
    if not (bare or named):
        raise NotUnderstood("no value", "a number, open, or >200M; help lists the words")
    return named or dict(zip(pairs, bare, strict=True))


def _said(pairs: Sequence[str]) -> str:
    return ", ".join(pairs)


def _is_word(token: str) -> bool:
    return token.lower() in {*_WORDS, "open", "ol"}


def _pair(token: str, pairs: Sequence[str]) -> str:
    """Return which pair is meant, either way round and in small letters too."""
    wanted = sorted(token.upper().split("-"))
    return next((pair for pair in pairs if sorted(pair.split("-")) == wanted), "")


def _spelt(value: str) -> str:
    """Return a value as files have it: a point for a comma, a unit for a prefix alone."""
    if _is_word(value):
        return _WORDS.get(value.lower(), value)
    match = _VALUE.match(value)
    if match is None:
        return value
    number = match[0].replace(",", ".").replace(" ", "").replace("=", "")
    unit = value[match.end() :].strip()
    return f"{number} {_PREFIXES.get(unit, unit)}".strip()
