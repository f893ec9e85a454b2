"""Memory for arrays that come and go.

Weighing makes and drops arrays of up to a megabyte all the time. glibc gives what is freed back to
the system above thresholds that follow the largest block freed so far: mallopt(3), M_MMAP_THRESHOLD
(at most 32 MB) and M_TRIM_THRESHOLD (twice that). Fresh pages for every array took from a twentieth
to a fifth of the time of a diagnosis. What holds arrays goes with its last reference: to look for
garbage in cycles each time that there are 700 more objects took another fiftieth.
"""

import gc
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np

_BYTES = 31 << 20
_OBJECTS = 20_000  # more, before cycles are looked for


def keep_memory() -> None:
    """Have the process keep what arrays leave free, for the arrays that come next.

    Frees one block of nearly the most, which nothing was ever written to. It costs microseconds,
    and does nothing where memory is managed in another way.
    """
    np.empty(_BYTES, dtype=np.uint8)


@contextmanager
def seldom_collected() -> Iterator[None]:
    """Have cycles of garbage looked for seldom, within.

    How often is a matter of the whole process: where threads take turns it may stay seldom after.
    """
    before = gc.get_threshold()
    gc.set_threshold(max(before[0], _OBJECTS) if before[0] else 0, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)
