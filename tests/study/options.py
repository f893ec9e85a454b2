"""The options every study has: what circuits, faults and errors are like."""

import argparse
from typing import get_args

from simulator import Errors, Settings

HARD = {
    "errors": "uniform",
    "error_share": 0.02,
    "error_ohm": 0.02,
    "length_error": 0.15,
    "temperature": (5.0, 40.0),
}
"""Lengths 15 % off, 5 to 40 °C, an instrument of 2 % and 2 digits."""


KINDS_OF_ERRORS = get_args(Errors)


class _Hard(argparse.Action):
    def __call__(self, _parser, namespace, _values, _option=None):  # type: ignore[no-untyped-def]
        vars(namespace).update(HARD)


def parser_of(about: str | None, number: int) -> argparse.ArgumentParser:
    """Return a command line with these options, cases numbering so many unless told."""
    p = argparse.ArgumentParser(
        description=about, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    p.add_argument("--cases", type=int, default=number)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--outlets", type=int, nargs=2, default=(3, 12), metavar=("MIN", "MAX"))
    p.add_argument("--draw", choices=("modes", "hypotheses", "priors"), default="modes")
    p.add_argument("--errors", choices=KINDS_OF_ERRORS, default="gaussian")
    p.add_argument("--error-share", type=float, default=0.01, help="of the reading")
    p.add_argument("--error-ohm", type=float, default=0.01)
    p.add_argument("--stated", action="store_true", help="case files state the instrument's error")
    p.add_argument("--length-error", type=float, default=0.0, help="share, each run by itself")
    p.add_argument("--terminator-error", type=float, default=0.0, help="share")
    p.add_argument(
        "--temperature",
        type=float,
        nargs=2,
        default=(20.0, 20.0),
        metavar=("LOW", "HIGH"),
        help="of the conductors, not told to the diagnoser, °C",
    )
    p.add_argument(
        "--hard", nargs=0, action=_Hard, help="lengths 15 %%, 5 to 40 °C, 2 %% + 2 digits"
    )
    p.add_argument("--read", choices=("all", "two-in-three", "failed-and-one"), default="all")
    p.add_argument("--boxes", type=float, default=0.0, help="chance of a joint box in a run")
    p.add_argument("--in-runs", action="store_true", help="bridges along runs too")
    p.add_argument("--behind-switches", action="store_true", help="bridges behind switches too")
    p.add_argument("--verbose", action="store_true", help="list the misses")
    return p


def settings_of(given: argparse.Namespace) -> Settings:
    """Return the settings that these options ask for."""
    return Settings(
        outlets=tuple(given.outlets),
        box_share=given.boxes,
        errors=given.errors,
        error_share=given.error_share,
        error_ohm=given.error_ohm,
        stated=given.stated,
        length_error=given.length_error,
        terminator_error=given.terminator_error,
        temperature_c=tuple(given.temperature),
        draw=given.draw,
        read=given.read,
        in_runs=given.in_runs,
        behind_switches=given.behind_switches,
    )
