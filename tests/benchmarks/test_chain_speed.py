"""The chain behind the guitar on a take of 12 s, on one core, beside a general library's oversampling."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.timing import best_s

from dsp.chain.run import Chain
from dsp.chain.ways import WAYS

pytestmark = pytest.mark.benchmark

SECONDS, RATE_HZ = 12, 48_000
SLACK = 0.5


@pytest.mark.parametrize(("name", "most"), [("clean", 0.5), ("edge", 1.5), ("driven", 1.5)])
def test_a_take_through_a_way(name: str, most: float, record) -> None:
    from scipy.signal import resample_poly

    volts = 0.1 * np.random.default_rng(1).standard_normal(SECONDS * RATE_HZ)
    chain = Chain(WAYS[name], RATE_HZ)
    factor = WAYS[name].oversampling or 4

    def chunked() -> None:
        state = chain.initial_state()
        for start in range(0, len(volts), 1 << 14):
            _, state = chain.run(volts[start : start + (1 << 14)], state)

    ours_s = best_s(chunked, times=5)
    plain_s = best_s(lambda: resample_poly(np.tanh(resample_poly(volts, factor, 1)), 1, factor), times=3)
    record(
        f"12 s through {name}",
        f"{ours_s:.2f} s, {ours_s / plain_s:.2f} x resample_poly {factor} x, tanh and back",
        f"<= {most:g} x, asserted as <= {most / SLACK:g} x",
    )
    assert ours_s <= most / SLACK * plain_s
