"""The examples of signs in rule files: do the readings make them fire, and only as they say?"""

from collections.abc import Iterator, Mapping, Sequence
from math import inf

from faultfinder.authoring.circuits import ExampleCircuits, TestBed
from faultfinder.authoring.finding import Finding, found, of_bad_input
from faultfinder.diagnosis.pointing import fired
from faultfinder.evidence.grading import grade_readings
from faultfinder.readings.reading import Reading, Spot
from faultfinder.readings.rows import Cell, Row, RowReader
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.rulebook.signs import ExampleRule, SignBearer
from faultfinder.source.document import Document, KeyPath, load_yaml
from faultfinder.source.problem import BadInput, Problem, listed, shown
from faultfinder.source.quantity import Amount
from faultfinder.source.spelling import nearest
from faultfinder.wiring.fault import Fault, FaultSyntaxError, parse_fault


def examples_checked(rulebook: Rulebook, circuits: ExampleCircuits) -> Iterator[Finding]:
    """Yield what the examples in all files have shown, and each sign that has too few."""
    for name, bearer in rulebook.bearers.items():
        if bearer.examples or not any(off.startswith(f"{name}/") for off in rulebook.shelf.off):
            yield from _too_few(rulebook, name, bearer)
        document = load_yaml(rulebook.shelf.path(name))
        for number, example in enumerate(bearer.examples):
            try:
                yield from _Example(rulebook, circuits, name, document, number).findings(example)
            except BadInput as bad:
                yield from of_bad_input(rulebook.shelf, bad)


def _too_few(rulebook: Rulebook, name: str, bearer: SignBearer) -> Iterator[Finding]:
    """Yield the signs without an example that fires them, or without one that does not."""
    fire = {sign for example in bearer.examples for sign in example.fires}
    silent = {sign for example in bearer.examples for sign in example.silent}
    for number, rule in enumerate(bearer.signs):
        for pointer in bearer.families[number]:
            sign = pointer.sign.id
            lacks = [
                *(["one that must make it fire"] if sign not in fire else []),
                *(["one that must not"] if not {sign, rule.id} & silent else []),
            ]
            if lacks:
                problem = f"sign {sign} has no example: {listed(lacks, 'and')}"
                yield found(rulebook.shelf, name, ("signs", number, "id"), problem, rule.id)


class _Example:
    """One example, and where it is written."""

    def __init__(
        self,
        rulebook: Rulebook,
        circuits: ExampleCircuits,
        name: str,
        document: Document,
        number: int,
    ) -> None:
        self.rulebook, self.circuits, self.name = rulebook, circuits, name
        self.document, self.at = document, ("examples", number)

    @property
    def families(self) -> Mapping[str, str]:
        """The rule that each sign of the file is written out from."""
        bearer = self.rulebook.bearers[self.name]
        return {
            pointer.sign.id: rule.id
            for rule, group in zip(bearer.signs, bearer.families, strict=True)
            for pointer in group
        }

    def say(self, at: KeyPath, problem: str, part: str = "") -> Finding:
        return found(self.rulebook.shelf, self.name, (*self.at, *at), problem, part)

    def findings(self, example: ExampleRule) -> Iterator[Finding]:
        if example.circuit not in self.circuits.names:
            near = nearest(example.circuit, self.circuits.names)
            meant = f"; try {near}" if near else ""
            known = listed(self.circuits.names)
            said = f"no example circuit {shown(example.circuit)}; expected {known}{meant}"
            yield self.say(("circuit",), said)
            return
        bed = self.circuits.bed(example.circuit, example.test)
        wrong = self.readings(bed, example)
        taken = tuple(wrong.get(spot) or _as_expected(bed, spot) for spot in bed.spots)
        pointed: dict[str, set[Fault]] = {}
        for one in fired(bed.circuit, self.rulebook, grade_readings(taken, bed.sound)):
            pointed.setdefault(one.pointer.sign.id, set()).update(one.faults)
        for sign, said in example.fires.items():
            yield from self.must_fire(bed, sign, said, pointed.get(sign, set()))
        families = self.families
        for number, sign in enumerate(example.silent):
            loud = [met for met in pointed if sign in {met, families.get(met)}]
            for noise in loud:
                to = listed(map(str, pointed[noise]), "and")
                problem = f"sign {noise} must not fire on this example, and points to {to}"
                yield self.say(("silent", number), problem, families[noise])

    def must_fire(
        self, bed: TestBed, sign: str, said: str, pointed: set[Fault]
    ) -> Iterator[Finding]:
        at, family = ("fires", sign), self.families[sign]
        try:
            fault, _ = parse_fault(said, bed.circuit)
        except FaultSyntaxError as error:
            yield self.say(at, f"{error.found}; expected {error.expected}", family)
            return
        if not pointed:
            yield self.say(at, f"sign {sign} does not fire on this example", family)
        elif fault not in pointed:
            to = listed(map(str, pointed), "and")
            yield self.say(
                at, f"sign {sign} points to {to} on this example, not to {fault}", family
            )

    def readings(self, bed: TestBed, example: ExampleRule) -> Mapping[Spot, Reading]:
        """Return the readings that are not as they should be, by what they are of.

        Raises
        ------
        BadInput
            For rows that cannot be read.
        """
        taken: dict[Spot, Reading] = {}
        problems: list[Problem] = []
        for number, row in enumerate(example.wrong):
            reader = RowReader(
                bed.circuit, self.rulebook.procedures, has_terminators=True, has_supply=True
            )
            read = list(reader.read(list(self.rows(number, row, bed, example.test))))
            problems += reader.problems
            taken |= {one.spot: one for one in read if "switch" in row or _is_meant(bed, one, read)}
        if problems:
            raise BadInput(dict.fromkeys(problems), {self.document.path: self.document.text})
        return taken

    def rows(
        self, number: int, written: Mapping[str, tuple[str, ...]], bed: TestBed, test: str
    ) -> Iterator[Row]:
        """Yield a row as a case would have it, of each place and position of its switch."""
        for at in written.get("at", ("",)):
            point = bed.circuit.point(at)
            words = bed.circuit.switch_words(point) if point else ()
            for switch in words if "switch" not in written and words else ("",):
                yield self.row(number, written, test, at, switch)

    def row(
        self, number: int, written: Mapping[str, tuple[str, ...]], test: str, at: str, switch: str
    ) -> Row:
        """Return one row as a case would have it, of one place and one position of its switch."""
        path = (*self.at, "wrong", number)
        where = self.document.position(path)
        cells = [Cell("test", test, where, where)]
        cells += [
            Cell(
                key,
                at if key == "at" else words[0],
                self.document.key_position((*path, key)),
                self.document.position((*path, key)),
            )
            for key, words in written.items()
        ]
        if switch:
            cells.append(Cell("switch", switch, where, where))
        return Row(where, tuple(cells))


def _is_meant(bed: TestBed, one: Reading, read: Sequence[Reading]) -> bool:
    """Tell whether a row that names no position of the switch is of this one too.

    It is of those in which a value is expected; of all, if none is.
    """
    spot = one.spot
    alike = [r.spot for r in read if (r.spot.at, r.spot.between) == (spot.at, spot.between)]
    valued = [other for other in alike if not bed.sound[other].is_open]
    return spot in valued or not valued


def _as_expected(bed: TestBed, spot: Spot) -> Reading:
    expected = bed.sound[spot]
    value = expected.value if not expected.is_open else inf
    return Reading(spot, Amount(value, "open" if expected.is_open else "="), 0.01)
