"""Where the rules and the worked cases are, in a checkout and in an installed package."""

from pathlib import Path
from typing import Literal


def content_folder(name: Literal["rules", "cases"]) -> Path:
    """Return the folder of the rules or the cases.

    In a checkout it is the top-level folder, which people edit; a `pyproject.toml` must stand
    beside it, so that a stray `site-packages/rules` is not taken for ours. An installed package
    carries a copy in `faultfinder/content/`. Raises `FileNotFoundError` if neither is there.
    """
    package = Path(__file__).parents[1]
    checkout = package.parent / name
    if checkout.is_dir() and (package.parent / "pyproject.toml").is_file():
        return checkout
    installed = package / "content" / name
    if installed.is_dir():
        return installed
    raise FileNotFoundError(
        f"the {name} that belong to faultfinder are missing: looked in {checkout} (a checkout) "
        f"and {installed} (an installed package); install faultfinder again"
    )
