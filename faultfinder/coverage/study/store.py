"""Marks of a study in an SQLite file, kept as they come: a study can be taken up again."""

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import astuple, fields
from pathlib import Path

from faultfinder import __version__
from faultfinder.coverage.study.marking import Mark

_KINDS: dict[object, str] = {int: "INTEGER", float: "REAL", str: "TEXT", bool: "INTEGER"}
_FIELDS = fields(Mark)
# In quotes: a column is called group.
_NAMES = ", ".join(f'"{field.name}"' for field in _FIELDS)
_COLUMNS = ", ".join(f'"{field.name}" {_KINDS[field.type]}' for field in _FIELDS)


class OtherStudy(ValueError):  # noqa: N818 - says what it is, as BadInput does
    """A file that holds another study, or no study at all; ``found`` and ``expected`` say which."""

    def __init__(self, found: str, expected: str) -> None:
        super().__init__(found)
        self.found, self.expected = found, expected


class Store:
    """The marks of one study: a family and its rules, by their digests, and a seed.

    Raises
    ------
    OtherStudy
        If the file is of another family, other rules, another seed or version, or no study, or
        its marks are not of this program's kind.
    """

    def __init__(self, path: Path, about: dict[str, str]) -> None:
        self.path = path
        about = {"version": __version__, **about}
        try:
            with closing(sqlite3.connect(path)) as base, base:
                _must_be_of_a_study(path, base)
                base.execute("CREATE TABLE IF NOT EXISTS study (name TEXT PRIMARY KEY, value TEXT)")
                base.execute(f"CREATE TABLE IF NOT EXISTS marks ({_COLUMNS}, PRIMARY KEY (number))")
                base.executemany("INSERT OR IGNORE INTO study VALUES (?, ?)", about.items())
                kept = dict(base.execute("SELECT name, value FROM study"))
        except sqlite3.DatabaseError as error:
            raise OtherStudy(
                f"{path} holds no study: {error}", "a new file, or a study's"
            ) from error
        for name, value in about.items():
            if kept.get(name) != value:
                found = f"{path} holds a study of another {name}"
                raise OtherStudy(found, "another file for the results")

    def done(self) -> set[int]:
        """Return the numbers of the cases that have their marks."""
        with closing(sqlite3.connect(self.path)) as base:
            return {number for (number,) in base.execute("SELECT number FROM marks")}

    def add(self, marks: Iterable[Mark]) -> None:
        """Keep some marks, all or none of them."""
        blanks = ", ".join("?" * len(_FIELDS))
        said = f"INSERT OR REPLACE INTO marks VALUES ({blanks})"  # noqa: S608 - blanks alone
        with closing(sqlite3.connect(self.path)) as base, base:
            base.executemany(said, map(astuple, marks))

    def marks(self, most: int) -> Iterator[Mark]:
        """Yield the marks of the first so many cases, by number."""
        asked = f"SELECT {_NAMES} FROM marks WHERE number < ? ORDER BY number"  # noqa: S608 - our own
        with closing(sqlite3.connect(self.path)) as base:
            for row in base.execute(asked, (most,)):
                kept = {f.name: value for f, value in zip(_FIELDS, row, strict=True)}
                flags = {f.name: bool(kept[f.name]) for f in _FIELDS if f.type is bool}
                yield Mark(**{**kept, **flags})


def _must_be_of_a_study(path: Path, base: sqlite3.Connection) -> None:
    """Refuse a base that holds other tables than ours, before anything is written into it."""
    tables = {name for (name,) in base.execute("SELECT name FROM sqlite_master")}
    if tables and not {"study", "marks"} <= tables:
        raise OtherStudy(f"{path} holds no study", "a new file, or a study's")
    columns = {name for (name,) in base.execute("SELECT name FROM pragma_table_info('marks')")}
    if tables and columns != {field.name for field in _FIELDS}:
        found = f"{path} holds a study whose marks are not of this version of faultfinder"
        raise OtherStudy(found, "another file for the results")
