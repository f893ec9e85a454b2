"""Plans: which tests are taken where, with which switch positions, before anything is read."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from faultfinder.readings.reading import Spot
from faultfinder.readings.rows import pair_meant
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.folder import Basis
from faultfinder.rulebook.procedures import Procedure
from faultfinder.rulebook.signs import Words
from faultfinder.source.decode import Schema, decode
from faultfinder.source.document import Document, KeyPath, load_yaml
from faultfinder.source.problem import BadInput, Problem, listed, shown
from faultfinder.source.spelling import nearest
from faultfinder.wiring.circuit import Circuit

USUAL_TEST = "terminated"
BOARD = "board"
"""The board, in a plan that is for any circuit."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What is to be read: a title for people, and every spot once, test by test."""

    title: str
    spots: tuple[Spot, ...]

    @property
    def tests(self) -> tuple[str, ...]:
        """The tests it takes."""
        return tuple(dict.fromkeys(spot.test for spot in self.spots))

    def minutes(self, procedures: Mapping[str, Procedure]) -> float:
        """Return what it costs: each test's set-up, and each place where one is read."""
        places = {(spot.test, spot.at) for spot in self.spots}
        return sum(procedures[test].minutes.set_up for test in self.tests) + sum(
            procedures[test].minutes.each for test, _ in places
        )


def plan_of(
    tests: Sequence[str], circuit: Circuit, procedures: Mapping[str, Procedure], title: str = ""
) -> Plan:
    """Return the plan that takes tests wherever they are read, in every switch position."""
    spots = [spot for test in tests for spot in spots_of(procedures[test], circuit)]
    return Plan(title or ", ".join(tests), tuple(dict.fromkeys(spots)))


class PlannedTest(Schema):
    """``{test: terminated, at: [S1, S3], switch: on, between: [A-N]}``; all of it if not said."""

    test: str
    """Its id."""
    at: Words | None = None
    """A place or a list of places; ``board`` is the board whatever its name."""
    switch: Words | None = None
    """A switch position or a list of them: ``on``, ``off``, ``1-2``."""
    between: Words | None = None
    """A pair of conductors or a list of them."""


class PlanFile(Schema):
    """A plan as a file of its own; those in ``rules/plans`` say what they rest on."""

    format: Literal["1"] = "1"
    """Version of the format."""
    kind: Literal["plan"] = "plan"
    """What this file is."""
    id: str = ""
    """The file's name."""
    title: str = ""
    """One line for people."""
    tests: Annotated[tuple[PlannedTest, ...], Field(min_length=1)]
    """What is taken, in this order."""
    basis: tuple[Basis, ...] = ()
    """What the plan claims, and where that is from."""


def load_plan(
    path: Path,
    circuit: Circuit,
    procedures: Mapping[str, Procedure],
    *,
    has_supply: bool = False,
) -> Plan:
    """Read a plan for a circuit.

    Live tests need to know the supply.

    Raises
    ------
    BadInput
        With every test, place, switch position and pair that the circuit or the rules do not have.
    """
    document = load_yaml(path)
    file = decode(document, PlanFile)
    reader = _Reader(document, circuit, procedures, has_supply=has_supply)
    spots = [spot for index, said in enumerate(file.tests) for spot in reader.spots(index, said)]
    if reader.problems:
        raise BadInput(reader.problems, {document.path: document.text})
    return Plan(file.title or path.stem, tuple(dict.fromkeys(spots)))


class _Reader:
    """Holds what a plan says against the circuit, and gathers what does not fit."""

    def __init__(
        self,
        document: Document,
        circuit: Circuit,
        procedures: Mapping[str, Procedure],
        *,
        has_supply: bool,
    ) -> None:
        self.document, self.circuit, self.procedures = document, circuit, procedures
        self.has_supply = has_supply
        self.problems: list[Problem] = []

    def spots(self, index: int, said: PlannedTest) -> Iterator[Spot]:
        at: KeyPath = ("tests", index)
        procedure = self.procedures.get(said.test)
        if procedure is None:
            self._unknown((*at, "test"), "test", said.test, self.procedures)
            return
        if procedure.is_live and not self.has_supply:
            found = f"test {said.test} is live, and nothing is known of the supply"
            self._say((*at, "test"), "missing-key", found, "a circuit of an installation file")
            return
        possible = spots_of(procedure, self.circuit)
        if not possible:
            found = f"test {said.test} reads nothing on this circuit"
            self._say((*at, "test"), "impossible-value", found, "another test")
            return
        named = said.at and [self._place(word) for word in said.at]
        here = self._chosen((*at, "at"), "place", named, [s.at for s in possible])
        possible = tuple(spot for spot in possible if spot.at in here)
        switches = [spot.switch for spot in possible if spot.switch]
        words = self._chosen((*at, "switch"), "switch position", said.switch, switches)
        possible = tuple(s for s in possible if not s.switch or s.switch in words)
        known = [spot.between for spot in possible]
        written = said.between and [pair_meant(word, known) or word for word in said.between]
        pairs = self._chosen((*at, "between"), "pair", written, known)
        yield from (spot for spot in possible if spot.between in pairs)

    def _place(self, word: str) -> str:
        """Return a place; ``board`` is the board, unless a point is called so."""
        is_board = word == BOARD and self.circuit.point(word) is None
        return self.circuit.board if is_board else word

    def _chosen(
        self, at: KeyPath, what: str, said: Sequence[str] | None, known: Sequence[str]
    ) -> Collection[str]:
        """Return what is said of what there is, all if nothing is; report what there is not."""
        if said is None:
            return set(known)
        for word in said:
            if word not in known:
                self._unknown(at, what, word, known)
        return set(said)

    def _unknown(self, at: KeyPath, what: str, word: str, known: Collection[str]) -> None:
        choices = list(dict.fromkeys(known))
        near = nearest(word, choices)
        found = f"no {what} {shown(word)} in this plan's reach"
        self._say(at, f"unknown-{what.partition(' ')[0]}", found, listed(choices), near)

    def _say(self, at: KeyPath, id_: str, found: str, expected: str, near: str = "") -> None:
        where = self.document.position(at)
        self.problems.append(Problem(where, id_, found, expected, near))
