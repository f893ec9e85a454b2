"""The beginning of a rule: a whole and commented file that passes the check, to be changed."""

import re
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from types import MappingProxyType

from faultfinder.rulebook.folder import ID_PATTERN
from faultfinder.source.atomic import write_text
from faultfinder.source.content import content_folder
from faultfinder.source.problem import BadInput, Position, Problem, shown

FOLDERS: Mapping[str, str] = MappingProxyType(
    {
        "fault": "faults",
        "sign": "signs",
        "test": "tests",
        "limit": "limits",
        "lesson": "lessons",
    }
)
"""What can be begun, and the folder it goes to."""


def begin(kind: str, id_: str, folder: Path) -> Path:
    """Write the beginning of a rule into a folder of rules, and return its file.

    Raises
    ------
    BadInput
        For an id that cannot be one, and for a file that is there already.
    OSError
        If it cannot be written.
    """
    path = folder / FOLDERS[kind] / f"{id_}.yaml"
    where = Position(str(path), 0, 0)
    if not re.fullmatch(ID_PATTERN, id_):
        near = re.sub(r"[^a-z0-9]+", "-", id_.lower()).strip("-")
        expected = "small letters, digits and single hyphens"
        raise BadInput([Problem(where, "bad-name", f"{shown(id_)} is no id", expected, near)])
    if path.exists():
        raise BadInput([Problem(where, "file-exists", "this file is there already", "another id")])
    text = resources.files(__package__).joinpath("templates", f"{kind}.yaml").read_text("utf-8")
    words = {
        "@ID@": id_,
        "@TITLE@": id_.replace("-", " ").capitalize(),
        "@SCHEMAS@": (content_folder("rules") / "schemas").resolve().as_uri(),
    }
    for word, stands_for in words.items():
        text = text.replace(word, stands_for)
    path.parent.mkdir(parents=True, exist_ok=True)
    write_text(path, text)
    return path
