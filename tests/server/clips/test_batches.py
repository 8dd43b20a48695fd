"""Which clips share a reading of the stems."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from dsp.sound.hum import Hum
from server.clips.run import MOST_IN_STEP, batch_plans


def plan(
    wiring: object, performance: object, *, sweeps: int = 0, flips: int = 0, hum: Hum | None = None
) -> Any:
    return SimpleNamespace(
        wiring=wiring, performance=performance, sweeps=[None] * sweeps, flips=[None] * flips, hum=hum
    )


def test_clips_of_one_wiring_and_take_share_a_batch_and_those_that_move_run_alone() -> None:
    one, other, take = object(), object(), object()
    still, turned = [plan(one, take), plan(other, take), plan(one, take)], plan(one, take, sweeps=1)
    assert batch_plans([*still, turned, plan(one, take, flips=1)]) == [[0, 2], [1], [3], [4]]
    hums = [plan(one, take, hum=hum) for hum in (None, Hum("stage"), Hum("quiet"), Hum("stage"))]
    assert batch_plans(hums) == [[0], [1, 3], [2]]


def test_a_batch_holds_as_many_as_memory_allows() -> None:
    one, take = object(), object()
    batches = batch_plans([plan(one, take) for _ in range(MOST_IN_STEP + 1)])
    assert [len(batch) for batch in batches] == [MOST_IN_STEP, 1]
