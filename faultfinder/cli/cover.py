"""``faultfinder cover``: what a plan of tests can find, before anything is read."""

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from faultfinder.cli.exits import RefusedError, bad_option, is_given
from faultfinder.cli.least import show_least
from faultfinder.cli.own_rules import rulebook_for, rules_option
from faultfinder.cli.pictures import draw
from faultfinder.cli.study import Asked, study, study_options
from faultfinder.cli.terminal import coloured, columns
from faultfinder.source.problem import BadInput

if TYPE_CHECKING:
    from faultfinder.coverage.lineup import Lineup
    from faultfinder.coverage.plan import Plan
    from faultfinder.coverage.result import Coverage
    from faultfinder.readings.setting import Setting
    from faultfinder.rulebook.rulebook import Rulebook


@click.command()
@click.argument("circuit", metavar="CIRCUIT", type=click.Path(path_type=Path))
@click.option(
    "--plan",
    "plan_file",
    metavar="PLAN",
    type=click.Path(path_type=Path),
    help="What is to be read, and where: a file, or the name of a plan that comes with the "
    "program.  [default: terminated, at every outlet]",
)
@click.option(
    "--test",
    "tests",
    multiple=True,
    metavar="ID",
    help="Instead of a plan: this test wherever it is read. Repeatable.",
)
@click.option("--circuit", "name", metavar="NAME", help="Which circuit of an installation file.")
@rules_option
@click.option(
    "--false-alarm",
    type=click.FloatRange(0, 0.5, min_open=True),
    default=0.01,
    show_default=True,
    help="Chance that a sound circuit may be called faulty.",
)
@click.option(
    "--model-only",
    is_flag=True,
    help="Judge by the model, as a diagnosis does.  [default]",
)
@click.option(
    "--rules-only",
    is_flag=True,
    help="Judge by the signs alone, to see what no sign points to. Slow: for small circuits.",
)
@click.option(
    "--least",
    is_flag=True,
    help="Instead: the cheapest plan that shows all that these tests can, and the cheapest that "
    "also places it. Without --plan or --test, of all dead tests.",
)
@study_options
@click.option(
    "--picture",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also draw places by fault modes, as SVG.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "csv"]),
    default="text",
    show_default=True,
    help="text for people, json for scripts, csv with a row a fault.",
)
def cover(
    *,
    circuit: Path,
    plan_file: Path | None,
    tests: tuple[str, ...],
    name: str | None,
    own: tuple[Path, ...],
    false_alarm: float,
    model_only: bool,
    rules_only: bool,
    least: bool,
    asked: Asked | None,
    picture: Path | None,
    form: str,
) -> None:
    """Say which faults of CIRCUIT a plan of tests would show, and to how few places.

    CIRCUIT is a circuit file, a case file, whose terminators and instrument are taken, or an
    installation file. Every fault the rules know is tried at every place, over all its ohms.

    \b
    Example:  faultfinder cover my-hall.yaml
              faultfinder cover my-hall.yaml --test insulation --test linked-out
              faultfinder cover my-hall.yaml --plan polarity
              faultfinder cover my-hall.yaml --plan a-plan.yaml --picture a.svg
              faultfinder cover my-family.yaml --study 1000
    """  # noqa: D301 - click wants the character itself
    # Late, so that --help and a usage error need not wait for them.
    from faultfinder.readings.setting import UnknownCircuit, load_setting

    given = (("--model-only", model_only), ("--rules-only", rules_only), ("--least", least))
    several = [option for option, is_flagged in given if is_flagged]
    if asked is not None and (plan_file or tests or name or rules_only or least):
        found = "a study has the tests and circuits of its family's file"
        raise bad_option(
            "--study", found, ["no --plan, --test, --circuit, --rules-only or --least"]
        )
    if asked is not None and is_given("false_alarm"):
        raise bad_option("--false-alarm", "a study counts false alarms", ["--study without it"])
    if len(several) > 1:
        raise bad_option(several[-1], " and ".join(several), ["one of them"])
    if least and picture is not None:
        raise bad_option("--picture", "the least plans have no picture", ["--least without it"])
    if plan_file and tests:
        raise bad_option("--test", "a plan and tests", ["--plan or --test, not both"])
    try:
        rulebook = rulebook_for(own)
        if asked is not None:
            study(circuit, rulebook, asked, picture, form)
            return
        known = rulebook.procedures, rulebook.modes, rulebook.set_ups
        setting = load_setting(circuit, *known, name or "", rulebook.shelf)
        rulebook = rulebook.in_words(setting.circuit.region.words)
        if least and not (plan_file or tests):
            tests = _dead_tests(setting, rulebook)
        plan = _plan(plan_file, tests, setting, rulebook)
    except UnknownCircuit as unknown:
        found = f'no circuit "{unknown.name}"' if unknown.name else "which circuit is meant?"
        choices = unknown.names or ["no --circuit, since this is no installation file"]
        near = unknown.name if unknown.names else ""
        raise bad_option("--circuit", found, choices, near) from unknown
    except BadInput as bad:
        raise RefusedError(bad) from bad
    if least:
        show_least(_line_up(setting, plan, rulebook), plan, false_alarm, form)
        return
    by = "rules" if rules_only else "model"
    coverage = _covered(setting, plan, rulebook, false_alarm, by)
    _show(coverage, rulebook, picture, form)


