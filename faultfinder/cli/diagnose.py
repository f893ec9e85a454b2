"""``faultfinder diagnose``: judge the readings, rank the suspects, say what to do next."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from faultfinder.cli.exits import ExitCode, RefusedError, UnavailableError, failure, traced
from faultfinder.cli.options import format_option
from faultfinder.cli.own_rules import rulebook_for, rules_option
from faultfinder.cli.terminal import coloured, columns
from faultfinder.source.problem import BadInput, Position, Problem

if TYPE_CHECKING:
    from faultfinder.reporting.as_json import Json
    from faultfinder.rulebook.rulebook import Rulebook
    from faultfinder.wiring.circuit import Circuit
    from faultfinder.wiring.fault import Fault


@click.command()
@click.argument(
    "cases", metavar="CASE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@format_option("CASE")
@click.option("--readings", is_flag=True, help="List every reading, not only those that are off.")
@click.option(
    "--why",
    "asked",
    multiple=True,
    metavar="FAULT",
    help='Say why not this one: "open E at S3", or a set-up mistake by its id. Repeatable.',
)
@click.option("--trace", "traces", is_flag=True, help="Show which facts made which sign fire.")
@rules_option
@click.pass_context
def diagnose(
    context: click.Context,
    cases: tuple[Path, ...],
    form: str,
    asked: tuple[str, ...],
    own: tuple[Path, ...],
    *,
    readings: bool,
    traces: bool,
) -> None:
    """Say what the readings in each CASE file point to.

    The verdict comes first, then the likely fault and where, why, and what to do next. A CASE
    that cannot be answered is told, and the others are answered.

    \b
    Example:  faultfinder diagnose my-case.yaml
              faultfinder diagnose --format json cases/*/*.yaml
              faultfinder diagnose my-case.yaml --why "open A at S3..S4"
              faultfinder diagnose my-case.yaml --trace --rules my-rules
    """  # noqa: D301 - click wants the character itself
    # Late, so that --help and a usage error need not wait for them.
    from faultfinder.diagnosis.diagnose import diagnose as judge
    from faultfinder.diagnosis.pointing import fired
    from faultfinder.engine import BadSigns, EngineUnavailable
    from faultfinder.readings.file import load_case
    from faultfinder.reporting.as_json import diagnosis_json, error_json
    from faultfinder.reporting.as_text import diagnosis_text
    from faultfinder.reporting.trace import trace_json, trace_text

    rulebook = rulebook_for(own)
    known = rulebook.procedures, rulebook.modes, rulebook.set_ups
    worst = ExitCode.FINE
    for number, path in enumerate(cases):
        try:
            case = load_case(path, *known, shelf=rulebook.shelf)
            with _asked_of(path):
                faults = [_asked(text, case.circuit, rulebook) for text in asked]
                diagnosis = judge(case, rulebook, faults)
            met = fired(case.circuit, rulebook, diagnosis.readings) if traces else ()
            if form == "json":
                told = diagnosis_json(diagnosis) | ({"trace": trace_json(met)} if traces else {})
                answer = json.dumps(told, ensure_ascii=False)
            else:
                text = diagnosis_text(diagnosis, columns(), coloured, all_readings=readings)
                text += "\n" + trace_text(met, columns(), coloured) if traces else ""
                answer = ("\n" if number else "") + text
        # What is wrong with the rules or the engine is wrong for every case.
        except EngineUnavailable as error:
            raise UnavailableError(error) from error
        except BadSigns as error:
            raise RefusedError(error) from error
        except BadInput as bad:
            worst = max(worst, ExitCode.BAD_INPUT)
            _tell(error_json(str(path), bad) if form == "json" else str(bad))
        except Exception as error:
            if traced():
                raise
            worst = ExitCode.FAILED
            said = failure(error, path)
            problem = Problem(Position(str(path), 0, 0), "program-failed", said.splitlines()[0])
            _tell(error_json(str(path), BadInput([problem])) if form == "json" else said)
        else:
            worst = max(worst, ExitCode.FOUND) if diagnosis.anything_wrong else worst
            click.echo(answer)
    context.exit(worst)


@contextmanager
def _asked_of(path: Path) -> Iterator[None]:
    """Turn what is wrong with a fault that was asked about into bad input of the case."""
    from faultfinder.diagnosis.foretell import ImpossibleFault
    from faultfinder.wiring.fault import FaultSyntaxError

    try:
        yield
    except (FaultSyntaxError, ImpossibleFault) as error:
        near = getattr(error, "nearest", "")
        found = f"--why {error.found}"
        problem = Problem(Position(str(path), 0, 0), "not-a-fault", found, error.expected, near)
        raise BadInput([problem]) from error


def _asked(text: str, circuit: "Circuit", rulebook: "Rulebook") -> "Fault":
    """Read a fault or a set-up mistake; its ohms are left out, it gets those that suit it best."""
    from faultfinder.source.problem import listed, shown
    from faultfinder.source.spelling import nearest
    from faultfinder.wiring.fault import FaultSyntaxError, parse_fault

    fault, _ = parse_fault(text, circuit, rulebook.set_ups)
    if not fault.set_up and fault.mode not in rulebook.modes:
        known = [*rulebook.modes, *rulebook.set_ups]
        near = nearest(fault.mode, known)
        expected = "a fault mode or a mistake in the test" if near else listed(known)
        raise FaultSyntaxError(f"unknown fault {shown(fault.mode)}", expected, near)
    return fault


def _tell(error: "Json | str") -> None:
    """Print what kept a case from being answered: an object where answers go, words beside them."""
    if isinstance(error, str):
        click.echo(error, err=True)
    else:
        click.echo(json.dumps(error, ensure_ascii=False))
