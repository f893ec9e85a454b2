"""Made-up cases: a random circuit, perhaps a fault in it, and readings with errors.

Every case follows from its seed, its number and the settings. The numbers that shape circuits and
errors are choices of this study, no source; conductor resistance is in drawing.py with its source.
"""

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
import priors
from drawing import ALONG, OHMS, Circuit, Fault, Key, Run, faults_of
from resistances import Floats, readings

TERMINATORS = ((10.0, 5.0), (8.2, 3.3), (15.0, 6.8), (22.0, 10.0))
CABLES = ((2.5, 2.5), (1.5, 1.5), (4.0, 2.5))
UNDETECTABLE_SD = 3.0
REDRAWS = 1000

Errors = Literal["gaussian", "uniform", "shared", "ruled"]


@dataclass(frozen=True, slots=True)
class Settings:
    """How cases are made.

    Attributes
    ----------
    outlets : tuple of int
        Fewest and most outlets of a circuit.
    box_share : float
        Chance that a run passes a joint box.
    errors : str
        ``gaussian``: standard deviation of error_share and error_ohm together; ``uniform``: within
        plus or minus that; ``shared``: one gaussian gain for the case, gaussian error_ohm besides;
        ``ruled``: gaussian as the rule file of tolerances has it, one of its scatters for the case,
        and a gain and what nulling left of the leads besides.
    length_error, terminator_error : float
        Each run and each terminator is off by at most this share, evenly spread.
    stated : bool
        Whether the case file states the instrument's accuracy.
    temperature_c : (float, float)
        Of the conductors, evenly spread; the case file does not tell it. [°C]
    draw : str
        ``modes``: modes equally likely, then the faults of the mode; ``hypotheses``: all faults;
        ``priors``: as often as the rule files say, with ohms all over the range they give.
    read : str
        ``all`` outlets; ``two-in-three`` of them; ``failed-and-one``: the first that reads
        wrong and one other.
    """

    outlets: tuple[int, int] = (3, 12)
    box_share: float = 0.0
    errors: Errors = "gaussian"
    error_share: float = 0.01
    error_ohm: float = 0.01
    length_error: float = 0.0
    terminator_error: float = 0.0
    stated: bool = False
    temperature_c: tuple[float, float] = (20.0, 20.0)
    draw: Literal["modes", "hypotheses", "priors"] = "modes"
    read: Literal["all", "two-in-three", "failed-and-one"] = "all"
    in_runs: bool = False
    behind_switches: bool = False

    def sd(self, value: Floats) -> Floats:
        """Return the standard deviation of one reading's error. [ohm]"""
        limit: Floats = self.error_share * value + self.error_ohm
        return limit / math.sqrt(3) if self.errors == "uniform" else limit

    @property
    def instrument(self) -> str:
        """What a case file says of the instrument."""
        if not self.stated:
            return ""
        return (
            f"{{resistance: {{percent: {100 * self.error_share:g}, plus: {self.error_ohm:g} ohm}}}}"
        )

    def faults_of(self, circuit: Circuit) -> tuple[Fault, ...]:
        """Return every fault these settings may put into a circuit, ohms left open."""
        found = faults_of(circuit, in_runs=self.in_runs, behind_switches=self.behind_switches)
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Case:
    """A circuit as drawn, what is wrong with it, and the readings, infinity for open. [ohm]

    ``instrument`` is what the case file says of it, nothing if left out.
    """

    name: str
    circuit: Circuit
    fault: Fault | None
    keys: tuple[Key, ...]
    values: Floats
    redrawn: int = 0
    instrument: str = ""


def cases(number: int, seed: int, settings: Settings, *, faulty: bool) -> Iterator[Case]:
    """Yield cases with a fault each, or sound ones."""
    kind = "fault" if faulty else "sound"
    for i in range(number):
        rng = random.Random(f"{seed}/{kind}/{i}")
        yield make_case(f"{kind}-{i:05d}", rng, settings, faulty=faulty)


