"""``faultfinder rules``: check, list, show and begin rules, and export their schemas."""

import json
from dataclasses import asdict
from pathlib import Path

import click

from faultfinder.cli.exits import ExitCode, RefusedError, UnavailableError
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


class UnknownRuleError(click.BadParameter):
    """No rule has the name that was asked for."""

    def __init__(self, rule: str, near: str) -> None:
        meant = f"\n  try       {near}" if near else ""
        found = f'no rule "{rule}"\n  expected  a name that faultfinder rules list has{meant}'
        super().__init__(found, param_hint="RULE")


@click.group()
def rules() -> None:
    """Check, list, show and begin rules: tests, fault modes, signs, limits.

    \b
    Example:  faultfinder rules new fault swollen-terminal --into my-rules
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
    few small circuits, to see which signs its readings make fire, and every lesson is solved. It
    takes some twenty seconds.

    \b
    Example:  faultfinder rules check --rules my-rules
    """  # noqa: D301 - click wants the character itself
    from faultfinder.authoring.check import check as checked
    from faultfinder.engine import EngineUnavailable
    from faultfinder.reporting.rules import findings_text, signs_text

    shelf = shelf_for(own)
    try:
        result = checked(shelf)
    except EngineUnavailable as error:
        raise UnavailableError(error) from error
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
        raise UnknownRuleError(rule, unknown.near) from unknown
    except BadInput as bad:
        raise RefusedError(bad) from bad
    click.echo("\n\n".join(shown))


@rules.command()
@click.argument("kind", type=click.Choice(_NEW))
@click.argument("id_", metavar="ID")
@click.option(
    "--into",
    "folder",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("my-rules"),
    show_default=True,
    help="The folder of rules to write it into.",
)
def new(kind: str, id_: str, folder: Path) -> None:
    """Begin a rule: a whole, commented file with an example that passes the check.

    \b
    Example:  faultfinder rules new fault swollen-terminal --into my-rules
              faultfinder rules check --rules my-rules
    """  # noqa: D301 - click wants the character itself
    from faultfinder.authoring.scaffold import begin
    from faultfinder.source.problem import BadInput

    try:
        path = begin(kind, id_, folder)
    except BadInput as bad:
        raise RefusedError(bad) from bad
    except OSError as error:
        raise RefusedError(OSError(f"{folder}: {error.strerror or error}")) from error
    click.echo(f"{path} written. Change it, then: faultfinder rules check --rules {folder}")


@rules.command()
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Write every schema into this folder.",
)
def schema(out: Path | None) -> None:
    """Export the JSON Schema of every kind of rule file, for editors.

    Without --out all of them are printed as one object, by kind. The first line of each rule file
    names its schema, where editors look for it.

    \b
    Example:  faultfinder rules schema --out schemas
    """  # noqa: D301 - click wants the character itself
    from faultfinder.authoring.schemas import files, kinds_and_schemas
    from faultfinder.source.atomic import write_text

    if out is None:
        click.echo(json.dumps(kinds_and_schemas(), ensure_ascii=False, indent=1))
        return
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, text in files():
            write_text(out / name, text)
    except OSError as error:
        raise RefusedError(OSError(f"{out}: {error.strerror or error}")) from error
    click.echo(f"{sum(1 for _ in files())} schemas written to {out}")


@rules.command()
def reference() -> None:
    """Print every key of every kind of rule file, as Markdown.

    \b
    Example:  faultfinder rules reference
    """  # noqa: D301 - click wants the character itself
    from faultfinder.authoring.reference import reference_page

    click.echo(reference_page(), nl=False)
