"""Where rules have it from: every rule says, and a limit says it to the clause."""

import re
from collections.abc import Iterator

from faultfinder.authoring.finding import Finding, found, of_bad_input
from faultfinder.rulebook.rulebook import Rulebook
from faultfinder.source.document import KeyPath
from faultfinder.source.problem import BadInput, listed, shown
from faultfinder.source.shelf import RuleFile, Shelf
from faultfinder.source.spelling import nearest
from faultfinder.standards.files import StandardFile, read_file
from faultfinder.standards.kinds import standard_model
from faultfinder.standards.regions import RegionFile

_PLACE = re.compile(
    r"\b(annex|appendix|article|chapter|clause|part|regulation|section|table)s? \w|\bp\. ?\d", re.I
)


def standards_checked(shelf: Shelf) -> Iterator[Finding]:
    """Yield what is wrong with limits, regions and conductor tables, and what they do not cite."""
    for folder in ("limits", "regions", "conductors"):
        for file in shelf.of(folder):
            try:
                content = read_file(file.path, standard_model(folder, file.path.stem))
            except BadInput as bad:
                yield from of_bad_input(shelf, bad)
            else:
                yield from _citation(shelf, file, content)


def _citation(shelf: Shelf, file: RuleFile, content: StandardFile) -> Iterator[Finding]:
    if not content.edition.strip():
        said = "no edition; expected a year, or unstated where the source has none"
        yield found(shelf, file.name, ("edition",), said)
    if file.name.startswith("limits/") and not _PLACE.search(content.source):
        said = "the source names no clause, table, section or page"
        yield found(shelf, file.name, ("source",), said)


def bases_checked(rulebook: Rulebook) -> Iterator[Finding]:
    """Yield each rule that does not say what it claims and where that is from."""
    rules = {
        **{f"faults/{id_}": mode for id_, mode in rulebook.modes.items()},
        **{f"tests/{id_}": test for id_, test in rulebook.procedures.items()},
        **{f"set-ups/{id_}": set_up for id_, set_up in rulebook.set_ups.items()},
        **{n: bearer for n, bearer in rulebook.bearers.items() if n.startswith("signs/")},
        "inspect": rulebook.inspection,
        "part": rulebook.separation,
        "repair": rulebook.repair,
    }
    for name, rule in rules.items():
        if not rule.basis:
            said = "no basis: what it claims, and where that is from"
            yield found(rulebook.shelf, name, ("id",), said)


def regions_checked(shelf: Shelf) -> Iterator[Finding]:
    """Yield the conductor tables and limits that regions name and no rule has."""
    for id_ in shelf.ids("regions"):
        name = f"regions/{id_}"
        try:
            file = read_file(shelf.path(name), RegionFile)
        except BadInput:
            continue  # told by standards_checked
        named: list[tuple[KeyPath, str, str | None]] = [
            (("conductor_tables", "copper"), "conductors", file.conductor_tables.copper),
            (("conductor_tables", "aluminium"), "conductors", file.conductor_tables.aluminium),
            (("insulation",), "limits", file.insulation),
            (("trip_time",), "limits", file.trip_time),
            (("trip_time",), "limits", file.trip_time),
        ]
        for at, folder, word in named:
            if word is None:
                continue
            known = shelf.ids(folder)
            if word not in known:
                near = nearest(word, known)
                meant = f"; try {near}" if near else ""
                said = f"no file {shown(word)} in {folder}; expected {listed(known)}{meant}"
                yield found(shelf, name, at, said)
