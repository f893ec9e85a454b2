"""Where rules and cases are found."""

from pathlib import Path

import pytest

from faultfinder.source import content
from faultfinder.source.content import content_folder

ROOT = Path(__file__).parents[2]


def installed_at(site: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Pretend that the package was installed in `site`; return its folder."""
    package = site / "faultfinder"
    (package / "source").mkdir(parents=True)
    monkeypatch.setattr(content, "__file__", str(package / "source" / "content.py"))
    return package


@pytest.mark.parametrize("name", ["rules", "cases"])
def test_a_checkout_uses_the_folders_people_edit(name):
    assert content_folder(name) == ROOT / name


def test_an_installed_package_uses_its_own_copy(tmp_path, monkeypatch):
    package = installed_at(tmp_path, monkeypatch)
    (package / "content" / "rules").mkdir(parents=True)
    assert content_folder("rules") == package / "content" / "rules"


def test_a_stray_folder_beside_an_installed_package_is_not_ours(tmp_path, monkeypatch):
    package = installed_at(tmp_path, monkeypatch)
    (tmp_path / "rules").mkdir()
    (package / "content" / "rules").mkdir(parents=True)
    assert content_folder("rules") == package / "content" / "rules"


def test_with_neither_both_places_are_named(tmp_path, monkeypatch):
    package = installed_at(tmp_path, monkeypatch)
    with pytest.raises(FileNotFoundError) as caught:
        content_folder("cases")
    assert str(tmp_path / "cases") in str(caught.value)
    assert str(package / "content" / "cases") in str(caught.value)
