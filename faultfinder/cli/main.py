"""The command ``faultfinder`` and what all its commands share."""

import gc
import sys
from collections.abc import Sequence

import click

from faultfinder import __version__
from faultfinder.cli.cover import cover
from faultfinder.cli.diagnose import diagnose
from faultfinder.cli.exits import ExitCode, failure, traced
from faultfinder.cli.expect import expect
from faultfinder.cli.guide import guide
from faultfinder.cli.rules import rules


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.version_option(__version__, prog_name="faultfinder")
def faultfinder() -> None:
    """Find what is wrong on a final subcircuit from the readings taken.

    Dead tests first: isolate, lock off, tag, and prove dead before a conductor is touched. Local
    rules and licensed practice come before anything printed here.

    \b
    Example:  faultfinder diagnose cases/demo.yaml
    Exit codes: 0 nothing wrong found, 1 a fault or a reading outside its limit,
                2 bad input or usage, 3 faultfinder itself failed.
    """  # noqa: D301 - click wants the character itself


faultfinder.add_command(cover)
faultfinder.add_command(diagnose)
faultfinder.add_command(expect)
faultfinder.add_command(guide)
faultfinder.add_command(rules)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit; the program's own failure is one sentence and exit code 3."""
    # What is imported stays to the end: to go through it at every collection of garbage would take
    # about a tenth of the time of a diagnosis.
    gc.freeze()
    try:
        code = faultfinder.main(args=arguments, prog_name="faultfinder", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        code = error.exit_code
    except click.Abort:
        code = ExitCode.BAD_INPUT
    except Exception as error:
        if traced():
            raise
        click.echo(failure(error), err=True)
        code = ExitCode.FAILED
    sys.exit(code)
