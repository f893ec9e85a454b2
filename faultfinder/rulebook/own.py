"""A user's own rules: the file that says where they are, and what is switched off."""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from faultfinder.source.content import content_folder
from faultfinder.source.decode import Schema, decode
from faultfinder.source.document import load_yaml
from faultfinder.source.problem import BadInput, Position, Problem
from faultfinder.source.reference import named_in
from faultfinder.source.shelf import Shelf, open_shelf, shipped_shelf

CONFIG = "faultfinder.yaml"


class ConfigFile(Schema):
    """``faultfinder.yaml``: folders of rules, and rules switched off.

    Folders count from the file's own, and are laid over each other, the last on top. A rule is
    named by its folder and id, ``tests/rcd``, one sign of a file by its id too,
    ``signs/open/open-in-run``.
    """

    format: Literal["1"] = "1"
    """The version of the file format."""
    rules: tuple[str, ...] = ()
    """Folders of rules, counted from this file's own, the last on top."""
    off: tuple[str, ...] = ()
    """Rules switched off: ``signs/open``, or one sign, ``signs/open/open-in-run``."""


def own_shelf(folders: Sequence[Path], config: Path | None) -> Shelf:
    """Return the program's rules with those of a config file and of folders laid over them.

    Raises
    ------
    BadInput
        For what is wrong with the config file, or with a folder as a whole.
    """
    if config is None and not folders:
        return shipped_shelf()
    layers: list[Path] = [content_folder("rules")]
    off: dict[str, Position] = {}
    if config is not None:
        document = load_yaml(config)
        file = decode(document, ConfigFile)
        for number, name in enumerate(file.rules):
            with named_in(document, ("rules", number), name) as folder:
                _must_be_there(folder)
                layers.append(folder)
        off = {name: document.position(("off", i)) for i, name in enumerate(file.off)}
    return open_shelf([*layers, *folders], off)


def _must_be_there(folder: Path) -> None:
    if not folder.is_dir():
        raise BadInput([Problem(Position(str(folder), 0, 0), "missing-file", "no such folder")])
