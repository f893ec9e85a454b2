"""``faultfinder cover FAMILY --study N``: many made-up cases, diagnosed and marked."""

import contextlib
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from faultfinder.cli.exits import RefusedError, UnavailableError, bad_option
from faultfinder.cli.pictures import draw
from faultfinder.cli.terminal import coloured, columns
from faultfinder.source.problem import BadInput

if TYPE_CHECKING:
    from faultfinder.rulebook.rulebook import Rulebook

LOCAL = "local"
"""A dask cluster of this machine's own."""


def study(
    path: Path,
    rulebook: "Rulebook",
    cases: int,
    seed: int,
    results: Path | None,
    jobs: int,
    dask: str | None,
    picture: Path | None,
    form: str,
) -> None:
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
        about = {"family": family.digest, "rules": rulebook.shelf.digest, "seed": str(seed)}
    except BadInput as bad:
        raise RefusedError(bad) from bad
    with _backend(dask):  # before the store, so that a cluster there is not leaves no file
        try:
            store = Store(results or path.with_suffix(".sqlite"), about)
        except OtherStudy as other:
            raise bad_option("--results", other.found, [other.expected]) from other
        with click.progressbar(length=cases, label=family.title, file=sys.stderr) as bar:
            run_study(family, rulebook.shelf, seed, cases, store, jobs, bar.update)
    summary = summary_of(list(store.marks(cases)))
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
