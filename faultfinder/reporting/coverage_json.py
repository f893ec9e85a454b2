"""What a plan of tests can find, for other people's scripts: one JSON object, or a CSV table."""

import csv
import io

from faultfinder.coverage.result import AmbiguityGroup, Coverage, FaultCover
from faultfinder.reporting.as_json import SCHEMA, Json, fault_json
from faultfinder.reporting.coverage_gaps import why_unseen


def coverage_json(coverage: Coverage) -> Json:
    """Return a coverage as one object; shares are by prior.

    ``isolated`` is of what is detected, ``isolated_of_all`` of all faults. ``attainable`` is what
    no test of the same readings can exceed, null by the signs alone.
    """
    plan = coverage.plan
    return {
        "schema": SCHEMA,
        "board": coverage.circuit.board,
        "plan": {
            "title": plan.title,
            "tests": list(plan.tests),
            "readings": len(plan.spots),
            "minutes": coverage.minutes,
        },
        "by": coverage.by,
        "false_alarm": coverage.false_alarm,
        "detected": coverage.detected,
        "attainable": coverage.attainable,
        "detected_without_ohms": coverage.detected_without_ohms,
        "detected_by_mode": {mode: coverage.detected_of(mode) for mode in coverage.modes},
        "isolated": {str(most): share for most, share in coverage.isolated.items()},
        "isolated_of_all": {str(most): share for most, share in coverage.isolated_of_all.items()},
        "isolated_to_open": {str(most): share for most, share in coverage.isolated_to_open.items()},
        "groups": [_group(group) for group in coverage.groups],
        "faults": [_fault(one, coverage.by) for one in coverage.faults],
    }


def _group(group: AmbiguityGroup) -> Json:
    return {
        "faults": [fault_json(fault) for fault in group.faults],
        "places": list(group.places),
        "prior": group.prior,
        "same": group.same,
    }


def _fault(one: FaultCover, by: str) -> Json:
    return {
        "fault": fault_json(one.fault),
        "prior": one.prior,
        "detected": one.detected,
        "isolated": {str(most): share for most, share in enumerate(one.isolated, start=1)},
        "places": one.places,
        "ohms": list(one.ohms) if one.ohms else None,
        "seen_ohms": [list(ends) for ends in one.seen],
        "why_unseen": why_unseen(one, by) if one.detected < 1 else None,
    }


_COLUMNS = (
    "mode",
    "conductors",
    "at",
    "to",
    "prior",
    "detected",
    "isolated_1",
    "isolated_2",
    "isolated_3",
    "places",
    "seen_from_ohm",
    "seen_to_ohm",
)


def coverage_csv(coverage: Coverage) -> str:
    """Return a table with a row a fault; where several ranges of ohms are seen, the outer ends."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(_COLUMNS)
    for one in coverage.faults:
        fault = one.fault
        ends = (one.seen[0][0], one.seen[-1][1]) if one.seen else ("", "")
        table.writerow(
            [
                fault.mode,
                "-".join(fault.conductors),
                fault.at,
                fault.to,
                f"{one.prior:.6g}",
                f"{one.detected:.4f}",
                *(f"{value:.4f}" for value in one.isolated),
                one.places,
                *(f"{end:.4g}" if end != "" else "" for end in ends),
            ]
        )
    return out.getvalue()
