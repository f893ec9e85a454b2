"""The examples of the network's page run, and print what the page says they print."""

import contextlib
import io
import re
from pathlib import Path

import pytest

PAGE = (Path(__file__).parents[2] / "docs" / "network.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"^```{language}\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)


@pytest.mark.parametrize(
    ("example", "printed"), list(zip(blocks("python"), blocks("text"), strict=True))
)
def test_an_example_prints_what_the_page_says(example, printed):
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        exec(compile(example, "docs/network.md", "exec"), {})  # noqa: S102, our own page
    assert said.getvalue() == printed
