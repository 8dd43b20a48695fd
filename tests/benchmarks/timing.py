"""Timing for ratios: the best of several runs, which other work on the machine disturbs least."""

from __future__ import annotations

import time
from collections.abc import Callable


def best_s(work: Callable[[], object], *, times: int) -> float:
    """Shortest of several runs, in seconds; one more run goes before to warm up."""
    work()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)
