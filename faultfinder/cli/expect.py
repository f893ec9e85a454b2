"""``faultfinder expect``: what each test should read, sound or with a fault."""

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from faultfinder.cli.exits import RefusedError, bad_option
from faultfinder.cli.options import format_option
from faultfinder.cli.own_rules import rulebook_for, rules_option
from faultfinder.cli.terminal import coloured, columns
from faultfinder.source.problem import BadInput

if TYPE_CHECKING:
    from collections.abc import Mapping

    from faultfinder.readings.reading import Terminators
    from faultfinder.readings.setting import Setting
    from faultfinder.rulebook.modes import FaultMode
    from faultfinder.rulebook.rulebook import Rulebook
    from faultfinder.wiring.circuit import Circuit
    from faultfinder.wiring.fault import Fault


@click.command()
@click.argument("circuit", metavar="CIRCUIT", type=click.Path(path_type=Path))
@click.option(
    "--fault",
    "faults",
    multiple=True,
    metavar="FAULT",
    help='A fault as it is said: "open E at S3..S4", "bridged A-E at S2 0.1 ohm". Repeatable.',
)
@click.option(
    "--test",
    "tests",
    multiple=True,
    metavar="ID",
    help="Only this test, such as terminated, insulation or loop. Repeatable.",
)
@click.option(
    "--terminators",
    metavar="A,N",
    help="Resistors at the board, ohm: active, then neutral.  [default: the case's, or 10,5]",
)
@click.option(
    "--choose-terminators",
    "choose",
    is_flag=True,
    help="Find the two resistors that keep faults furthest apart, and print those instead.",
)
@click.option("--circuit", "name", metavar="NAME", help="Which circuit of an installation file.")
@rules_option
@format_option("reading")
def expect(
    circuit: Path,
    faults: tuple[str, ...],
    tests: tuple[str, ...],
    terminators: str | None,
    name: str | None,
    own: tuple[Path, ...],
    form: str,
    *,
    choose: bool,
) -> None:
    """Say what each test should read at each point of CIRCUIT.

    CIRCUIT is a circuit file, a case file with or without readings, or an installation file, whose
    supply the live tests need. With --fault the readings are those of the circuit with the fault
    in it.

    \b
    Example:  faultfinder expect my-case.yaml --test terminated
              faultfinder expect my-case.yaml --fault "transposed A-N at S5"
              faultfinder expect my-hall.yaml --circuit kitchen --test loop
              faultfinder expect my-case.yaml --choose-terminators
    """  # noqa: D301 - click wants the character itself
    # Late, so that --help and a usage error need not wait for them.
    from faultfinder.diagnosis.foretell import ImpossibleFault, foretell
    from faultfinder.evidence.limits import is_usual
    from faultfinder.readings.setting import UnknownCircuit, load_setting
    from faultfinder.reporting.as_json import expectation_json
    from faultfinder.reporting.expectations import expectations_text

    rulebook = rulebook_for(own)
    try:
        known = rulebook.procedures, rulebook.modes, rulebook.set_ups
        setting = load_setting(circuit, *known, name or "", rulebook.shelf)
        wanted = tests or tuple(
            test
            for test, procedure in rulebook.procedures.items()
            if (setting.installation is not None or not procedure.is_live)
            and is_usual(procedure, setting.circuit, setting.installation)
        )
        for test in wanted:
            if test not in rulebook.procedures:
                raise bad_option("--test", f'unknown test "{test}"', rulebook.procedures, test)
            if test in tests and rulebook.procedures[test].for_rings_only:
                _must_be_ring(setting.circuit, test)
            if rulebook.procedures[test].is_live and setting.installation is None:
                found = f"test {test} is live, and nothing is known of the supply"
                raise bad_option("--test", found, ["an installation file"])
        if choose:
            _print_choice(setting, rulebook, form, terminators)
            return
        fitted = setting.terminators if terminators is None else _terminators(terminators)
        said = [_fault(text, setting.circuit, rulebook.modes) for text in faults]
        foretold = foretell(
            setting.circuit,
            rulebook,
            wanted,
            fitted,
            setting.instrument,
            said,
            setting.installation,
        )
    except UnknownCircuit as unknown:
        found = f'no circuit "{unknown.name}"' if unknown.name else "which circuit is meant?"
        choices = unknown.names or ["no --circuit, since this is no installation file"]
        near = unknown.name if unknown.names else ""
        raise bad_option("--circuit", found, choices, near) from unknown
    except BadInput as bad:
        raise RefusedError(bad) from bad
    except ImpossibleFault as error:
        raise bad_option("--fault", error.found, [error.expected]) from error
    if form == "json":
        for expectation in foretold.readings:
            here = [t for t in foretold.trippings if t.spot == expectation.spot]
            one = expectation_json(expectation, here)
            click.echo(json.dumps(one, ensure_ascii=False))
    else:
        click.echo(
            expectations_text(
                setting.circuit, fitted, said, foretold, rulebook, columns(), coloured
            )
        )


def _print_choice(
    setting: "Setting", rulebook: "Rulebook", form: str, terminators: str | None
) -> None:
    """Print which resistors to fit, and why those."""
    from faultfinder.diagnosis.terminators import choose_terminators
    from faultfinder.reporting.as_json import choice_json
    from faultfinder.reporting.terminators import choice_text

    if terminators is not None:
        setting = replace(setting, terminators=_terminators(terminators))
    choice = choose_terminators(setting, rulebook)
    if form == "json":
        click.echo(json.dumps(choice_json(choice), ensure_ascii=False))
    else:
        click.echo(choice_text(choice, setting.circuit.region.words, columns(), coloured))


def _must_be_ring(circuit: "Circuit", test: str) -> None:
    if not circuit.is_ring:
        found = f"test {test} is for rings, and the circuit is drawn radial"
        raise bad_option("--test", found, ["kind: ring in the circuit, or another test"])


def _terminators(text: str) -> "Terminators":
    """Read two resistors written with a comma between them."""
    from faultfinder.readings.reading import Terminators

    parts = text.split(",")
    if len(parts) != len(("active", "neutral")):
        raise bad_option("--terminators", f'"{text}" is not two resistors', ["two, such as 10,5"])
    active, neutral = (_ohms(part, "--terminators") for part in parts)
    if not (active and neutral):
        raise bad_option("--terminators", f'"{text}" is no pair of resistors', ["ohms above zero"])
    return Terminators(active, neutral)


def _fault(text: str, circuit: "Circuit", modes: "Mapping[str, FaultMode]") -> "Fault":
    """Read a fault as it is said, its ohms included."""
    from faultfinder.wiring.fault import FaultSyntaxError, parse_fault

    try:
        fault, ohms = parse_fault(text, circuit)
    except FaultSyntaxError as error:
        raise bad_option("--fault", error.found, [error.expected], error.nearest) from error
    if fault.mode not in modes:
        raise bad_option("--fault", f'unknown fault mode "{fault.mode}"', modes, fault.mode)
    return replace(fault, r_ohm=_ohms(ohms, "--fault")) if ohms else fault


def _ohms(text: str, option: str) -> float:
    from faultfinder.source.quantity import QuantityError, parse_amount

    try:
        amount = parse_amount(text, "ohm")
    except QuantityError as error:
        raise bad_option(option, error.found, [error.expected], error.nearest) from error
    if amount.bound != "=":
        raise bad_option(option, f'"{text.strip()}" is not one resistance', ["a number of ohms"])
    return amount.value