def make_case(name: str, rng: random.Random, settings: Settings, *, faulty: bool) -> Case:
    """Return one case; a fault that the readings cannot show is drawn again, circuit kept."""
    drawn = random_circuit(rng, settings)
    true = as_built(drawn, rng, settings)
    every = true.keys()
    sound = readings(true, None, every)
    fault, values, chosen, redrawn = None, sound, _read(rng, settings, drawn, set()), 0
    while faulty:
        fault = draw_fault(drawn, rng, settings)
        values = readings(true, fault, every)
        wrong = differs(values, sound, settings)
        failed = {key[0] for key, is_wrong in zip(every, wrong, strict=True) if is_wrong}
        chosen = _read(rng, settings, drawn, failed)
        if failed & set(chosen):
            break
        redrawn += 1
        if redrawn > REDRAWS:
            raise ValueError(f"{name}: no fault shows in {REDRAWS} draws")
    keys = drawn.keys(chosen)
    place = {key: i for i, key in enumerate(every)}
    exact = values[[place[key] for key in keys]]
    values = observed(exact, rng, settings)
    return Case(name, drawn, fault, keys, values, redrawn, settings.instrument)


def random_circuit(rng: random.Random, settings: Settings) -> Circuit:
    """Return a chain of outlets with up to two branches, lengths to half a metre."""
    number = rng.randint(*settings.outlets)
    names = [f"S{i + 1}" for i in range(number)]
    branching = set(rng.sample(range(2, number), min(rng.randint(0, 2), max(0, number - 2))))
    points: list[str] = []
    boxes: list[str] = []
    runs: list[Run] = []
    for i, name in enumerate(names):
        feed = "DB" if i == 0 else names[i - 1]
        if i in branching:
            feed = rng.choice(names[: i - 1])
        if rng.random() < settings.box_share:
            boxes.append(f"J{len(boxes) + 1}")
            points.append(boxes[-1])
            runs.append(Run(feed, boxes[-1], _length_m(rng)))
            feed = boxes[-1]
        points.append(name)
        runs.append(Run(feed, name, _length_m(rng)))
    switched = frozenset(name for name in names if rng.random() < 0.7)
    active, earth = rng.choice(CABLES)
    terminators = rng.choice(TERMINATORS)
    return Circuit(
        tuple(points), frozenset(boxes), switched, tuple(runs), active, earth, terminators
    )


def _length_m(rng: random.Random) -> float:
    return round(2 * rng.uniform(2, 25)) / 2


def as_built(drawn: Circuit, rng: random.Random, settings: Settings) -> Circuit:
    """Return the circuit as it truly is: lengths, terminators and temperature off the drawing."""

    def off(value: float, error: float) -> float:
        return value * (1 + rng.uniform(-error, error))

    active, neutral = drawn.terminators
    low, high = settings.temperature_c
    return replace(
        drawn,
        runs=tuple(
            replace(run, length_m=off(run.length_m, settings.length_error)) for run in drawn.runs
        ),
        terminators=(
            off(active, settings.terminator_error),
            off(neutral, settings.terminator_error),
        ),
        temperature_c=rng.uniform(low, high) if low < high else low,
    )


def draw_fault(circuit: Circuit, rng: random.Random, settings: Settings) -> Fault:
    """Return a random fault of a circuit, with its ohms."""
    faults = settings.faults_of(circuit)
    if settings.draw == "modes":
        mode = rng.choice(sorted({fault.mode for fault in faults}))
        faults = tuple(fault for fault in faults if fault.mode == mode)
    if settings.draw == "priors":
        (fault,) = rng.choices(faults, priors.weights(circuit, faults))
    else:
        fault = rng.choice(faults)
    if fault.along is not None:
        fault = replace(fault, along=rng.uniform(*ALONG))
    if fault.mode in OHMS:
        ends = priors.ohms(fault.mode) if settings.draw == "priors" else OHMS[fault.mode]
        low, high = map(math.log, ends)
        fault = replace(fault, r_ohm=math.exp(rng.uniform(low, high)))
    return fault


