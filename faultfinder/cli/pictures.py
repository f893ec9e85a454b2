"""Pictures that commands draw beside what they print."""

from pathlib import Path

from faultfinder.cli.exits import bad_option
from faultfinder.source.atomic import write_text


def draw(picture: Path, svg: str) -> None:
    """Write a picture's file, whole or not at all; a place it cannot be is the option's fault."""
    try:
        write_text(picture, svg)
    except OSError as error:
        found = f"{picture} cannot be written: {error.strerror}"
        raise bad_option("--picture", found, ["a file that can be written"]) from error
