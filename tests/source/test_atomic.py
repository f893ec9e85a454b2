"""Files written whole or not at all."""

import os
import stat
from pathlib import Path

import pytest

from faultfinder.source.atomic import write_text


def test_a_new_file_with_exactly_this_text(tmp_path):
    path = tmp_path / "a.yaml"
    write_text(path, "a: Ω\r\nb\n")
    assert path.read_bytes() == "a: Ω\r\nb\n".encode()
    assert [p.name for p in tmp_path.iterdir()] == ["a.yaml"]


@pytest.mark.skipif(os.name != "posix", reason="modes are POSIX's")
def test_a_new_file_has_the_mode_the_umask_gives(tmp_path):
    path, plain = tmp_path / "a", tmp_path / "b"
    write_text(path, "a")
    plain.write_text("b")
    assert path.stat().st_mode == plain.stat().st_mode


@pytest.mark.skipif(os.name != "posix", reason="modes are POSIX's")
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o755])
def test_an_existing_file_keeps_its_mode(tmp_path, mode):
    path = tmp_path / "a"
    path.write_text("old")
    path.chmod(mode)
    write_text(path, "new")
    assert path.read_text() == "new"
    assert stat.S_IMODE(path.stat().st_mode) == mode


def test_a_link_is_followed(tmp_path):
    (tmp_path / "there").mkdir()
    real, link = tmp_path / "there" / "real", tmp_path / "link"
    real.write_text("old")
    link.symlink_to(real)
    write_text(link, "new")
    assert link.is_symlink()
    assert real.read_text() == "new"


@pytest.mark.parametrize("step", ["fsync", "replace", "chmod"])
def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path, monkeypatch, step):
    path = tmp_path / "a"
    path.write_text("old")

    def fail(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os if step == "fsync" else Path, step, fail)
    with pytest.raises(OSError, match="No space"):
        write_text(path, "new")
    monkeypatch.undo()
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_text_that_cannot_be_written_leaves_nothing(tmp_path):
    with pytest.raises(UnicodeEncodeError):
        write_text(tmp_path / "a", "\ud800")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_way(tmp_path):
    (tmp_path / "a").mkdir()
    with pytest.raises(OSError, match="directory"):
        write_text(tmp_path / "a", "x")
    assert [p.name for p in tmp_path.iterdir()] == ["a"]


def test_a_missing_folder(tmp_path):
    with pytest.raises(FileNotFoundError):
        write_text(tmp_path / "no" / "a", "x")


def test_the_data_is_on_the_disk_before_the_name_is(tmp_path, monkeypatch):
    order: list[str] = []
    real_sync, real_replace = os.fsync, Path.replace
    monkeypatch.setattr(os, "fsync", lambda fd: (order.append("sync"), real_sync(fd)))
    monkeypatch.setattr(
        Path, "replace", lambda self, to: (order.append("replace"), real_replace(self, to))
    )
    write_text(tmp_path / "a", "x")
    assert order == ["sync", "replace"]
