"""``faultfinder rules``: check, list, show and begin rules, and export their schemas."""

import json
from dataclasses import asdict
from pathlib import Path

import click

from faultfinder.cli.exits import ExitCode, RefusedError, bad_option
from faultfinder.cli.own_rules import rules_option, shelf_for
from faultfinder.cli.terminal import coloured, columns

_FORMAT = click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="text for people, json for scripts.",
)
_NEW = ("fault", "sign", "test", "limit", "lesson")


@click.group()
def rules() -> None:
    """Check, list, show and begin rules: tests, fault modes, signs, limits.

    \b
    Example:  faultfinder rules new fault swollen-terminal --rules my-rules
              faultfinder rules check --rules my-rules
    """  # noqa: D301 - click wants the character itself


@rules.command()
@rules_option
@click.option("--signs", is_flag=True, help="Tell of each sign how often it fired, and for what.")
@_FORMAT
@click.pass_context
def check(context: click.Context, own: tuple[Path, ...], form: str, *, signs: bool) -> None:
    """Say what is wrong with the rules; exit code 1 if anything is.

    Every file is read, every name looked up, every example tried. Then every fault is put into a
    few small circuits, to see which signs its readings make fire. It takes some twenty seconds.

    \b
    Example:  faultfinder rules check --rules my-rules
    """  # noqa: D301 - click wants the character itself
    from faultfinder.authoring.check import check as checked
    from faultfinder.reporting.rules import findings_text, signs_text

    shelf = shelf_for(own)
    result = checked(shelf)
    if form == "json":
        told: dict[str, object] = {"findings": [asdict(one) for one in result.findings]}
        if signs:
            told["signs"] = {
                sign: {"mode": record.mode, "fired": dict(record.fired), "right": record.right}
                for sign, record in result.signs.items()
            }
        click.echo(json.dumps(told, ensure_ascii=False))
    else:
        if signs and result.signs:
            click.echo(signs_text(result.signs, columns(), coloured) + "\n")
        click.echo(findings_text(result.findings, len(shelf.files), columns(), coloured))
    context.exit(ExitCode.FOUND if result.findings else ExitCode.FINE)


@rules.command("list")
@rules_option
@_FORMAT
def list_(own: tuple[Path, ...], form: str) -> None:
    """List the rules, and where those come from that are not the program's own.

    \b
    Example:  faultfinder rules list --rules my-rules
    """  # noqa: D301 - click wants the character itself
    from faultfinder.authoring.listing import rules_on
    from faultfinder.reporting.rules import list_text

    found = list(rules_on(shelf_for(own)))
    if form == "json":
        click.echo("\n".join(json.dumps(asdict(rule), ensure_ascii=False) for rule in found))
    else:
        click.echo(list_text(found, columns(), coloured))


@rules.command()
@click.argument("rule", metavar="RULE")
@rules_option
def show(rule: str, own: tuple[Path, ...]) -> None:
    """Show a rule as written, and where it comes from.

    RULE is its id, or its folder and id where several kinds have one of that id; of a sign, the
    file that holds it is shown.

    \b
    Example:  faultfinder rules show faults/open
    """  # noqa: D301 - click wants the character itself
    from faultfinder.authoring.listing import UnknownRule, named, text_of
    from faultfinder.reporting.rules import rule_text
    from faultfinder.source.problem import BadInput

    try:
        found = named(shelf_for(own), rule)
        shown = [rule_text(one, text_of(one), columns(), coloured) for one in found]
    except UnknownRule as unknown:
        near = [unknown.near] if unknown.near else ["a name that rules list has"]
        raise bad_option("RULE", f'no rule "{rule}"', near, unknown.near) from unknown
    except BadInput as bad:
        raise RefusedError(bad) from bad
    click.echo("\n\n".join(shown))
