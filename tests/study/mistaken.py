"""Readings taken or noted wrongly on sound circuits, and single readings that slipped.

What each mistake does is written here from its words, without the package's rules; the ids are
those that a diagnosis names it by.
"""

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from drawing import EXCHANGES, Arrangement, Circuit, Key
from resistances import Floats, readings
from simulator import (
    REDRAWS,
    Case,
    Settings,
    as_built,
    differs,
    make_case,
    observed,
    random_circuit,
)

LEADS_OHM = (0.05, 1.0)
LOAD_OHM = (10.0, 1500.0)
Label = tuple[str, tuple[str, ...], str]

ARRANGED = {
    ("terminator-missing", ("A",)): Arrangement(frozenset({"A"})),
    ("terminator-missing", ("N",)): Arrangement(frozenset({"N"})),
    ("link-out", ()): Arrangement(frozenset({"link"})),
    ("neutral-not-isolated", ()): Arrangement(neutral_on_bar=True),
    ("other-circuit", ("A",)): Arrangement(frozenset({"A"})),
    ("other-circuit", ("N",)): Arrangement(frozenset({"N"}), neutral_on_bar=True),
    ("other-circuit", ("A", "N")): Arrangement(frozenset({"A", "N"}), neutral_on_bar=True),
}
KINDS = (
    "terminators-exchanged",
    *dict.fromkeys(kind for kind, _ in ARRANGED),
    "leads-not-nulled",
    "load-left-connected",
    "switch-noted-wrong",
    "switches-noted-wrong",
    "rows-exchanged",
    "row-of-another-outlet",
    "columns-exchanged",
    "columns-exchanged-throughout",
    "drawn-in-wrong-order",
)
SLIPS = ("unit", "decimal place", "wrong outlet", "leads exchanged")


@dataclass(frozen=True, slots=True)
class Mistaken:
    """A case with a set-up mistake in it, and what a diagnosis has to say to be right."""

    case: Case
    label: Label


@dataclass(frozen=True, slots=True)
class Slipped:
    """A case with a reading that slipped: of which kind, and which readings it spoiled."""

    case: Case
    kind: str
    keys: tuple[Key, ...]


def mistaken(
    number: int, seed: int, settings: Settings, kinds: Sequence[str] = KINDS
) -> Iterator[Mistaken]:
    """Yield cases with a set-up mistake that the readings can show, the kinds in turn."""
    for i in range(number):
        rng = random.Random(f"{seed}/set-up/{i}")
        kind = kinds[i % len(kinds)]
        for _ in range(REDRAWS):
            made = _mistaken(f"set-up-{i:05d}", kind, rng, settings)
            if made is not None:
                yield made
                break
        else:
            raise ValueError(f"no {kind} shows in {REDRAWS} draws")


def _mistaken(name: str, kind: str, rng: random.Random, settings: Settings) -> Mistaken | None:
    """Return one case, or None where the mistake cannot be made or its readings cannot show it."""
    drawn = random_circuit(rng, settings)
    true = as_built(drawn, rng, settings)
    keys = drawn.keys()
    sound = readings(true, None, keys)
    conductors: tuple[str, ...] = ()
    at, exact = drawn.board, sound
    one, other = rng.sample(drawn.outlets, 2)
    if kind == "terminators-exchanged":
        active, neutral = true.terminators
        exact = readings(replace(true, terminators=(neutral, active)), None, keys)
    elif any(kind == arranged for arranged, _ in ARRANGED):
        conductors = rng.choice([c for arranged, c in ARRANGED if arranged == kind])
        exact = readings(true, None, keys, ARRANGED[kind, conductors])
    elif kind == "leads-not-nulled":
        exact = sound + _log_uniform(rng, LEADS_OHM)
    elif kind == "load-left-connected":
        at = one
        load = (at, _log_uniform(rng, LOAD_OHM))
        exact = readings(true, None, keys, Arrangement(load=load))
    elif kind == "drawn-in-wrong-order":
        at = _pair(drawn, one, other)
        exact = readings(_exchanged(true, one, other), None, keys)
    else:
        found = _noted_wrong(kind, rng, drawn, keys, one, other)
        if found is None:
            return None
        conductors, at, taken = found
        place = {key: i for i, key in enumerate(keys)}
        exact = sound[[place[taken.get(key, key)] for key in keys]]
    if not differs(exact, sound, settings).any():
        return None
    values = observed(exact, rng, settings)
    case = Case(name, drawn, None, keys, values, instrument=settings.instrument)
    return Mistaken(case, (kind, conductors, at))


