"""Limits of a clip's movements and of a take's table, at their bounds."""

from __future__ import annotations

import numpy as np
import pytest
from places import DEMO

from dsp.errors import InputError
from dsp.sound import live_level
from dsp.sound.loudness import HOPS_PER_BLOCK
from dsp.sound.movement import FADE_S, Flip, check_movements
from server.wirings.text import load_wiring

RATE_HZ = 48_000


def test_two_flips_may_be_one_fade_apart_and_no_less() -> None:
    wiring = load_wiring(DEMO / "baritone.yaml")

    def times(gap: int) -> list[int]:
        flips = [Flip(1.0, "2"), Flip(1.0 + gap / RATE_HZ, "3")]
        return check_movements(wiring, [], flips, n_samples=2 * RATE_HZ, rate_hz=RATE_HZ)[1]

    fade = round(FADE_S * RATE_HZ)
    assert times(fade) == [RATE_HZ, RATE_HZ + fade]
    with pytest.raises(InputError, match="two within"):
        times(fade - 1)


@pytest.mark.parametrize("n_blocks", [9, 10, 11, 15, 20, 21])
def test_a_takes_table_never_exceeds_its_size(monkeypatch: pytest.MonkeyPatch, n_blocks: int) -> None:
    monkeypatch.setattr(live_level, "MOST_NUMBERS", 100)
    hops = np.arange(10.0 * (n_blocks + HOPS_PER_BLOCK - 1)).reshape(-1, 10)
    table = live_level._blocks(hops)
    assert table.size <= 100
    assert len(table) >= min(n_blocks, 5)
    np.testing.assert_allclose(table[0], hops[:HOPS_PER_BLOCK].mean(axis=0))
