"""``faultfinder cover FAMILY --study N``: many made-up cases, diagnosed and marked."""

import contextlib
import json
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from faultfinder.cli.exits import RefusedError, UnavailableError, bad_option, is_given
from faultfinder.cli.pictures import draw
from faultfinder.cli.terminal import coloured, columns
from faultfinder.source.problem import BadInput

if TYPE_CHECKING:
    from faultfinder.rulebook.rulebook import Rulebook

LOCAL = "local"
"""A dask cluster of this machine's own."""


Command = TypeVar("Command", bound=Callable[..., None])


@dataclass(frozen=True, slots=True)
class Asked:
    """A study that is asked for: how many cases of what seed, and where they are worked out."""

    cases: int
    seed: int
    results: Path | None
    jobs: int
    dask: str | None


def study_options(command: Command) -> Callable[..., None]:
    """Add the options of a study, passed on as ``asked``; None without ``--study``."""

    @wraps(command)
    def with_study(
        *,
        cases: int | None,
        seed: int,
        results: Path | None,
        jobs: int,
        dask: str | None,
        **others: object,
    ) -> None:
        if jobs == 0:
            raise bad_option("--jobs", "no cores at all", ["a number of cores, or -1 for all"])
        asked = None if cases is None else Asked(cases, seed, results, jobs, dask)
        for name in ("seed", "results", "jobs", "dask"):
            if asked is None and is_given(name):
                raise bad_option(f"--{name}", "no study is asked for", ["--study N beside it"])
        command(asked=asked, **others)

    for option in reversed(_OPTIONS):
        option(with_study)
    return with_study


_OPTIONS = (
    click.option(
        "--study",
        "cases",
        type=click.IntRange(1, 10_000_000),
        metavar="N",
        help="Instead: make up N cases of a family of circuits and diagnose them. CIRCUIT is then "
        "the family's file.",
    ),
    click.option(
        "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Of a study."
    ),
    click.option(
        "--results",
        metavar="FILE",
        type=click.Path(path_type=Path, dir_okay=False),
        help="SQLite file of a study; it is taken up where it stopped.  [default: beside the "
        "family]",
    ),
    click.option("--jobs", type=int, default=-1, help="Cores of a study.  [default: all]"),
    click.option(
        "--dask",
        metavar="ADDRESS",
        help=f"Run a study on a dask cluster: its scheduler, or {LOCAL}.",
    ),
)


def study(path: Path, rulebook: "Rulebook", asked: Asked, picture: Path | None, form: str) -> None:
    """Run a study of a family of circuits, or take it up again, and show its figures."""
    from faultfinder.coverage.study.family import load_family
    from faultfinder.coverage.study.running import run_study
    from faultfinder.coverage.study.store import OtherStudy, Store
    from faultfinder.coverage.study.summary import summary_of
    from faultfinder.reporting.study_views import calibration_svg, study_json, study_text

    if form == "csv":
        raise bad_option("--format", "a study has no table", ["text or json; the marks are kept"])
    try:
        family = load_family(path, rulebook.procedures, rulebook.shelf)
        about = {"family": family.digest, "rules": rulebook.shelf.digest, "seed": str(asked.seed)}
    except BadInput as bad:
        raise RefusedError(bad) from bad
    with _backend(asked.dask):  # before the store, so that a cluster there is not leaves no file
        try:
            store = Store(asked.results or path.with_suffix(".sqlite"), about)
        except OtherStudy as other:
            raise bad_option("--results", other.found, [other.expected]) from other
        with click.progressbar(length=asked.cases, label=family.title, file=sys.stderr) as bar:
            run_study(
                family, rulebook.shelf, asked.seed, asked.cases, store, asked.jobs, bar.update
            )
    summary = summary_of(list(store.marks(asked.cases)))
    if picture is not None:
        draw(picture, calibration_svg(family, summary))
    if form == "json":
        click.echo(json.dumps(study_json(family, summary), ensure_ascii=False))
    else:
        click.echo(study_text(family, summary, columns(), coloured))


@contextlib.contextmanager
def _backend(address: str | None) -> Iterator[None]:
    """Put joblib on a dask cluster while a study runs; on this machine's cores without one."""
    if address is None:
        yield
        return
    try:
        from dask.distributed import Client
    except ImportError as error:
        why = ImportError("--dask needs the extra: pip install 'faultfinder[dask]'")
        raise UnavailableError(why) from error
    from joblib import parallel_config

    try:
        client = (
            Client(processes=True, dashboard_address=None) if address == LOCAL else Client(address)
        )
    except (OSError, ValueError) as error:
        found = f"no cluster at {address}: {error}"
        raise bad_option("--dask", found, [f"{LOCAL}, or a scheduler's address"]) from error
    with client, parallel_config(backend="dask"):
        yield
