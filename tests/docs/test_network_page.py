"""The example of the network's page runs, and prints what the page says it prints."""

import contextlib
import io
import re
from pathlib import Path

PAGE = (Path(__file__).parents[2] / "docs" / "network.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"^```{language}\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)


def test_the_example_prints_what_the_page_says():
    (example,), (printed,) = blocks("python"), blocks("text")
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        exec(compile(example, "docs/network.md", "exec"), {})  # noqa: S102, our own page
    assert said.getvalue() == printed