def _plan(
    file: Path | None, tests: tuple[str, ...], setting: "Setting", rulebook: "Rulebook"
) -> "Plan":
    """Return the plan of a file, or of tests wherever they are read."""
    from faultfinder.coverage.plan import USUAL_TEST, load_plan, plan_of

    procedures, has_supply = rulebook.procedures, setting.installation is not None
    if file is not None:
        kept = rulebook.shelf.path(f"plans/{file}")
        if not file.exists() and kept.is_file():
            file = kept
        elif not file.exists() and not file.suffix and len(file.parts) == 1:
            found = f'neither a file nor a plan of the program\'s: "{file}"'
            raise bad_option("--plan", found, rulebook.shelf.ids("plans"), str(file))
        return load_plan(file, setting.circuit, procedures, has_supply=has_supply)
    for test in tests:
        if test not in procedures:
            raise bad_option("--test", f'unknown test "{test}"', procedures, test)
        if procedures[test].is_live and not has_supply:
            found = f"test {test} is live, and nothing is known of the supply"
            raise bad_option("--test", found, ["an installation file"])
    plan = plan_of(tests or (USUAL_TEST,), setting.circuit, procedures)
    if not plan.spots:
        found = f"{plan.title}: nothing to read on this circuit"
        raise bad_option("--test", found, ["a test that is read at some place of it"])
    return plan


def _dead_tests(setting: "Setting", rulebook: "Rulebook") -> tuple[str, ...]:
    """Return the dead tests that are usual on a circuit."""
    from faultfinder.evidence.limits import is_usual

    return tuple(
        test
        for test, procedure in rulebook.procedures.items()
        if not procedure.is_live and is_usual(procedure, setting.circuit, setting.installation)
    )


def _line_up(setting: "Setting", plan: "Plan", rulebook: "Rulebook") -> "Lineup":
    from faultfinder.coverage.lineup import line_up

    return line_up(
        setting.circuit,
        rulebook,
        plan.spots,
        setting.terminators,
        setting.instrument,
        setting.installation,
    )


def _covered(
    setting: "Setting", plan: "Plan", rulebook: "Rulebook", false_alarm: float, by: str
) -> "Coverage":
    from faultfinder.coverage.by_model import by_model
    from faultfinder.coverage.by_signs import by_signs

    lineup = _line_up(setting, plan, rulebook)
    if by == "rules":
        return by_signs(lineup, plan, rulebook)
    return by_model(lineup, plan, false_alarm)


def _show(coverage: "Coverage", rulebook: "Rulebook", picture: Path | None, form: str) -> None:
    from faultfinder.reporting.coverage_json import coverage_csv, coverage_json
    from faultfinder.reporting.coverage_text import coverage_text
    from faultfinder.reporting.heatmap import heatmap_svg

    if picture is not None:
        draw(picture, heatmap_svg(coverage))
    match form:
        case "json":
            click.echo(json.dumps(coverage_json(coverage), ensure_ascii=False))
        case "csv":
            click.echo(coverage_csv(coverage), nl=False)
        case _:
            click.echo(coverage_text(coverage, rulebook, columns(), coloured))
