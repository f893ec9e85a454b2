"""What is kept between runs: found again by its name, never needed, never out of date."""

import json
from dataclasses import fields

import pytest

from faultfinder.rulebook.rulebook import load_rulebook
from faultfinder.source.content import content_folder
from faultfinder.source.kept import keep, kept
from faultfinder.source.shelf import open_shelf
from faultfinder.source.trees import trees_of


@pytest.fixture
def cache(tmp_path, monkeypatch):
    """An empty cache folder."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    trees_of.cache_clear()
    yield tmp_path / "cache"
    trees_of.cache_clear()


def test_what_was_kept_is_found_again(cache):
    assert kept("trees-1") is None
    keep("trees-1", "text")
    assert kept("trees-1") == "text"


def test_the_oldest_of_a_kind_go(cache):
    for number in range(25):
        keep(f"trees-{number}", "text")
    keep("tried-1", "")
    left = {path.name for path in cache.rglob("t*-*")}
    assert len(left) == 21
    assert "tried-1" in left


def test_a_folder_that_cannot_be_written_is_done_without(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("", "utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    keep("trees-1", "text")
    assert kept("trees-1") is None


def test_a_user_without_a_home_is_done_without(monkeypatch):
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.delenv("LOCALAPPDATA", raising=False)

    def no_home():
        raise RuntimeError("no home")

    monkeypatch.setattr("faultfinder.source.kept.Path.home", no_home)
    keep("trees-1", "text")
    assert kept("trees-1") is None


def content(rulebook):
    kept = {one.name: getattr(rulebook, one.name) for one in fields(rulebook) if one.init}
    return {**kept, "as_written": None}


def test_trees_give_the_same_rules_as_the_files(cache):
    shelf = open_shelf([content_folder("rules")])
    from_files = load_rulebook(shelf)
    trees_of.cache_clear()
    (path,) = cache.rglob("trees-*")
    assert len(json.loads(path.read_text("utf-8"))) == len(shelf.files)
    assert content(load_rulebook(shelf)) == content(from_files)


@pytest.mark.parametrize("damage", ["not json", "[]", "{}"])
def test_trees_that_were_damaged_are_not_used(cache, damage):
    shelf = open_shelf([content_folder("rules")])
    read = trees_of(shelf)
    (path,) = cache.rglob("trees-*")
    path.write_text(damage, "utf-8")
    trees_of.cache_clear()
    assert trees_of(shelf) == read


def test_a_tree_that_does_not_fit_is_read_again_from_its_file(cache):
    shelf = open_shelf([content_folder("rules")])
    from_files = load_rulebook(shelf)
    (path,) = cache.rglob("trees-*")
    trees = json.loads(path.read_text("utf-8"))
    for tree in trees.values():
        tree.pop("title", None)
    path.write_text(json.dumps(trees), "utf-8")
    trees_of.cache_clear()
    assert content(load_rulebook(shelf)) == content(from_files)
