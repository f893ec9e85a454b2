"""``faultfinder diagnose``: judge the readings, rank the suspects, say what to do next."""

import json
from pathlib import Path

import click

from faultfinder.cli.exits import BadInputError, ExitCode
from faultfinder.cli.terminal import coloured, columns
from faultfinder.source.problem import BadInput


@click.command()
@click.argument(
    "cases", metavar="CASE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="text for people, json for scripts: one object a line, one for each CASE.",
)
@click.option("--readings", is_flag=True, help="List every reading, not only those that are off.")
@click.pass_context
def diagnose(context: click.Context, cases: tuple[Path, ...], form: str, *, readings: bool) -> None:
    r"""Say what the readings in each CASE file point to.

    The verdict comes first, then the likely fault and where, why, and what to do next.

    \b
    Example:  faultfinder diagnose my-case.yaml
              faultfinder diagnose --format json cases/*/*.yaml
    """
    # Late, so that --help and a usage error need not wait for them.
    from faultfinder.diagnosis.diagnose import diagnose as judge
    from faultfinder.readings.file import load_case
    from faultfinder.reporting.as_json import diagnosis_json, error_json
    from faultfinder.reporting.as_text import diagnosis_text
    from faultfinder.rulebook.rulebook import shipped_rulebook

    rulebook = shipped_rulebook()
    worst = ExitCode.FINE
    for number, path in enumerate(cases):
        try:
            diagnosis = judge(load_case(path, rulebook.procedures, rulebook.modes), rulebook)
        except BadInput as bad:
            worst = ExitCode.BAD_INPUT
            if form == "json":
                click.echo(json.dumps(error_json(str(path), bad), ensure_ascii=False))
            else:
                BadInputError(bad).show()
            continue
        if diagnosis.anything_wrong:
            worst = max(worst, ExitCode.FOUND)
        if form == "json":
            click.echo(json.dumps(diagnosis_json(diagnosis), ensure_ascii=False))
        else:
            text = diagnosis_text(diagnosis, columns(), coloured, all_readings=readings)
            click.echo(("\n" if number else "") + text)
    context.exit(worst)
