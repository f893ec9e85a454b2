"""A study on all cores, or on a cluster: cases shared out, marks kept as they come."""

from collections.abc import Callable, Sequence
from itertools import groupby
from math import ceil

from faultfinder.coverage.study.family import Family
from faultfinder.coverage.study.marking import mark_some
from faultfinder.coverage.study.store import Store
from faultfinder.source.shelf import Shelf

_LEAST = 8  # cases a task: long enough to be worth the sending


def run_study(
    family: Family,
    shelf: Shelf,
    seed: int,
    cases: int,
    store: Store,
    jobs: int = -1,
    tell: Callable[[int], object] = lambda _: None,
) -> None:
    """Diagnose every case of a study that has no mark yet.

    Works on the joblib backend in force: processes of this machine, or whatever
    ``joblib.parallel_config`` names, such as a dask cluster. ``tell`` is told how many cases are
    done each time some are.
    """
    from joblib import Parallel, delayed

    done = store.done()
    left = [number for number in range(cases) if number not in done]
    tell(cases - len(left))
    work = (delayed(mark_some)(family, shelf, seed, t) for t in _tasks(left, family.cases_each))
    # As they are done, so that no core waits for another's long task.
    parallel = Parallel(n_jobs=jobs, batch_size=1, return_as="generator_unordered")
    for marks in parallel(work):
        store.add(marks)
        tell(len(marks))


def _tasks(numbers: Sequence[int], cases_each: int) -> list[tuple[int, ...]]:
    """Return cases shared out, those of one circuit in one task."""
    size = cases_each * ceil(_LEAST / cases_each)
    return [tuple(some) for _, some in groupby(numbers, lambda number: number // size)]
