"""A small set of the shipped rules that a test may damage: two fault modes, one circuit.

Every file is a copy of a shipped one, but for what names a rule that is not copied.
"""

import re
import shutil

from faultfinder.authoring.check import check
from faultfinder.source.content import content_folder
from faultfinder.source.shelf import open_shelf

MODES = ("open", "high-resistance")


def small_rules(folder):
    """Copy the rules of two modes, with all tests and standards, and the circuit in a row."""
    shutil.copytree(content_folder("rules"), folder, ignore=shutil.ignore_patterns("*.json"))
    for kind in ("faults", "signs"):
        for path in (folder / kind).glob("*.yaml"):
            if path.stem not in MODES:
                path.unlink()
    for path in (folder / "faults").glob("*.yaml"):
        path.write_text(re.sub(r"reads_like: .*\n", "", path.read_text("utf-8")), "utf-8")
    example = folder / "example.yaml"
    text = example.read_text("utf-8")
    example.write_text(text[: text.index("  branched:")], "utf-8")
    return folder


def problems(*folders):
    """Return what the check says of folders laid over each other: the rule, and the problem."""
    return [(one.rule, one.problem) for one in check(open_shelf(folders)).findings]
