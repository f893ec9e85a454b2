"""A copy of the rules that a test may spoil."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from faultfinder.source.content import content_folder
from faultfinder.standards import conductors, files, insulation, limits, live_limits, regions


@pytest.fixture
def rules_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[[str, str, str], None]]:
    """Return a function that replaces a text, once, in a file of a copy of the rules."""
    caches = (
        conductors.conductor_table,
        regions.region,
        limits.limit_file,
        live_limits._residual_file,
        live_limits._trip_file,
        insulation._insulation_file,
    )
    copy = tmp_path / "rules"
    shutil.copytree(content_folder("rules"), copy)

    def spoil(name: str, old: str, new: str) -> None:
        text = (copy / name).read_text("utf-8")
        assert old in text
        (copy / name).write_text(text.replace(old, new, 1), "utf-8")

    monkeypatch.setattr(files, "content_folder", lambda _: copy)
    for cache in caches:
        cache.cache_clear()
    yield spoil
    for cache in caches:
        cache.cache_clear()
