"""Files written whole or not at all."""

import os
import secrets
import stat
from pathlib import Path


def write_text(path: Path, text: str) -> None:
    """Write `text` as UTF-8 so that a reader sees the old file or the new one, never a part.

    A link is followed, and an existing file keeps its mode. On failure the old file stands,
    nothing is left beside it, and the `OSError` is raised on.
    """
    target = path.resolve()
    part = target.with_name(f".{target.name[:100]}.{secrets.token_hex(8)}.part")
    # 0o666 is what open() asks for; the user's umask is taken off it by the system.
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    try:
        with open(descriptor, "w", encoding="utf-8", newline="") as file:  # noqa: PTH123
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            part.chmod(stat.S_IMODE(target.stat().st_mode))
        part.replace(target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
