"""Results as JSON objects; the field names are a contract with other people's scripts."""

from collections.abc import Sequence
from math import isfinite
from typing import Any

from faultfinder.diagnosis.result import Decisive, Diagnosis, NextCheck, RankedSuspect, Why
from faultfinder.diagnosis.terminators import Choice, Rated
from faultfinder.diagnosis.wording import way_in_words
from faultfinder.evidence.expectation import Expectation
from faultfinder.evidence.grading import GradedReading
from faultfinder.evidence.live import Tripping
from faultfinder.readings.reading import Spot
from faultfinder.source.problem import BadInput
from faultfinder.source.quantity import Amount
from faultfinder.wiring.fault import Fault

SCHEMA = 1

Json = dict[str, Any]


def diagnosis_json(diagnosis: Diagnosis) -> Json:
    """Return a diagnosis as one object."""
    return {
        "schema": SCHEMA,
        "case": diagnosis.case.name,
        "verdict": diagnosis.verdict,
        "readings": [_reading(reading) for reading in diagnosis.readings],
        "suspects": [_suspect(suspect) for suspect in diagnosis.suspects],
        "next_checks": [_check(check) for check in diagnosis.next_checks],
        "cautions": list(diagnosis.cautions),
        "not_read": list(diagnosis.not_read),
        "unseen": diagnosis.unseen,
        "repeat": [_reading(reading) for reading in diagnosis.repeat],
        "contrast": None
        if diagnosis.contrast is None
        else {
            "rival": diagnosis.contrast.rival,
            "readings": [_decisive(one) for one in diagnosis.contrast.readings],
        },
        "alike": diagnosis.alike,
        "why": [_why(one) for one in diagnosis.why],
    }


def error_json(case: str, bad: BadInput) -> Json:
    """Return the object that stands for a case that could not be read."""
    return {
        "schema": SCHEMA,
        "case": case,
        "error": [
            {
                "file": problem.position.file,
                "line": problem.position.line,
                "column": problem.position.column,
                "id": problem.id,
                "found": problem.found,
                "expected": problem.expected,
                "nearest": problem.nearest,
            }
            for problem in bad.problems
        ],
    }


def expectation_json(expected: Expectation, trippings: Sequence[Tripping] = ()) -> Json:
    """Return what one reading should be as one object.

    Of a residual current it also says which devices trip, and by which ways the current leaves;
    what comes back in has a minus.
    """
    trips: Json = {}
    if trippings:
        trips["devices"] = [_tripping(tripping) for tripping in trippings]
    return {
        **_spot(expected.spot),
        "expected": _value(expected.value),
        "low": _value(expected.low),
        "high": _value(expected.high),
        "unit": expected.unit,
        "limit": None if expected.limit is None else _rounded(expected.limit.value),
        **trips,
    }


def _tripping(tripping: Tripping) -> Json:
    return {
        "device": tripping.device,
        "rated_ma": tripping.rated_ma,
        "residual_ma": _rounded(tripping.residual_ma),
        "trips": tripping.trips,
        "ways": [
            {"by": way_in_words(way), "ma": _rounded(tripping.share_ma(way))}
            for way in tripping.ways
        ],
    }


def _spot(spot: Spot) -> Json:
    return {
        "test": spot.test,
        "at": spot.at,
        "switch": spot.switch or None,
        "between": spot.between,
    }


def _rounded(value: float) -> float:
    """Return a value with six figures: more than any instrument has."""
    return float(f"{value:.6g}")


def _value(value: float) -> float | str:
    return _rounded(value) if isfinite(value) else "open"


def _amount(amount: Amount) -> float | str:
    if amount.bound in "<>":
        return f"{amount.bound}{amount.value:g}"
    return amount.value if isfinite(amount.value) else "open"


def _reading(reading: GradedReading) -> Json:
    expected = reading.expected
    return {
        **_spot(reading.spot),
        "value": _amount(reading.reading.amount),
        "unit": expected.unit,
        "expected": _value(expected.value),
        "low": _value(expected.low),
        "high": _value(expected.high),
        "standing": reading.grade.replace("-", " "),
        "like": reading.like or None,
        "limit": None if expected.limit is None else _rounded(expected.limit.value),
        "within_limit": reading.within_limit,
    }


def fault_json(fault: Fault) -> Json:
    """Return a fault as one object."""
    return {
        "mode": fault.mode,
        "conductors": list(fault.conductors),
        "at": fault.at,
        "ohms": None if fault.r_ohm is None else _rounded(fault.r_ohm),
        **({"set_up": fault.set_up} if fault.set_up else {}),
    }


def _decisive(decisive: Decisive) -> Json:
    """Return a reading that decides; how far off the rival is in standard deviations, or open."""
    reading = decisive.reading
    return {
        **_spot(reading.spot),
        "value": _amount(reading.reading.amount),
        "unit": reading.expected.unit,
        "leader": _value(decisive.with_it),
        "rival": _value(decisive.with_rival),
        "rival_off_sd": _value(decisive.rival_off_sd),
    }


def _why(why: Why) -> Json:
    return {
        "asked": why.asked,
        "fault": fault_json(why.fault),
        "title": why.title,
        "standing": why.standing,
        "probability": why.probability,
        "prior": why.prior,
        "readings": [_decisive(one) for one in why.decisive],
        "nats_behind": _rounded(why.nats_behind),
        "check": None if why.check is None else _check(why.check),
    }


def _suspect(suspect: RankedSuspect) -> Json:
    return {
        "rank": suspect.rank,
        "group": suspect.group,
        "probability": suspect.probability,
        "faults": [fault_json(fault) for fault in suspect.faults],
        "ohms_90": [None if ends is None else list(map(_rounded, ends)) for ends in suspect.ohms],
        "title": suspect.title,
        "supported_by": list(suspect.supported_by),
        "spoken_against_by": list(suspect.spoken_against_by),
        "signs": list(suspect.signs),
        "reason": suspect.reason,
        "look_for": suspect.look_for,
        "remedy": suspect.remedy,
        "retest": list(suspect.retest),
        "cautions": list(suspect.cautions),
        "sunk_by": None if suspect.sunk_by is None else _decisive(suspect.sunk_by),
    }


def choice_json(choice: Choice) -> Json:
    """Return a choice of terminators as one object."""
    return {
        "schema": SCHEMA,
        "best": _rated(choice.best),
        "fitted": _rated(choice.fitted),
        "next_best": [_rated(one) for one in choice.next_best],
    }


def _rated(rated: Rated) -> Json:
    return {
        "active": rated.terminators.active_ohm,
        "neutral": rated.terminators.neutral_ohm,
        "told_apart": rated.told,
        "of": rated.of,
        "closest": list(rated.closest),
        "closest_sd": round(rated.closest_sd, 2),
        "closest_at": str(rated.where),
    }


def _check(check: NextCheck) -> Json:
    return {
        "rank": check.rank,
        "test": check.test,
        "at": check.spot.at,
        "switch": check.spot.switch or None,
        "between": check.spot.between or None,
        "why": check.why,
        "expects": [
            {
                "group": outcome.group,
                "suspects": list(outcome.suspects),
                "value": outcome.value if isinstance(outcome.value, str) else _value(outcome.value),
            }
            for outcome in check.outcomes
        ],
        "unit": check.unit or None,
        "information_bits": round(check.information_bits, 3),
        "minutes": check.minutes,
        "risk": check.risk,
        "steps": list(check.steps),
        "cautions": list(check.cautions),
        "parted": check.spot.parted or None,
        "also": [spot.between for spot in check.also],
    }
