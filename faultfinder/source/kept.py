"""What was worked out of files, kept between runs in the user's cache folder.

A name holds the digest of what it was worked out of, so that nothing kept is ever out of date.
Without such a folder, or without room in it, everything is worked out anew.
"""

import os
from pathlib import Path

from faultfinder.source.atomic import write_text

_MOST = 20
"""Kept of one kind; older ones go."""


def kept(name: str) -> str | None:
    """Return what was kept under a name such as ``trees-1f3a…``, or None."""
    try:
        return (_folder() / name).read_text("utf-8")
    except (OSError, UnicodeDecodeError, RuntimeError):
        return None


def keep(name: str, text: str) -> None:
    """Keep a text under a name, and let go the oldest of its kind."""
    try:
        folder = _folder()
        folder.mkdir(parents=True, exist_ok=True)
        write_text(folder / name, text)
        alike = folder.glob(f"{name.split('-', 1)[0]}-*")
        for old in sorted(alike, key=lambda path: -path.stat().st_mtime)[_MOST:]:
            old.unlink(missing_ok=True)
    except (OSError, RuntimeError):
        return  # a cache is never needed


def _folder() -> Path:
    """Return the folder; raise `RuntimeError` for a user without a home."""
    from faultfinder import __version__

    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(base) if base else Path.home() / ".cache") / "faultfinder" / __version__
