"""Made-up cases of a family: a random circuit, perhaps a fault in it, and readings with errors.

Readings come from the package's own model, with lengths, terminators, gain, leads and scatter drawn
from what ``rules/tolerances.yaml`` says they are. So a study shows how well a diagnosis does where
the model is right: what readings can tell, and whether probabilities mean what they say. It cannot
show that the model is wrong: ``tests/study/simulator.py``, which shares no code with the package,
is for that.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from faultfinder.coverage.study.family import Family
from faultfinder.diagnosis.catalogue import Hypothesis, catalogue, no_edit
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.lean import Floats, Variation
from faultfinder.evidence.meter import Meter, meter_for
from faultfinder.network.branch import MakeEdit
from faultfinder.readings.case import Case, Found
from faultfinder.readings.reading import Reading, Spot, Terminators
from faultfinder.rulebook.arrangement import spots_of
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.source.quantity import Amount
from faultfinder.wiring.circuit import Circuit, Point, Run
from faultfinder.wiring.fault import Fault

_STEP_M = 0.5  # lengths are drawn to half a metre, as people write them
_DIGIT = 0.01  # last digit of a reading
_VISIBLE_SD = 3.0  # of one reading: from here a fault shows


@dataclass(frozen=True, slots=True)
class Made:
    """A case with its truth in ``found``, and whether any reading alone shows the fault.

    ``weight`` is how much oftener such a case, sound or faulty, comes by the rules than in the
    family.
    """

    case: Case
    shows: bool
    weight: float


@dataclass(frozen=True, slots=True)
class Drawn:
    """A circuit of a family, what is read on it, and every fault that it can have.

    ``faulty`` is the rules' share of faulty ones among such circuits with one fault or none.
    """

    circuit: Circuit
    spots: tuple[Spot, ...]
    faults: tuple[Hypothesis, ...]
    faulty: float


def draw_circuit(family: Family, rulebook: Rulebook, seed: int, number: int) -> Drawn:
    """Return the circuit of one case of a family, the same for ``cases_each`` in a row."""
    circuit = random_circuit(family, np.random.default_rng([seed, number // family.cases_each]))
    spots = dict.fromkeys(
        s for test in family.tests for s in spots_of(rulebook.procedures[test], circuit)
    )
    sound, *faults = catalogue(circuit, tuple(rulebook.modes.values()))
    any_fault = sum(math.exp(fault.log_prior) for fault in faults)
    faulty = any_fault / (math.exp(sound.log_prior) + any_fault)
    return Drawn(circuit, tuple(spots), tuple(faults), faulty)


def make_cases(
    family: Family, rulebook: Rulebook, seed: int, numbers: Sequence[int], drawn: Drawn
) -> list[Made]:
    """Return cases of one circuit of a family; each follows from the seed and its number alone.

    They are worked out together, which saves most of the work.
    """
    circuit, spots = drawn.circuit, drawn.spots
    really = [_draw_truth(family, rulebook, drawn, [seed, number, 1]) for number in numbers]
    sound, true = _true_readings(family, rulebook, drawn, really)
    meter = meter_for(spots, rulebook.procedures, family.instrument)
    shown = meter.shows_value(sound), meter.shows_value(true)
    with np.errstate(invalid="ignore"):
        off = np.abs(meter.scale(true) - meter.scale(sound)) > _VISIBLE_SD * meter.sd(sound)
    shows = ((shown[0] != shown[1]) | (shown[0] & shown[1] & off)).any(axis=1)
    return [
        Made(
            Case(
                name=f"{seed}-{number}",
                title=family.title,
                circuit=circuit,
                terminators=family.terminators,
                instrument=family.instrument,
                readings=_as_read(family, rulebook, spots, meter, read, one.rng),
                found=Found(one.faults),
            ),
            bool(is_shown),
            one.weight,
        )
        for number, one, read, is_shown in zip(numbers, really, true, shows, strict=True)
    ]


def random_circuit(family: Family, rng: np.random.Generator) -> Circuit:
    """Return a circuit of a family: outlets in a row, some of them turned off into branches."""
    count = int(rng.integers(*family.outlets, endpoint=True))
    names = [f"S{number}" for number in range(1, count + 1)]
    most = max(0, count - 2)
    branches = min(most, int(rng.integers(*family.branches, endpoint=True)))
    turning = set(rng.choice(np.arange(2, count), branches, replace=False).tolist())
    cable = family.cables[int(rng.integers(len(family.cables)))]
    runs = []
    for number, name in enumerate(names):
        if not number:
            near, lengths = "DB", family.first_run_m
        elif number in turning:
            near, lengths = names[int(rng.integers(number - 1))], family.next_runs_m
        else:
            near, lengths = names[number - 1], family.next_runs_m
        length_m = max(_STEP_M, round(rng.uniform(*lengths) / _STEP_M) * _STEP_M)
        runs.append(Run(near, name, length_m, cable))
    points = tuple(
        Point(name, "outlet", ("A",) if rng.random() < family.switched else ()) for name in names
    )
    return Circuit(
        "DB", family.device, points, tuple(runs), family.region, family.region.test_temperature_c
    )


@dataclass(frozen=True, slots=True)
class _Truth:
    """What a circuit really is in one case.

    Its faults with their edit, how much oftener that comes by the rules, how it differs from the
    drawing, by how much better its insulation is, and what draws the errors of its readings.
    """

    faults: tuple[Fault, ...]
    edit: MakeEdit
    weight: float
    variation: Variation
    better: float
    rng: np.random.Generator


def _draw_truth(family: Family, rulebook: Rulebook, drawn: Drawn, seed: Sequence[int]) -> _Truth:
    """Draw what a circuit really is: a fault or none, lengths, terminators, insulation."""
    rng, t = np.random.default_rng(seed), rulebook.tolerances
    faults: tuple[Fault, ...] = ()
    edit: MakeEdit = no_edit
    if rng.random() < family.faulty:
        fault, edit = _drawn_fault(drawn.faults, rng)
        faults, weight = (fault,), drawn.faulty / family.faulty
    else:
        weight = (1 - drawn.faulty) / (1 - family.faulty)
    cable = 1 + t.cable * rng.normal()
    scale = {
        run.name: max(0.1, cable * (1 + t.run_length * rng.normal())) for run in drawn.circuit.runs
    }
    fitted = Terminators(
        family.terminators.active_ohm * (1 + t.terminator * rng.normal()),
        family.terminators.neutral_ohm * (1 + t.terminator * rng.normal()),
    )
    # Damp and age: all pairs together, and so much that lengths do not count.
    better = math.exp(t.leak * rng.normal())
    return _Truth(faults, edit, weight, Variation(fitted, scale), better, rng)


def _drawn_fault(
    hypotheses: tuple[Hypothesis, ...], rng: np.random.Generator
) -> tuple[Fault, MakeEdit]:
    """Return a fault by its prior, built one of its ways, with ohms evenly over the logarithm."""
    priors = np.exp([hypothesis.log_prior for hypothesis in hypotheses])
    chosen = hypotheses[int(rng.choice(len(hypotheses), p=priors / priors.sum()))]
    way = chosen.ways[int(rng.choice(len(chosen.ways), p=[way.weight for way in chosen.ways]))]
    if chosen.ohms is None:
        return chosen.faults[0], way.edit()
    r_ohm = math.exp(rng.uniform(*np.log(chosen.ohms)))
    return replace(chosen.faults[0], r_ohm=r_ohm), way.edit(r_ohm)


def _true_readings(
    family: Family, rulebook: Rulebook, drawn: Drawn, really: Sequence[_Truth]
) -> tuple[Floats, Floats]:
    """Return what a perfect meter reads on a circuit as it really is, sound and with each edit.

    Both of shape (n, r).
    """
    spots = drawn.spots
    bench = Bench(drawn.circuit, rulebook.procedures, family.terminators, spots)
    variations = [one.variation for one in really]
    edits = [no_edit for _ in really] + [one.edit for one in really]
    sound, true = np.split(bench.read_varied(edits, 2 * variations), 2)
    insulation = np.array([rulebook.procedures[s.test].quantity == "insulation" for s in spots])
    better = np.array([[one.better] for one in really])
    with np.errstate(divide="ignore", invalid="ignore"):
        bridged = 1 / true - 1 / sound  # a bridge beside the pairs stays what it is
        drier = 1 / (bridged + 1 / (sound * better))
    true = np.where(insulation & np.isfinite(drier) & (drier > 0), drier, true)
    return sound, true


def _as_read(
    family: Family,
    rulebook: Rulebook,
    spots: tuple[Spot, ...],
    meter: Meter,
    true: Floats,
    rng: np.random.Generator,
) -> tuple[Reading, ...]:
    """Return readings with the instrument's errors, to the last digit a person writes down."""
    t = rulebook.tolerances
    sizes = t.stated_scatter if meter.stated else t.scatter
    scatter = float(rng.choice(sizes))
    leads = t.leads * rng.normal()
    gains = {quantity: t.gain * rng.normal() for quantity in dict.fromkeys(meter.quantity)}
    low, high = np.log(meter.top_low), np.log(meter.top_high)
    tops = np.exp(low + (high - low) * rng.random())  # one instrument: one place in every range
    found = []
    for index, spot in enumerate(spots):
        value, noise = float(true[index]), rng.normal()
        accuracy = family.instrument.accuracy(meter.quantity[index])
        if value > tops[index]:
            found.append(Reading(spot, Amount(math.inf, "open"), 0.0))
            continue
        shown = value * (1 + gains[meter.quantity[index]] * accuracy.share)
        shown += leads if meter.quantity[index] == "resistance" else 0.0
        shown += scatter * (accuracy.share * value + accuracy.fixed) * noise
        found.append(Reading(spot, Amount(max(0.0, round(shown, 2)), "="), _DIGIT))
    return tuple(found)