def _noted_wrong(
    kind: str, rng: random.Random, drawn: Circuit, keys: tuple[Key, ...], one: str, other: str
) -> tuple[tuple[str, ...], str, dict[Key, Key]] | None:
    """Return conductors, place, and for each key noted wrongly the key it was really read at."""
    conductors: tuple[str, ...] = ()
    at = drawn.board
    turned = {"on": "off", "off": "on"}
    if kind == "switch-noted-wrong":
        if one not in drawn.switched:
            return None
        at = one
        taken = {k: (k[0], turned[k[1]], k[2]) for k in keys if k[0] == one}
    elif kind == "switches-noted-wrong":
        taken = {k: (k[0], turned[k[1]], k[2]) for k in keys if k[1]}
    elif kind in {"rows-exchanged", "row-of-another-outlet"}:
        if (one in drawn.switched) != (other in drawn.switched):
            return None
        swap = {one: other, other: one} if kind == "rows-exchanged" else {one: other}
        at = _pair(drawn, one, other) if kind == "rows-exchanged" else one
        taken = {k: (swap[k[0]], k[1], k[2]) for k in keys if k[0] in swap}
    else:
        conductors = rng.choice(EXCHANGES)
        at = one if kind == "columns-exchanged" else drawn.board
        name = dict(zip(conductors, (*conductors[1:], conductors[0]), strict=True))
        taken = {
            k: (k[0], k[1], _in_order(name.get(k[2][0], k[2][0]), name.get(k[2][1], k[2][1])))
            for k in keys
            if at in (drawn.board, k[0])
        }
    return conductors, at, taken


def _in_order(first: str, second: str) -> tuple[str, str]:
    return (first, second) if "ANE".index(first) < "ANE".index(second) else (second, first)


def _pair(drawn: Circuit, one: str, other: str) -> str:
    return ",".join(name for name in drawn.outlets if name in (one, other))


def _exchanged(circuit: Circuit, one: str, other: str) -> Circuit:
    """Return the circuit with each of two outlets where the other was."""
    new = {one: other, other: one}
    runs = tuple(
        replace(
            run,
            upstream=new.get(run.upstream, run.upstream),
            downstream=new.get(run.downstream, run.downstream),
        )
        for run in circuit.runs
    )
    return replace(circuit, runs=runs)


def _log_uniform(rng: random.Random, ends: tuple[float, float]) -> float:
    return math.exp(rng.uniform(*map(math.log, ends)))


def slipped(number: int, seed: int, settings: Settings) -> Iterator[Slipped]:
    """Yield cases, nine in ten with a fault, with one reading of each spoiled; kinds in turn."""
    for i in range(number):
        rng = random.Random(f"{seed}/slip/{i}")
        kind = SLIPS[i % len(SLIPS)]
        for _ in range(REDRAWS):
            case = make_case(f"slip-{i:05d}", rng, settings, faulty=rng.random() < 0.9)
            found = _slip(case, kind, rng, settings)
            if found is not None:
                values, keys = found
                yield Slipped(replace(case, values=values), kind, keys)
                break


def _slip(
    case: Case, kind: str, rng: random.Random, settings: Settings
) -> tuple[Floats, tuple[Key, ...]] | None:
    """Return values with a slip that can be seen, and the keys it spoiled; None if none was."""
    values = case.values.copy()
    numbers = [i for i, value in enumerate(values) if np.isfinite(value) and value > 0]
    if not numbers:
        return None
    i = rng.choice(numbers)
    outlet, switch, pair = case.keys[i]
    spoiled = [i]
    if kind == "unit":
        values[i] *= rng.choice((1e-3, 1e3))
    elif kind == "decimal place":
        values[i] *= rng.choice((0.1, 10.0))
    elif kind == "wrong outlet":
        there = [
            j for j, key in enumerate(case.keys) if key[0] != outlet and key[1:] == (switch, pair)
        ]
        if not there:
            return None
        values[i] = values[rng.choice(there)]
    else:
        row = [j for j, key in enumerate(case.keys) if key[:2] == (outlet, switch) and j != i]
        j = rng.choice(row)
        spoiled.append(j)
        values[i], values[j] = values[j], values[i]
    values = np.round(values, 2)
    if not differs(values, case.values, settings).any():
        return None
    return values, tuple(case.keys[j] for j in spoiled)
