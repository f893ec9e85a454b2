"""What is left to read where nothing is wrong so far: faults no reading can have shown yet."""

from collections.abc import Iterator
from math import log2

from faultfinder.diagnosis.catalogue import no_edit
from faultfinder.diagnosis.offers import Row, rows_to_read
from faultfinder.diagnosis.result import NextCheck, Outcome, Risk
from faultfinder.diagnosis.risk import risk_of_reading
from faultfinder.diagnosis.walking import places, walking_minutes
from faultfinder.evidence.bench import Bench
from faultfinder.readings.case import Case
from faultfinder.readings.setting import USUAL_TERMINATORS
from faultfinder.rulebook.rulebook import Rulebook

_USUAL = "terminated"
_MOST = 4


def rest_to_read(case: Case, rulebook: Rulebook, sound: int) -> list[NextCheck]:
    """Return the rows that show most of the faults nothing has shown yet, for their minutes.

    ``sound`` is the rank of the sound circuit. Of the test in use only: a circuit is read through
    with one before it is read with another. A row shows the faults of its own point, and of the
    runs on the way there that no reading beyond them has shown to be right.
    """
    rows = [row for row in _rows(case, rulebook) if not _is_read(case, row)]
    walk = walking_minutes(case.circuit, rulebook.walking)
    index = {name: i for i, name in enumerate(places(case.circuit))}
    last = case.readings[-1].spot if case.readings else None
    here = index[last.at] if last else 0
    chances = _chances(case, rulebook)
    covered = {part for reading in case.readings for part in _parts(case, reading.spot.at)}
    found = []
    for row in rows:
        new = {part for part in _parts(case, row.at) if part not in covered}
        # The second position of a switch shows what is wrong with the switch.
        chance = sum(chances.get(part, 0.0) for part in new) or chances.get(row.at, 0.0) / 4
        there = index[row.at]
        is_set_up = last is not None and last.test == row.procedure.id
        minutes = row.minutes + float(
            walk[here, there] if is_set_up else walk[here, 0] + walk[0, there]
        )
        minutes += 0.0 if is_set_up else row.procedure.minutes.set_up
        bits = -chance * log2(chance) - (1 - chance) * log2(1 - chance) if 0 < chance < 1 else 0.0
        risk = risk_of_reading(is_set_up=is_set_up)
        found.append((round(-bits / minutes, 9), row, bits, minutes, risk))
    found.sort(key=lambda one: one[0])
    return [_check(case, rulebook, *one[1:], sound) for one in found[:_MOST]]


def _rows(case: Case, rulebook: Rulebook) -> list[Row]:
    """Return the rows left of the dead test that was read last, or the usual one."""
    used = [r.spot.test for r in case.readings if not rulebook.procedures[r.spot.test].is_live]
    test = used[-1] if used else _USUAL
    return [
        row
        for row in rows_to_read(case, rulebook)
        if row.procedure.id == test and case.circuit.point(row.at) is not None
    ]


def _is_read(case: Case, row: Row) -> bool:
    """Return whether a place was read in this position, if not in all pairs."""
    where = row.spots[0]
    return any((r.spot.at, r.spot.switch) == (where.at, where.switch) for r in case.readings)


def _parts(case: Case, at: str) -> Iterator[str]:
    """Yield the parts that a reading at a place is taken through."""
    if case.circuit.point(at) is not None:
        yield at
        yield from (run.name for run in case.circuit.path(at))


def _chances(case: Case, rulebook: Rulebook) -> dict[str, float]:
    """Return the chance of a fault at each place before anything is read."""
    circuit = case.circuit
    at = [*(point.name for point in circuit.points), *(run.name for run in circuit.runs)]
    modes = rulebook.modes.values()
    return {place: min(0.5, sum(mode.chance(circuit, place) for mode in modes)) for place in at}


def _check(
    case: Case,
    rulebook: Rulebook,
    row: Row,
    bits: float,
    minutes: float,
    risk: Risk,
    sound: int,
) -> NextCheck:
    spot = row.spots[0]
    fitted = case.terminators or USUAL_TERMINATORS
    bench = Bench(case.circuit, rulebook.procedures, fitted, (spot,), case.installation)
    value = float(bench.read([no_edit])[0, 0])
    return NextCheck(
        0,
        row.procedure.id,
        spot,
        row.procedure.unit,
        "not read yet; a fault there, or on the way there, would not have shown",
        (Outcome(1, value, (sound,)), Outcome(0, "anything else", ())),
        bits,
        round(minutes, 1),
        risk,
        row.procedure.steps,
        row.procedure.cautions,
        also=row.spots[1:],
    )
