"""``faultfinder cover --least``: the cheapest plans."""

import json
import sys
from typing import TYPE_CHECKING

import click

from faultfinder.cli.exits import UnavailableError, bad_option
from faultfinder.cli.terminal import coloured, columns

if TYPE_CHECKING:
    from faultfinder.coverage.lineup import Lineup
    from faultfinder.coverage.plan import Plan


def show_least(lineup: "Lineup", every: "Plan", false_alarm: float, form: str) -> None:
    """Find and show the cheapest plans among the readings of a plan; rounds are told on stderr."""
    from faultfinder.coverage.least import NoSolver, least_plans
    from faultfinder.reporting.least_views import least_json, least_text

    if form == "csv":
        raise bad_option("--format", "the least plans have no table", ["text or json"])

    def tell(number: int) -> None:
        if sys.stderr.isatty():
            click.echo(f"\rround {number + 1} ", err=True, nl=False)

    try:
        plans = least_plans(lineup, false_alarm, tell)
    except NoSolver as error:
        raise UnavailableError(error) from error
    procedures = lineup.bench.procedures
    if form == "json":
        click.echo(json.dumps(least_json(every, plans, procedures), ensure_ascii=False))
    else:
        click.echo(least_text(every, plans, procedures, columns(), coloured))
