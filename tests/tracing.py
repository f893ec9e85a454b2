"""What is run without counting the lines it runs.

Tracing takes as long again as the work itself, and plainer tests run the same lines.
"""

import sys
from contextlib import contextmanager


@contextmanager
def untraced():
    """Trace nothing meanwhile.

    The mark ``no_cover`` of pytest-cov 7.1 does not do it in the processes of pytest-xdist, where
    it stops one of two tracers.
    """
    tracer = sys.gettrace()
    sys.settrace(None)
    try:
        yield
    finally:
        sys.settrace(tracer)
