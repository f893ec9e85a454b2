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
_TRIAL_S = 30.0


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
    from faultfinder.engine import EngineFault, EngineUnavailable
    from faultfinder.rulebook.rulebook import rulebook_of
    from faultfinder.source.problem import BadInput

    shelf = shelf_for(own)
    try:
        rulebook = rulebook_of(shelf)
        _try_own_signs(rulebook)
    except EngineUnavailable as error:
        raise UnavailableError(error) from error
    except (BadInput, EngineFault) as error:
        raise RefusedError(error) from error
    return rulebook


def _try_own_signs(rulebook: "Rulebook") -> None:
    """Let a child process meet the signs of a user before this one does: the engine is C."""
    from faultfinder.engine.trial import facts_that_meet, try_signs
    from faultfinder.source.kept import keep, kept

    shelf = rulebook.shelf
    signs = [
        pointer.sign
        for name, bearer in rulebook.bearers.items()
        if not shelf.is_shipped(name)
        for pointer in bearer.written_out()
    ]
    mark = f"tried-{shelf.digest}"
    if signs and kept(mark) is None:
        try_signs(signs, facts_that_meet(signs), _TRIAL_S)
        keep(mark, "")
