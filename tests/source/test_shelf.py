"""A shelf: which of several files stands for a rule, and when two shelves are the same."""

from pathlib import Path

import pytest

from faultfinder.source.problem import BadInput, Position
from faultfinder.source.shelf import open_shelf, shipped_shelf


@pytest.fixture
def folders(tmp_path, monkeypatch):
    """Two folders of rules, the second with one rule of the first and one of its own."""
    monkeypatch.chdir(tmp_path)
    first = ("one/faults/open", "one/faults/short", "one/tolerances")
    for name in (*first, "two/faults/open", "two/tests/lead"):
        path = Path(f"{name}.yaml")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name, "utf-8")
    return Path("one"), Path("two")


def test_the_last_folder_decides(folders):
    shelf = open_shelf(folders)
    assert list(shelf.files) == ["faults/open", "faults/short", "tests/lead", "tolerances"]
    assert shelf.path("faults/open") == Path("two/faults/open.yaml")
    assert shelf.files["faults/open"].hides == (Path("one/faults/open.yaml"),)
    assert [file.name for file in shelf.own] == ["faults/open", "tests/lead"]
    assert shelf.ids("faults") == ("open", "short")
    assert shelf.of("limits") == ()


def test_where_a_rule_would_be_that_is_not_there(folders):
    assert open_shelf(folders).path("inspect") == Path("one/inspect.yaml")


def test_a_rule_switched_off_is_not_on_it(folders):
    where = Position("faultfinder.yaml", 2, 7)
    shelf = open_shelf(folders, {"faults/short": where})
    assert shelf.ids("faults") == ("open",)
    assert shelf.off == {"faults/short": where}


def test_shelves_are_the_same_by_what_is_on_them(folders):
    first = open_shelf(folders)
    assert first == open_shelf(folders)
    assert hash(first) == hash(open_shelf(folders))
    assert first != open_shelf(folders[:1])
    assert first != open_shelf(folders, {"faults/short": Position("f", 1, 1)})
    Path("two/tests/lead.yaml").write_text("changed", "utf-8")
    assert first != open_shelf(folders)
    assert first != "shelf"


def test_what_is_wrong_with_folders_comes_at_once(folders):
    Path("one/fault").mkdir()
    Path("one/fault/open.yaml").write_text("", "utf-8")
    Path("one/tolerance.yaml").write_text("", "utf-8")
    Path("two/tests/loop.yml").write_text("", "utf-8")
    with pytest.raises(BadInput) as caught:
        open_shelf([*folders, Path("three")], {"faults/opne": Position("f.yaml", 3, 1)})
    told = [(str(p.position), p.id, p.nearest) for p in caught.value.problems]
    assert told == [
        ("f.yaml:3:1", "unknown-rule", "faults/open"),
        ("one/fault/open.yaml", "not-a-rule", "faults"),
        ("one/tolerance.yaml", "not-a-rule", "tolerances"),
        ("three", "missing-file", ""),
        ("two/tests/loop.yml", "not-a-rule", "loop.yaml"),
    ]


def test_a_file_that_cannot_be_read_is_told_when_it_is(folders):
    path = Path("one/faults/short.yaml")
    path.unlink()
    path.mkdir()
    assert open_shelf(folders).files["faults/short"].digest == ""


def test_the_programs_own_rules_are_all_shipped():
    shelf = shipped_shelf()
    assert shelf.own == ()
    assert shelf.is_shipped("faults/open")
