"""The page on coverage says what the command says of the circuit it tells of."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from faultfinder.cli.main import faultfinder

DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "coverage.md").read_text("utf-8")


@pytest.fixture(scope="module")
def found():
    command = ["cover", str(DOCS / "twelve-outlets.yaml"), "--format", "json"]
    return json.loads(CliRunner().invoke(faultfinder, command).output)


def rows(head):
    """Return the cells of the rows under a heading row that begins so."""
    table = PAGE.split(head, 1)[1].split("\n\n", 1)[0]
    return [[c.strip() for c in line.strip("|").split("|")] for line in table.splitlines()[2:]]


def test_the_shares(found):
    said = {cells[0]: cells[1] for cells in rows("| | by prior |")}
    assert said["seen"] == f"{found['detected']:.1%} of all faults".replace("%", " %")
    assert said["no test of these readings sees over"] == f"{100 * found['attainable']:.1f} %"
    isolated = ", ".join(f"{100 * share:.1f} %" for share in found["isolated"].values())
    assert said["of that isolated to one place, two, three"] == isolated
    assert said["to one point to open first"] == f"{100 * found['isolated_to_open']['1']:.1f} %"


def test_each_kind_of_fault_that_is_not_seen_whole_has_its_line(found):
    whole = sum(one["prior"] for one in found["faults"])
    missed, ends = {}, {}
    for one in found["faults"]:
        if one["detected"] < 0.995:
            fault = one["fault"]
            kind = f"{fault['mode']} {'-'.join(fault['conductors'])}".strip()
            missed[kind] = missed.get(kind, 0.0) + one["prior"] * (1 - one["detected"]) / whole
            edges = [edge for low_high in one["seen_ohms"] for edge in low_high]
            own = one["ohms"] or []
            ends.setdefault(kind, []).extend(edge for edge in edges if edge not in own)
    said = {cells[0]: cells[1:] for cells in rows("| fault | not seen | seen |")}
    assert {kind: f"{100 * share:.1f} %" for kind, share in missed.items()} == {
        kind: cells[0] for kind, cells in said.items()
    }
    for kind, edges in ends.items():
        if edges:
            least, most = re.search(r"([\d.]+?)\.\.([\d.]+) ohm", said[kind][1]).groups()
            assert float(least) == float(f"{min(edges):.2g}"), kind
            assert float(most) == float(f"{max(edges):.2g}"), kind
    seen = [one["detected"] for one in found["faults"] if one["fault"]["mode"] == "undersized"]
    assert said["undersized"][1] == f"{100 * min(seen):.0f}..{100 * max(seen):.0f} % of them"
