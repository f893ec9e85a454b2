"""Every set-up mistake the rule files know, wherever these readings leave room for it."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import log

from faultfinder.diagnosis.catalogue import Hypothesis, no_edit
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.staging import Noting, Staged
from faultfinder.network.branch import Branch, BranchName, Edit, MakeEdit, Network
from faultfinder.network.edits import Step, fault_edit
from faultfinder.network.wiring import terminal
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.procedures import Fit
from faultfinder.rulebook.setups import Act, SetUp
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import SET_UP, Fault

Refits = tuple[tuple[str, tuple[Fit, ...]], ...]
"""What was really fitted, by test, where it was not what the procedure says."""

_WHOLE_ROW = 2.0  # weight of both rows of a switched outlet being wrong, against either alone


@dataclass(frozen=True, slots=True)
class MistakenWay:
    """One way a set-up mistake can have been made, ready to be read for given ohms.

    ``joins`` act on the wiring, ``fits`` and ``noting`` are as in ``Staged``.
    """

    circuit: Circuit
    fault: Fault
    weight: float
    joins: tuple[Act, ...]
    adds_to_leads: bool
    fits: Refits
    noting: Noting | None

    def edit(self, r_ohm: float = 0.0) -> MakeEdit:
        """Return the edit that is read with the mistake made, with these ohms."""
        make = self._joined(r_ohm) if self.joins else no_edit
        if not (self.fits or self.adds_to_leads or self.noting):
            return make
        return Staged(make, self.fits, r_ohm if self.adds_to_leads else 0.0, self.noting)

    def _joined(self, r_ohm: float) -> MakeEdit:
        circuit, at = self.circuit, self.fault.at

        def make(network: Network) -> Edit:
            if any(name[0] == "supply" for name in network):
                return {}  # a live test is taken with the circuit on its device and bar
            edit: dict[BranchName, Branch | None] = {}
            for act in self.joins:
                ends = (act.start or "", act.end or "")
                if at == circuit.board:
                    first, second = (terminal(circuit, at, conductor) for conductor in ends)
                    edit["joined", at, *ends] = Branch(first, second, r_ohm)
                else:
                    step = Step("bridge", ("given",), act.side)
                    there = replace(self.fault, conductors=ends)
                    edit |= fault_edit(network, circuit, (step,), there, r_ohm)
            return edit

        return make


def mistakes(bench: Bench, set_ups: Iterable[SetUp]) -> tuple[Hypothesis, ...]:
    """Return the set-up mistakes that may have been made in the readings of a bench."""
    return tuple(found for set_up in set_ups for found in _Maker(bench, set_up).hypotheses())


class _Maker:
    """Makes the hypotheses of one set-up mistake."""

    def __init__(self, bench: Bench, set_up: SetUp) -> None:
        self.bench, self.circuit, self.set_up = bench, bench.circuit, set_up
        used = dict.fromkeys(spot.test for spot in bench.spots)
        self.tests = [
            test
            for test in used
            if not bench.procedures[test].is_live and test in (set_up.tests or used)
        ]
        # Which switch positions were read, and which can be, by test and place.
        self.read: dict[tuple[str, str], set[str]] = {}
        for spot in bench.spots:
            self.read.setdefault((spot.test, spot.at), set()).add(spot.switch)
        self.can_be: dict[tuple[str, str], set[str]] = {}
        for test in self.tests:
            for spot in spots_of(bench.procedures[test], self.circuit):
                self.can_be.setdefault((test, spot.at), set()).add(spot.switch)

        # What is done, and what that leaves fitted, by conductors.
        self.done: dict[tuple[str, ...], tuple[tuple[Act, ...], Refits]] = {
            c: (set_up.acts(c), self._refitted(c)) for c in set_up.conductors
        }

    def _refitted(self, conductors: tuple[str, ...]) -> Refits:
        procedures = self.bench.procedures
        fits = {test: self.set_up.refit(procedures[test], conductors) for test in self.tests}
        return tuple((test, fit) for test, fit in fits.items() if fit != procedures[test].fit)

    def hypotheses(self) -> Iterator[Hypothesis]:
        if not self.tests:
            return
        choices = [c for c in self.set_up.conductors if set(c) <= set(self.circuit.all_conductors)]
        ohms = self.set_up.ohms
        for at, share in self._places():
            for conductors in choices:
                fault = Fault(SET_UP, conductors, at, set_up=self.set_up.id)
                ways = self._ways(fault)
                if ways:
                    whole = sum(way.weight for way in ways)
                    yield Hypothesis(
                        (fault,),
                        tuple(replace(way, weight=way.weight / whole) for way in ways),
                        (ohms.from_ohm, ohms.to_ohm) if ohms else None,
                        log(self.set_up.prior.chance * share / len(self.set_up.conductors)),
                    )

    def _places(self) -> list[tuple[str, float]]:
        """Return where it can be, each with its share of the chance."""
        names = [point.name for point in self.circuit.outlets()]
        match self.set_up.at:
            case "test":
                return [(self.circuit.board, 1.0)]
            case "outlet":
                return [(name, 1.0) for name in names]
            case "switched-outlet":
                switched = [at for at in names if "off" in self._can_be(at)]
                return [(at, 1.0) for at in switched if self._was_read(at)]
            case "two-outlets":
                return self._pairs(names)

    def _pairs(self, names: Sequence[str]) -> list[tuple[str, float]]:
        """Return every two outlets it can be between; one slips a line sooner than five."""
        found = [
            (f"{names[i]},{names[j]}", 1 / (j - i))
            for i, j in combinations(range(len(names)), 2)
            if self._was_read(names[i]) or self._was_read(names[j])
        ]
        whole = sum(share for _, share in found)
        return [(at, share / whole) for at, share in found]

    def _can_be(self, at: str) -> set[str]:
        return {word for test in self.tests for word in self.can_be.get((test, at), ())}

    def _was_read(self, at: str) -> bool:
        return any((test, at) in self.read for test in self.tests)

    def _ways(self, fault: Fault) -> list[MistakenWay]:
        acts, fits = self.done[fault.conductors]
        way = MistakenWay(
            self.circuit,
            fault,
            1.0,
            tuple(act for act in acts if act.do == "join"),
            any(act.do == "add-to-leads" for act in acts),
            fits,
            None,
        )
        noted = next((act for act in acts if act.is_noting or act.do == "exchange-places"), None)
        if noted is None:
            return [way] if way.joins or way.adds_to_leads or way.fits else []
        return [
            replace(way, noting=noting, weight=weight)
            for noting, weight in self._notings(noted, fault)
        ]

    def _notings(self, act: Act, fault: Fault) -> Iterator[tuple[Noting, float]]:
        """Yield each way of noting, of one test at a time where it is a slip of the pen."""
        places = fault.at.split(",")
        if act.do == "exchange-places":
            one, other = (self.circuit.point(place) for place in places)
            plain = one is not None and other is not None and one.kind == other.kind == "outlet"
            if plain and one is not None and other is not None:
                breaks = tuple((point.name, point.switched) for point in (one, other))
                tests = frozenset(self.tests)
                yield Noting(tests, _exchanged(places), drawn=breaks), 1.0
            return
        for test in self.tests:
            concerned = frozenset({test})
            own = ((fault.at, fault.at),) if fault.at != self.circuit.board else ()
            match act.do:
                case "turn-switch":
                    if any({"on", "off"} <= self._can(test, at) for at in self._read_in(test, own)):
                        yield Noting(concerned, own, turned=True), 1.0
                case "exchange-columns":
                    yield from self._columns(test, own, fault.conductors)
                case "exchange-rows":
                    if self._alike(test, *places):
                        yield Noting(concerned, _exchanged(places)), 1.0
                case "take-other-row":
                    yield from self._other_rows(test, fault.at)

    def _other_rows(self, test: str, at: str) -> Iterator[tuple[Noting, float]]:
        """Yield each outlet whose row it can be that is noted for another, neighbours first."""
        rows = self.read.get((test, at))
        names = [point.name for point in self.circuit.outlets()]
        for other in names if rows else ():
            if other != at and rows is not None and rows <= self._can(test, other):
                weight = 1 / abs(names.index(other) - names.index(at))
                yield Noting(frozenset({test}), ((at, other),)), weight

    def _columns(
        self, test: str, own: tuple[tuple[str, str], ...], conductors: tuple[str, ...]
    ) -> Iterator[tuple[Noting, float]]:
        """Yield columns exchanged in the rows of a place, or in all; in one row of two alone."""
        places = self._read_in(test, own)
        if not places:
            return
        columns = tuple(zip(conductors, (*conductors[1:], conductors[0]), strict=True))
        noting = Noting(frozenset({test}), own, columns=columns)
        yield noting, _WHOLE_ROW
        rows = self.read[test, places[0]]
        if own and len(rows) > 1:
            for row in sorted(rows):
                yield replace(noting, switch=row), 1.0

    def _read_in(self, test: str, own: tuple[tuple[str, str], ...]) -> list[str]:
        """Return the places of a test that were read, all or the one named."""
        named = [place for place, _ in own]
        return [at for read, at in self.read if read == test and (not named or at in named)]

    def _can(self, test: str, at: str) -> set[str]:
        return self.can_be.get((test, at), set())

    def _alike(self, test: str, first: str, second: str) -> bool:
        """Return whether two outlets were both read, and in the same switch positions."""
        rows = self.read.get((test, first))
        return rows is not None and rows == self.read.get((test, second))


def _exchanged(places: Sequence[str]) -> tuple[tuple[str, str], ...]:
    first, second = places
    return (first, second), (second, first)
