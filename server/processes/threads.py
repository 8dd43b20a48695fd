"""One thread for the linear algebra: the same input gives the same bytes on any number of cores."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache


@cache
def use_one_thread() -> Callable[[], None]:
    """Keep this process's linear algebra to one thread from now on.

    A library with several threads splits its sums by their number, and the last bits of a stem
    or a filter follow the split. Our matrices are small: more threads are slower as well. The
    limit is for the process, not for a block: other threads may be at work in between.
    """
    import numpy as np  # its library must be loaded before it can be limited
    from threadpoolctl import threadpool_limits

    assert np is not None
    return threadpool_limits(1).restore_original_limits  # type: ignore[no-any-return,unused-ignore]