def differs(values: Floats, sound: Floats, settings: Settings) -> Floats:
    """Return for each reading whether a fault moves it by more than its error can hide."""
    opened = np.isinf(values) != np.isinf(sound)
    both = np.isfinite(values) & np.isfinite(sound)
    change = np.zeros_like(sound)
    np.subtract(values, sound, out=change, where=both)
    limit = UNDETECTABLE_SD * settings.sd(np.where(both, sound, 0.0))
    shows: Floats = opened | (np.abs(change) >= limit)
    return shows


def _read(
    rng: random.Random, settings: Settings, circuit: Circuit, failed: set[str]
) -> tuple[str, ...]:
    """Return the outlets that are read, in walking order."""
    outlets = circuit.outlets
    if settings.read == "all":
        return outlets
    if settings.read == "two-in-three":
        chosen = set(rng.sample(outlets, max(1, round(len(outlets) * 2 / 3))))
    else:
        first = next((outlet for outlet in outlets if outlet in failed), rng.choice(outlets))
        chosen = {first, rng.choice([outlet for outlet in outlets if outlet != first])}
    return tuple(outlet for outlet in outlets if outlet in chosen)


def observed(exact: Floats, rng: random.Random, settings: Settings) -> Floats:
    """Return readings with errors, to a hundredth of an ohm as an ohmmeter shows them."""
    error = _error(rng, settings)
    values = (v if math.isinf(v) else max(0.0, round(v + error(v), 2)) for v in exact.tolist())
    return np.array(list(values))


def _error(rng: random.Random, settings: Settings) -> Callable[[float], float]:
    """Return what draws the error of a reading of one case. [ohm]"""
    share, ohm = settings.error_share, settings.error_ohm
    if settings.errors == "shared":
        gain = rng.gauss(0, share)
        return lambda value: value * gain + rng.gauss(0, ohm)
    if settings.errors == "ruled":
        rules = priors.tolerances()
        gain, leads = rng.gauss(0, rules["gain"] * share), rng.gauss(0, rules["leads"])
        scatter = rng.choice(rules["stated_scatter" if settings.stated else "scatter"])
        return lambda value: value * gain + leads + rng.gauss(0, scatter * (share * value + ohm))
    if settings.errors == "uniform":
        return lambda value: rng.uniform(-(share * value + ohm), share * value + ohm)
    return lambda value: rng.gauss(0, share * value + ohm)


def as_yaml(case: Case) -> str:
    """Return a case as a case file; the fault is not in it."""
    circuit = case.circuit
    active, neutral = circuit.terminators
    cable = f"active: {circuit.active_mm2:g}, earth: {circuit.earth_mm2:g}, material: copper"
    lines = [
        "circuit:",
        f"  board: {circuit.board}",
        "  device: {curve: C, rating: 20}",
        f"  cable: {{{cable}}}",
        "  points:",
    ]
    for point in circuit.points:
        is_switched = "true" if point in circuit.switched else "false"
        kind = "joint-box" if point in circuit.boxes else f"outlet, switched: {is_switched}"
        lines.append(f"    {point}: {{kind: {kind}}}")
    lines.append("  runs:")
    lines += [
        f"    - {{from: {run.upstream}, to: {run.downstream}, length: {run.length_m:g}}}"
        for run in circuit.runs
    ]
    lines.append(f"terminators: {{active: {active:g}, neutral: {neutral:g}}}")
    if case.instrument:
        lines.append(f"instrument: {case.instrument}")
    lines.append("readings:")
    rows: dict[tuple[str, str], list[str]] = {}
    for (outlet, switch, pair), value in zip(case.keys, case.values.tolist(), strict=True):
        said = "open" if math.isinf(value) else f"{value:.2f}"
        rows.setdefault((outlet, switch), []).append(f"{'-'.join(pair)}: {said}")
    for (outlet, switch), row in rows.items():
        state = f", switch: {switch}" if switch else ""
        lines.append(f"  - {{test: terminated, at: {outlet}{state}, {', '.join(row)}}}")
    return "\n".join(lines) + "\n"


def write(case: Case, folder: Path) -> Path:
    """Write a case file and return its path."""
    path = folder / f"{case.name}.yaml"
    path.write_text(as_yaml(case), encoding="utf-8")
    return path
