"""Speed of the finished guitar's computations; each asserted at a multiple of its bar."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np
import pytest
from benchmarks.timing import best_s
from places import DEMO

from dsp.checking.book import make_book
from dsp.checking.diagnosis import diagnose
from dsp.checking.directions import draw_steps, find_directions, make_copies
from dsp.checking.points import find_points, find_settings, predict
from dsp.checking.spread import find_spread
from dsp.circuit.copies import Copies
from server.wirings.text import load_wiring

pytestmark = pytest.mark.benchmark
T = TypeVar("T")
COPIES = 200
LEAST_GAIN = 10.0
"""Two hundred instruments at once against one at a time; measured 40."""


def core_s(work: Callable[[], T]) -> tuple[float, T]:
    """Return the seconds of one core that some work takes, and its result."""
    start = time.process_time()
    found = work()
    return time.process_time() - start, found


def test_many_instruments_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    wiring = load_wiring(DEMO / "baritone.yaml")
    points = find_points(find_settings(wiring))
    directions = find_directions(wiring)
    many = make_copies(wiring, directions, draw_steps(COPIES, len(directions)))
    together = best_s(lambda: predict(wiring, points, many), times=3)
    one = best_s(lambda: predict(wiring, points, Copies(1)), times=5)
    gain = COPIES * one / together
    spread_s, _ = core_s(lambda: find_spread(wiring, find_settings(wiring), COPIES, cable=0.2))
    book_s, book = core_s(lambda: make_book(wiring, points))
    answer_s, _ = core_s(lambda: diagnose(book, points[:20], book.levels[5, :20]))
    odd = book.levels[0] + 0.05 * np.sin(np.arange(len(points)))
    fitted_s, _ = core_s(lambda: diagnose(book, points, odd))
    with capsys.disabled():
        print(
            f"\n{COPIES} instruments at once: {gain:.0f} x as fast as one at a time (bar {LEAST_GAIN:.0f} x)"
        )
        print(f"spread of {COPIES} instruments: {spread_s:.1f} s (bar 15 s)")
        print(f"book of {len(book.faults)} faults: {book_s:.1f} s (bar 20 s)")
        print(f"an answer: {1e3 * answer_s:.0f} ms (bar 50 ms); odd readings: {1e3 * fitted_s:.0f} ms")
    assert gain > LEAST_GAIN / 2
