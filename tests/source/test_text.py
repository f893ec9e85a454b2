"""Reading files that may be missing, huge, binary or empty."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from faultfinder.source.problem import BadInput, Problem
from faultfinder.source.text import read_text


def refusal(path: Path, **options: int) -> Problem:
    with pytest.raises(BadInput) as caught:
        read_text(path, **options)
    (problem,) = caught.value.problems
    return problem


def written(folder: Path, data: bytes, name: str = "case.yaml") -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"a: 1\n", "a: 1\n"),
        (b"\xef\xbb\xbfa: 1", "a: 1"),
        (b"a\r\nb\rc\n", "a\nb\nc\n"),
        ("Ω µ ² 日本".encode(), "Ω µ ² 日本"),
    ],
)
def test_text_comes_back(tmp_path, data, text):
    assert read_text(written(tmp_path, data)) == text


def test_a_missing_file_offers_the_nearest_name(tmp_path):
    written(tmp_path, b"a", "kitchen.yaml")
    problem = refusal(tmp_path / "kichen.yaml")
    assert (problem.id, problem.position.line) == ("missing-file", 0)
    assert problem.position.file == str(tmp_path / "kichen.yaml")
    assert problem.nearest == str(tmp_path / "kitchen.yaml")


def test_a_missing_file_with_nothing_like_it(tmp_path):
    assert refusal(tmp_path / "kitchen.yaml").nearest == ""


def test_a_missing_folder_is_named(tmp_path):
    problem = refusal(tmp_path / "nowhere" / "a.yaml")
    assert problem.id == "missing-file"
    assert "no folder" in problem.found
    assert str(tmp_path / "nowhere") in problem.found


def test_a_file_used_as_a_folder(tmp_path):
    assert refusal(written(tmp_path, b"a") / "b.yaml").id == "missing-file"


def test_a_name_no_file_can_have(tmp_path):
    assert refusal(tmp_path / "a\0b").id == "missing-file"
    assert refusal(tmp_path / ("a" * 5000)).id == "unreadable-file"


def test_a_folder(tmp_path):
    problem = refusal(tmp_path)
    assert (problem.id, problem.expected) == ("not-a-file", "a file")


def test_no_permission(tmp_path, monkeypatch):
    path = written(tmp_path, b"a")

    def refuse(*_: object) -> None:  # root, who may run the tests, reads everything
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    problem = refusal(path)
    assert problem.id == "unreadable-file"
    assert "permission denied" in problem.found


@pytest.mark.parametrize("data", [b"", b" \n\t\n", b"\xef\xbb\xbf", b"\xef\xbb\xbf\r\n"])
def test_empty(tmp_path, data):
    assert refusal(written(tmp_path, data)).id == "empty-file"


def test_a_huge_file_says_its_size_and_the_limit(tmp_path):
    problem = refusal(written(tmp_path, b"a" * 12_345), limit_bytes=1_000)
    assert problem.id == "huge-file"
    assert "12,345 bytes" in problem.found
    assert "1,000 bytes" in problem.expected


def test_the_limit_itself_is_allowed(tmp_path):
    assert read_text(written(tmp_path, b"a" * 1_000), limit_bytes=1_000) == "a" * 1_000


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no endless file here")
def test_an_endless_file_ends_at_the_limit():
    assert refusal(Path("/dev/zero"), limit_bytes=1_000).id == "huge-file"


@pytest.mark.parametrize(
    ("data", "line", "column", "what"),
    [
        (b"ab\nc\0d", 2, 2, "NUL"),
        (b"\0", 1, 1, "NUL"),
        (b"ab\r\nc\xe9d\n", 2, 2, "0xe9"),
        (b"\xef\xbb\xbf\xc3\xa9\xff", 1, 2, "0xff"),
        (b"abc\xe2\x82", 1, 4, "0xe2"),
    ],
)
def test_binary_says_where(tmp_path, data, line, column, what):
    problem = refusal(written(tmp_path, data))
    assert problem.id == "binary-file"
    assert (problem.position.line, problem.position.column) == (line, column)
    assert what in problem.found
    assert "UTF-8" in problem.expected


@pytest.mark.parametrize("codec", ["utf-16", "utf-16-be"])
def test_another_encoding_is_named_or_placed(tmp_path, codec):
    problem = refusal(written(tmp_path, "a: 1".encode(codec)))
    assert problem.id == "binary-file"
    assert ("UTF-16" in problem.found) == (codec == "utf-16")


def test_reading_text_does_not_load_the_validation_library():
    code = (
        "import sys, faultfinder.source.text, faultfinder.source.spelling,"
        "faultfinder.source.content, faultfinder.source.atomic;"
        "sys.exit(any(m.partition('.')[0].startswith('pydantic') for m in sys.modules))"
    )
    root = Path(__file__).parents[2]
    run = subprocess.run(  # noqa: S603 - this interpreter, this code
        [sys.executable, "-c", code], env={**os.environ, "PYTHONPATH": str(root)}, check=False
    )
    assert run.returncode == 0
