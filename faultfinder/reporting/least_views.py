"""The cheapest plans, as text and as JSON."""

from collections.abc import Iterator, Mapping, Sequence

from faultfinder.coverage.least import LeastPlan
from faultfinder.coverage.plan import Plan
from faultfinder.reporting.as_json import SCHEMA, Json
from faultfinder.reporting.layout import Style, heading, paragraph
from faultfinder.rulebook.procedures import Procedure


def least_text(
    every: Plan,
    plans: Sequence[LeastPlan],
    procedures: Mapping[str, Procedure],
    width: int,
    style: Style,
) -> str:
    """Return each plan, test by test, with what it costs and whether that is proved least."""
    lines = paragraph(
        f"Every reading of {every.title} would take {every.minutes(procedures):g} minutes.", width
    )
    for least in plans:
        title = f"{least.plan.title}: {least.minutes:g} minutes"
        lines += ["", *heading(title[0].upper() + title[1:], width, style)]
        for test, places in _by_test(least.plan).items():
            lines += paragraph(f"{test} at {', '.join(places)}", width, "  - ")
        proof = (
            "No plan of these readings that does as much costs less: proved, HiGHS, gap 0"
            if least.is_proved
            else "The search was cut short: a cheaper plan may do as much"
        )
        lines += paragraph(f"{proof}, {least.conditions} conditions.", width)
    lines += [
        "",
        *paragraph(
            "Shown is what every reading together would show 99 times in 100 and the plan 9 times "
            "in 10; placed, what is left among no more places than every reading together leaves.",
            width,
        ),
        *paragraph("Dead tests: isolate, lock off and prove dead first.", width, "! "),
    ]
    return "\n".join(lines)


def _by_test(plan: Plan) -> dict[str, list[str]]:
    found: dict[str, dict[str, None]] = {}
    for spot in plan.spots:
        found.setdefault(spot.test, {})[spot.at] = None
    return {test: list(places) for test, places in found.items()}


def least_json(
    every: Plan, plans: Sequence[LeastPlan], procedures: Mapping[str, Procedure]
) -> Json:
    """Return the plans as one object."""
    return {
        "schema": SCHEMA,
        "every_minutes": every.minutes(procedures),
        "plans": list(_plans(plans)),
    }


def _plans(plans: Sequence[LeastPlan]) -> Iterator[Json]:
    for least in plans:
        yield {
            "title": least.plan.title,
            "minutes": least.minutes,
            "proved": least.is_proved,
            "conditions": least.conditions,
            "tests": [
                {"test": test, "at": places} for test, places in _by_test(least.plan).items()
            ],
        }
