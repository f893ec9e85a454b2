"""The trees of rule files, kept between runs.

To read YAML with the position of every value takes most of the time of loading rules, and positions
are wanted only where something is wrong. So the bare trees are kept, each under the digest of its
file's bytes; what does not fit the model then is read again, with positions, and told.
"""

import json
from collections.abc import Mapping
from functools import cache

from faultfinder.source.document import Node, load_yaml
from faultfinder.source.kept import keep, kept
from faultfinder.source.problem import BadInput
from faultfinder.source.shelf import RuleFile, Shelf

_read: dict[str, Node] = {}
"""Trees of files read in this process, by digest: shelves share most of theirs."""


@cache
def trees_of(shelf: Shelf) -> Mapping[str, Node]:
    """Return the trees of a shelf's files by digest: as kept, or else read now, and kept.

    A file that cannot be read is left out; whoever needs it tells why.
    """
    name = f"trees-{shelf.digest}"
    found = _parsed(kept(name) or "")
    if not found:
        files = shelf.files.values()
        found = {file.digest: tree for file in files if (tree := _tree(file)) is not None}
        keep(name, json.dumps(found, ensure_ascii=False, separators=(",", ":")))
    return found


def _parsed(text: str) -> dict[str, Node]:
    try:
        trees = json.loads(text)
    except ValueError:
        return {}
    return trees if isinstance(trees, dict) else {}


def _tree(file: RuleFile) -> "Node | None":
    if file.digest not in _read:
        try:
            _read[file.digest] = load_yaml(file.path).tree
        except BadInput:
            return None
    return _read[file.digest]
