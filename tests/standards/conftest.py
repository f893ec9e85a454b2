"""A copy of the rules that a test may spoil."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from faultfinder.source.content import content_folder
from faultfinder.source.shelf import shipped_shelf


@pytest.fixture
def rules_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[[str, str, str], None]]:
    """Return a function that replaces a text, once, in a file of a copy of the rules."""
    copy = tmp_path / "rules"
    shutil.copytree(content_folder("rules"), copy)

    def spoil(name: str, old: str, new: str) -> None:
        text = (copy / name).read_text("utf-8")
        assert old in text
        (copy / name).write_text(text.replace(old, new, 1), "utf-8")
        shipped_shelf.cache_clear()

    monkeypatch.setattr("faultfinder.source.shelf.content_folder", lambda _: copy)
    shipped_shelf.cache_clear()
    yield spoil
    shipped_shelf.cache_clear()
