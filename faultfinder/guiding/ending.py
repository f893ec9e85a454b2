"""The end of a session: what was found, how it is mended, and what is to be tested again."""

from dataclasses import dataclass

from faultfinder.diagnosis.wording import about_set_up, fault_in_words, value_in_words
from faultfinder.evidence.limits import limit_for
from faultfinder.readings.case import Case
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.rulebook.setups import SetUp
from faultfinder.wiring.fault import Fault


@dataclass(frozen=True, slots=True)
class Retest:
    """A test to repeat.

    Attributes
    ----------
    test, title : str
        Its id, and in words.
    at : tuple of str
        Where: at the repair, and at what is fed through it.
    limits : tuple of str
        The limits that it is held to there, each once.
    """

    test: str
    title: str
    at: tuple[str, ...]
    limits: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Mending:
    """What to do about faults that were found: of the test itself, of the wiring, or both."""

    title: str
    of_test: bool
    of_wiring: bool
    remedy: tuple[str, ...]
    cautions: tuple[str, ...]
    retests: tuple[Retest, ...]


def mending(case: Case, rulebook: Rulebook, faults: tuple[Fault, ...]) -> Mending:
    """Return how faults are mended and what their repair asks to be tested again."""
    circuit = case.circuit
    rules = [(rulebook.rule_of(fault), fault) for fault in faults]
    tests: dict[str, dict[str, None]] = {}
    for rule, fault in rules:
        asked = _tests_used(case) if isinstance(rule, SetUp) else rule.retest
        for test in asked:
            places = _concerned(case, fault, rulebook, test)
            tests.setdefault(test, {}).update(dict.fromkeys(places))
    cautions = [c for rule, fault in rules for c in rule.cautions_for(fault.conductors)]
    if any(not fault.set_up and circuit.is_at_board(fault.at) for fault in faults):
        cautions = [*rulebook.inspection.board.cautions, *cautions]
    return Mending(
        title="; and ".join(fault_in_words(rule, circuit, fault) for rule, fault in rules),
        of_test=any(fault.set_up for fault in faults),
        of_wiring=any(not fault.set_up for fault in faults),
        remedy=tuple(
            ("" if len(faults) == 1 else f"At {fault.at}: ")
            + (about_set_up(rule.remedy, circuit, fault) if fault.set_up else rule.remedy)
            for rule, fault in rules
        ),
        cautions=tuple(dict.fromkeys(cautions)),
        retests=tuple(
            Retest(
                test, rulebook.procedures[test].title, tuple(at), _limits(case, rulebook, test, at)
            )
            for test, at in tests.items()
            if at
        ),
    )


def _tests_used(case: Case) -> tuple[str, ...]:
    return tuple(dict.fromkeys(reading.spot.test for reading in case.readings))


def _concerned(case: Case, fault: Fault, rulebook: Rulebook, test: str) -> list[str]:
    """Return where a test is repeated: insulation at the board, all else here and beyond.

    Beyond an outlet too: what is fed through it hangs on the terminals that were opened.
    """
    circuit, procedure = case.circuit, rulebook.procedures[test]
    read_at = dict.fromkeys(spot.at for spot in spots_of(procedure, circuit))
    if procedure.leakage and circuit.board in read_at:
        return [circuit.board]
    run = circuit.run(fault.at)
    if fault.set_up or (run is None and circuit.point(fault.at) is None):  # of a whole board
        return list(read_at)
    here = fault.at if run is None else run.downstream
    beyond = circuit.beyond(here) if here != circuit.far_end else frozenset()
    is_of_ring = circuit.is_ring and (run is not None or circuit.is_on_ring(here))
    around = {p.name for p in circuit.points} if is_of_ring else set()
    return [at for at in read_at if at == here or at in beyond or at in around]


def _limits(case: Case, rulebook: Rulebook, test: str, places: dict[str, None]) -> tuple[str, ...]:
    """Return the limits of a test at some places, the first place's of each pair."""
    procedure, circuit = rulebook.procedures[test], case.circuit
    said: dict[str, str] = {}
    for spot in spots_of(procedure, circuit):
        if spot.at not in places or spot.between in said:
            continue
        limit = limit_for(procedure, circuit, case.terminators, spot, case.installation)
        if limit is not None:
            value = value_in_words(limit.value, limit.unit)
            said[spot.between] = f"{limit.bound} {value} ({limit.basis}; {_cited(limit.source)})"
    by_limit: dict[str, list[str]] = {}
    for pair, limit_said in said.items():
        by_limit.setdefault(limit_said, []).append(pair)
    return tuple(f"{', '.join(pairs)} {limit_said}" for limit_said, pairs in by_limit.items())


def _cited(source: str) -> str:
    """Return the first of a limit's sources, without what is said about it."""
    return source.partition("; ")[0].partition(" (")[0].partition(", as ")[0]
