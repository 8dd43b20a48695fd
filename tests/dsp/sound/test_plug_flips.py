"""Plugs that go into a jack, or another one that does, in the middle of a clip."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from places import NETWORKS
from tolerances import FLOAT32

from dsp.errors import InputError
from dsp.filters.design import Bank, design_bank
from dsp.sound.movement import Flip, Step, check_movements, steps_of
from dsp.sound.render import Renderer
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import load_tree

RATE = 48_000
FADE = round(0.02 * RATE)


@cache
def wiring() -> Wiring:
    """Two coils, the second of which a plug in the second jack takes off the first; a stereo output."""
    return read_wiring(load_tree(NETWORKS / "baritone_two_jacks.yaml"), "two_jacks.yaml")


@cache
def bank(switches: tuple[tuple[str, str], ...]) -> Bank:
    return design_bank(wiring(), Setting("1", wiring().setting("1").knobs, dict(switches)), RATE)


def rendered(steps: tuple[Step, ...], stems: np.ndarray) -> np.ndarray:
    renderer = Renderer(steps, lambda setting: bank(tuple(setting.switches.items())), RATE)
    return np.concatenate(list(renderer.render([stems])))


def test_a_plug_goes_in_and_another_replaces_the_mono_one() -> None:
    """Well before and after each fade the clip equals that of the plugs at rest."""
    stems = 0.1 * np.random.default_rng(5).standard_normal((3, RATE))
    moves = [Flip(0.4, "in", "second"), Flip(0.7, "stereo", "output")]

    def clip(flips: list[Flip], **plugs: str) -> np.ndarray:
        start = wiring().setting("1", {}, plugs)
        return rendered(steps_of(wiring(), start, [], flips, n_samples=RATE, rate_hz=RATE), stems)

    moved, rest = clip(moves), clip([])
    second, both = clip([], second="in"), clip([], second="in", output="stereo")
    first, last = round(0.4 * RATE), round(0.7 * RATE)
    for other, start, end in ((rest, 0, first), (second, first + FADE, last), (both, last + FADE, RATE)):
        assert np.max(np.abs(moved[start:end] - other[start:end])) < FLOAT32
    for one, other in ((rest, second), (second, both)):
        assert np.max(np.abs(one - other)[RATE // 10 :]) > 1e-3


def test_the_output_keeps_a_plug() -> None:
    """A clip without a plug at the output is nothing to hear."""
    with pytest.raises(InputError, match="a plug: mono, stereo"):
        check_movements(wiring(), [], [Flip(0.1, "out", "output")], n_samples=RATE, rate_hz=RATE)
    with pytest.raises(InputError, match="a switch or jack: output, second"):
        check_movements(wiring(), [], [Flip(0.1, "in", "third")], n_samples=RATE, rate_hz=RATE)
