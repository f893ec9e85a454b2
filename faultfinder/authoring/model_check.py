"""Signs held against the model: what makes each fire, and is it what it points to?"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from faultfinder.authoring.circuits import ExampleCircuits
from faultfinder.authoring.finding import Finding, found
from faultfinder.authoring.simulation import Trial
from faultfinder.diagnosis.pointing import try_own_signs
from faultfinder.engine import BadSigns, EngineFault, EngineUnavailable
from faultfinder.engine.compiling import batches
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.rulebook.signs import Pointer
from faultfinder.source.document import KeyPath
from faultfinder.source.problem import listed
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault

_SOUND = "sound circuit"


@dataclass(slots=True)
class Record:
    """What the trials showed of one sign.

    Attributes
    ----------
    mode : str
        The fault mode it points to.
    fired : Counter
        How often it fired, by the mode that was there.
    right : int
        How often it pointed to the very fault that was there.
    instead : Counter
        How often another place or other conductors of its mode would have been right, by their
        words, where no sign said so.
    example : dict
        One fault that made it fire, by mode.
    beside : set of str or None
        The signs that pointed to the same fault whenever it fired; None before it did.
    """

    mode: str
    fired: Counter[str] = field(default_factory=Counter)
    right: int = 0
    instead: Counter[str] = field(default_factory=Counter)
    example: dict[str, str] = field(default_factory=dict)
    beside: set[str] | None = None

    @property
    def others(self) -> list[str]:
        """The other modes that made it fire."""
        return [mode for mode in self.fired if mode not in {self.mode, _SOUND}]


def records(
    rulebook: Rulebook, circuits: ExampleCircuits, tried: Sequence[Trial]
) -> dict[str, Record]:
    """Return what the trials showed of each sign, by its id."""
    found = {p.sign.id: Record(p.target.mode) for p in rulebook.pointers}
    by_name = {circuit.name: circuit for circuit in circuits.circuits()}
    for trial in tried:
        said = trial.fault.mode if trial.fault else _SOUND
        pointed = frozenset().union(*trial.pointed.values())
        for sign, faults in trial.pointed.items():
            record = found[sign]
            record.fired[said] += 1
            record.example.setdefault(said, f"{trial.fault or 'nothing wrong'} on {trial.circuit}")
            same = {
                other
                for other, theirs in trial.pointed.items()
                if other != sign and faults <= theirs
            }
            record.beside = same if record.beside is None else record.beside & same
            if trial.fault is None or trial.fault.mode != record.mode:
                continue
            if trial.fault in faults:
                record.right += 1
            elif trial.fault not in pointed:
                for near in faults:
                    record.instead[_instead(by_name[trial.circuit], near, trial.fault)] += 1
    return found


def _instead(circuit: Circuit, pointed: Fault, there: Fault) -> str:
    """Return what a sign would have had to say to point to the fault there; '' if far off."""
    run = circuit.run(pointed.at)
    outlet = run.downstream if run else pointed.at
    if circuit.point(outlet) is None:
        return ""
    here = {outlet: "outlet", circuit.feeding_run(outlet).name: "run-to"}
    if there.at not in here:
        return ""
    conductors = f", conductors: [{', '.join(there.conductors)}]" if there.conductors else ""
    return f"at: {here[there.at]}{conductors}"


def refused_by_engine(rulebook: Rulebook) -> Iterator[Finding]:
    """Yield each sign that the rule engine cannot hold, and what ends a process that tries it."""
    shelf = rulebook.shelf
    sound = True
    for name, bearer in rulebook.bearers.items():
        for number, rule in enumerate(bearer.signs):
            try:
                batches([pointer.sign for pointer in bearer.families[number][:1]])
            except BadSigns as bad:
                sound = False
                for problem in bad.problems:
                    yield found(shelf, name, ("signs", number, "id"), problem, rule.id)
    if sound:
        try:
            try_own_signs(rulebook)
        except EngineUnavailable:
            raise
        except EngineFault as fault:
            yield Finding(str(shelf.folders[-1]), 0, "signs", str(fault))


def held_against_model(rulebook: Rulebook, found_: dict[str, Record]) -> Iterator[Finding]:
    """Yield each sign that the model contradicts, and each mode that no sign finds."""
    for name, bearer in rulebook.bearers.items():
        for number, rule in enumerate(bearer.signs):
            for pointer in bearer.families[number]:
                at = ("signs", number, "id")
                for problem in _problems(pointer, found_):
                    yield found(rulebook.shelf, name, at, problem, rule.id)
                yield from _unlike(rulebook, pointer, found_, name, at, rule.id)
    yield from _of_modes(rulebook, found_)


def _problems(pointer: Pointer, found_: dict[str, Record]) -> Iterator[str]:
    sign, record = pointer.sign.id, found_[pointer.sign.id]
    if _SOUND in record.fired:
        yield f"sign {sign} fires on a sound circuit: {record.example[_SOUND]}"
    if not record.fired[record.mode]:
        also = f", but {listed(record.others, 'and')} does" if record.others else ""
        yield (
            f"sign {sign} never fires: no {record.mode} on the example circuits reads so, as the "
            f"model has it{also}"
        )
    elif not record.right:
        yield f"sign {sign} fires for {record.mode}, but never points to the fault that is there"
    instead, times = max(
        ((text, n) for text, n in record.instead.items() if text),
        key=lambda p: p[1],
        default=("", 0),
    )
    if times > record.right:
        yield (
            f"sign {sign} points to the fault that is there {record.right} times; {instead} would "
            f"have {times} times, and no sign says so"
        )
    if record.beside:
        yield (
            f"sign {sign} is shadowed: whenever it fires, {listed(sorted(record.beside), 'and')} "
            "points to the same fault"
        )


def _unlike(
    rulebook: Rulebook,
    pointer: Pointer,
    found_: dict[str, Record],
    name: str,
    at: KeyPath,
    part: str,
) -> Iterator[Finding]:
    """Yield each mode that a sign fires for though neither mode says that it reads like the other.

    It is told where it can be mended: in a user's own mode rather than in the program's sign.
    """
    shelf, record = rulebook.shelf, found_[pointer.sign.id]
    for mode in record.others:
        if _read_alike(rulebook, mode, record.mode):
            continue
        fires = f"sign {pointer.sign.id} fires for {mode} too, as for {record.example[mode]}"
        if shelf.is_shipped(name) and not shelf.is_shipped(f"faults/{mode}"):
            meant = f"reads_like: [{record.mode}]"
            said = f"{fires}; if that is as it must be, say so here: {meant}"
            yield found(shelf, f"faults/{mode}", ("id",), said)
        else:
            meant = f"faults/{record.mode}: reads_like: [{mode}]"
            said = f"{fires}; if that is as it must be, say so in {meant}"
            yield found(shelf, name, at, said, part)


def _read_alike(rulebook: Rulebook, one: str, other: str) -> bool:
    """Tell whether either of two modes says that it reads like the other."""
    modes = rulebook.modes
    return other in modes[one].reads_like or one in modes[other].reads_like


def _of_modes(rulebook: Rulebook, found_: dict[str, Record]) -> Iterator[Finding]:
    liked: dict[str, set[str]] = defaultdict(set)
    signed = {record.mode for record in found_.values() if record.right}
    for record in found_.values():
        for other in record.others:
            liked[other].add(record.mode)
            liked[record.mode].add(other)
    for id_, mode in rulebook.modes.items():
        name = f"faults/{id_}"
        if not any(record.mode == id_ for record in found_.values()):
            yield found(rulebook.shelf, name, ("id",), f"fault mode {id_} has no sign")
        elif id_ not in signed:
            said = f"no sign of fault mode {id_} ever points to it on the example circuits"
            yield found(rulebook.shelf, name, ("id",), said)
        for place, other in enumerate(mode.reads_like):
            if other not in liked[id_]:
                said = f"no sign of {other} fires for {id_}, nor the reverse, as reads_like has it"
                yield found(rulebook.shelf, name, ("reads_like", place), said)
