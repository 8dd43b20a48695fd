"""Timing for ratios: the best of several runs, the one least disturbed by other work."""

from __future__ import annotations

import time
from collections.abc import Callable


def best_s(work: Callable[[], object], *, times: int) -> float:
    """Return the shortest of several runs in seconds, after one to warm up."""
    work()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)
