"""Text files that people wrote, read with every mishap told in plain words.

Imports no validation library: the command line reads names and lists with it before it knows
whether it needs one.
"""

from collections.abc import Iterator
from pathlib import Path

from faultfinder.source.problem import BadInput, Position, Problem, shown
from faultfinder.source.spelling import nearest

_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")


def read_text(path: Path, *, limit_bytes: int = 2_000_000) -> str:
    r"""Return the text of a UTF-8 file, with a byte order mark dropped and line ends as `\n`.

    Raises `BadInput`: `missing-file`, `not-a-file`, `unreadable-file`, `empty-file`, `huge-file`
    (more than `limit_bytes`), `binary-file`.
    """
    data = _read_bytes(path, limit_bytes)
    if len(data) > limit_bytes:
        size = max(path.stat().st_size, len(data))
        raise _refused(
            path,
            "huge-file",
            f"the file is too big: {size:,} bytes",
            f"at most {limit_bytes:,} bytes",
        )
    text = _decoded(path, data)
    if not text.strip():
        raise _refused(path, "empty-file", "the file is empty")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _read_bytes(path: Path, limit_bytes: int) -> bytes:
    try:
        if path.is_dir():
            raise _refused(path, "not-a-file", "this is a folder", "a file")
        with path.open("rb") as file:
            return file.read(limit_bytes + 1)
    except (FileNotFoundError, NotADirectoryError):
        raise _missing(path) from None
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise _refused(path, "unreadable-file", f"the file cannot be read: {why}") from error
    except ValueError:  # a NUL in the name
        raise _refused(path, "missing-file", "no file can have this name") from None


def _missing(path: Path) -> BadInput:
    folder = path.parent
    if not folder.is_dir():
        return _refused(path, "missing-file", f"there is no folder {shown(str(folder), 200)}")
    close = nearest(path.name, sorted(_names(folder)))
    return _refused(
        path, "missing-file", "there is no such file", nearest=str(folder / close) if close else ""
    )


def _names(folder: Path) -> Iterator[str]:
    try:
        yield from (entry.name for entry in folder.iterdir() if entry.is_file())
    except OSError:  # a folder we may not list has no name to offer
        return


def _decoded(path: Path, data: bytes) -> str:
    wanted = "plain text saved as UTF-8"
    if data.startswith(_UTF16_MARKS):
        raise _refused(path, "binary-file", "the file is saved as UTF-16", wanted)
    try:
        text = data.decode("utf-8-sig")
        bad, what = text.find("\0"), "a NUL byte"
        before = text[:bad]
    except UnicodeDecodeError as error:
        # error.object has lost the byte order mark; what is before the fault is sound.
        bad, what = error.start, f"byte 0x{error.object[error.start]:02x}, which is not UTF-8"
        before = error.object[: error.start].decode("utf-8-sig")
    if bad < 0:
        return text
    lines = before.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    at = Position(str(path), len(lines), len(lines[-1]) + 1)
    found = f"this is not a text file: it holds {what}"
    raise BadInput([Problem(at, "binary-file", found, wanted)])


def _refused(path: Path, id_: str, found: str, expected: str = "", nearest: str = "") -> BadInput:
    return BadInput([Problem(Position(str(path), 0, 0), id_, found, expected, nearest)])
