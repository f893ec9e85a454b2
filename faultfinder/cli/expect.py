"""``faultfinder expect``."""

import click


@click.command()
def expect() -> None:
    """Expect."""
