"""Three diagnosers to beat: always sound, random, and a fixed checklist.

``random`` names as many suspects as the diagnoser it is compared with, drawn from all faults of
the circuit and the sound circuit; its score is the chance of a hit, without drawing. The checklist
is what a hurried person does: walk from the board, stop at the first outlet that is off, and blame
the cable that feeds it or what is behind its plate by the look of the readings there.
"""

import numpy as np
from drawing import CONDUCTORS, PAIRS, Circuit, Fault
from resistances import Floats, readings
from simulator import Case, Settings, differs

NAMES = ("always sound", "random", "checklist")


def hits(case: Case, settings: Settings, group_size: int) -> tuple[float, float, float]:
    """Return the score of the three on a case: 1 for the truth named, 0 for not."""
    faults = len(settings.faults_of(case.circuit)) + 1
    named = checklist(case, settings)
    truth = case.fault.label if case.fault else None
    return (
        float(case.fault is None),
        min(1.0, group_size / faults),
        float((named.label if named else None) == truth),
    )


def checklist(case: Case, settings: Settings) -> Fault | None:
    """Return the fault that the checklist ends at; None for a sound circuit."""
    sound = readings(case.circuit, None, case.keys)
    wrong = differs(case.values, sound, settings)
    for outlet in case.circuit.outlets:
        here = [i for i, key in enumerate(case.keys) if key[0] == outlet and wrong[i]]
        if here:
            return _blamed(case, outlet, here, sound)
    return None


def _blamed(case: Case, outlet: str, here: list[int], sound: Floats) -> Fault:
    on = {case.keys[i][2]: case.values[i] for i in here if case.keys[i][1] != "off"}
    run = _feeding(case.circuit, outlet)
    if not on:  # only the readings with the switch off
        return Fault("switch-stuck-on", (), outlet)
    lost = [pair for pair, value in on.items() if np.isinf(value)]
    shared = [c for c in CONDUCTORS if all(c in pair for pair in on)]
    if len(lost) == len(on) == len(PAIRS):
        return Fault("switch-stuck-off", (), outlet)
    if lost:
        return Fault(
            "open", (next((c for c in CONDUCTORS if all(c in p for p in lost)), "A"),), run
        )
    place = {key: i for i, key in enumerate(case.keys)}
    switch = case.keys[here[0]][1]
    known = {pair: (outlet, switch, pair) for pair in on}
    expected = {pair: sound[place[key]] for pair, key in known.items() if key in place}
    lowest = min(on, key=lambda pair: on[pair])
    if on[lowest] < 0.5 * expected.get(lowest, np.inf) and on[lowest] < 3:
        return Fault("bridged", lowest, outlet)
    if shared and all(value > expected.get(pair, 0.0) for pair, value in on.items()):
        return Fault("high-resistance", (shared[0],), run)
    fixed = [c for c in CONDUCTORS if c not in shared]
    return Fault("transposed", tuple(fixed[:2]) if len(fixed) > 1 else ("A", "N"), outlet)


def _feeding(circuit: Circuit, outlet: str) -> str:
    return next(run.name for run in circuit.runs if run.downstream == outlet)
