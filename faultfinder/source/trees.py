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
from faultfinder.source.shelf import Shelf


@cache
def kept_trees(shelf: Shelf) -> Mapping[str, Node]:
    """Return the trees of a shelf's files by digest, as far as they were kept."""
    text = kept(_name(shelf))
    try:
        trees = json.loads(text) if text else {}
    except ValueError:
        return {}
    return trees if isinstance(trees, dict) else {}


def keep_trees(shelf: Shelf) -> None:
    """Keep the trees of all files on a shelf that can be read."""
    trees: dict[str, Node] = {}
    for file in shelf.files.values():
        try:
            trees[file.digest] = load_yaml(file.path).tree
        except BadInput:
            continue  # told by whoever needs the file
    keep(_name(shelf), json.dumps(trees, ensure_ascii=False, separators=(",", ":")))


def _name(shelf: Shelf) -> str:
    return f"trees-{shelf.digest}"
