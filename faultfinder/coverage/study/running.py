"""A study on all cores, or on a cluster: cases shared out, marks kept as they come."""

from collections.abc import Callable, Iterator, Sequence

from faultfinder.coverage.study.family import Family
from faultfinder.coverage.study.marking import mark_some
from faultfinder.coverage.study.store import Store
from faultfinder.source.shelf import Shelf

_EACH = 8  # cases a task: long enough to be worth the sending
_TASKS = 4  # a core, between two looks at the results


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
    from joblib import Parallel, delayed, effective_n_jobs

    done = store.done()
    left = [number for number in range(cases) if number not in done]
    tell(cases - len(left))
    at_once = _EACH * _TASKS * effective_n_jobs(jobs)
    with Parallel(n_jobs=jobs) as parallel:
        for some in _in_parts(left, at_once):
            tasks = _in_parts(some, _EACH)
            work = delayed(mark_some)
            for marks in parallel(work(family, shelf, seed, tuple(task)) for task in tasks):
                store.add(marks)
                tell(len(marks))


def _in_parts(numbers: Sequence[int], size: int) -> Iterator[Sequence[int]]:
    for begin in range(0, len(numbers), size):
        yield numbers[begin : begin + size]
