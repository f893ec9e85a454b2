"""The option ``--rules``, the config file, and the rulebook that both make."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from faultfinder.cli.exits import RefusedError, UnavailableError

if TYPE_CHECKING:
    from faultfinder.rulebook.rulebook import Rulebook
    from faultfinder.source.shelf import Shelf

Command = TypeVar("Command", bound=Callable[..., object])


def rules_option(command: Command) -> Command:
    """Add the option ``--rules``, passed on as ``own``."""
    return click.option(
        "--rules",
        "own",
        multiple=True,
        metavar="DIR",
        type=click.Path(path_type=Path),
        help="A folder of rules laid over the program's own. Repeatable, the last on top.",
    )(command)


def config_file() -> Path | None:
    """Return the config file that counts: of the working folder, or else the user's own."""
    from faultfinder.rulebook.own import CONFIG

    for folder in (Path(), Path(click.get_app_dir("faultfinder"))):
        if (folder / CONFIG).is_file():
            return folder / CONFIG
    return None


def shelf_for(own: Sequence[Path]) -> "Shelf":
    """Return the rule files of a command: the program's, the config file's, and ``--rules``.

    Raises `RefusedError` for what is wrong with any of them as a whole.
    """
    from faultfinder.rulebook.own import own_shelf
    from faultfinder.source.problem import BadInput

    try:
        return own_shelf(own, config_file())
    except BadInput as bad:
        raise RefusedError(bad) from bad


def rulebook_for(own: Sequence[Path]) -> "Rulebook":
    """Return the rules of a command; signs of a user's own have been tried in a child process.

    Raises `RefusedError` for a rule that is wrong, `UnavailableError` without the rule engine.
    """
    from faultfinder.diagnosis.pointing import try_own_signs
    from faultfinder.engine import EngineFault, EngineUnavailable
    from faultfinder.rulebook.rulebook import rulebook_of
    from faultfinder.source.problem import BadInput

    shelf = shelf_for(own)
    try:
        rulebook = rulebook_of(shelf)
        try_own_signs(rulebook)
    except EngineUnavailable as error:
        raise UnavailableError(error) from error
    except (BadInput, EngineFault) as error:
        raise RefusedError(error) from error
    return rulebook
