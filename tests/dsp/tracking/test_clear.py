"""Partials that stand clear of their neighbours' sides, and partials that do not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dsp.parts.coil import Coil
from dsp.tracking.clear import clear_shares
from dsp.tracking.places import Place, partial_hz
from dsp.tracking.sensor import Sensor, place_ratio

RATE_HZ = 16_000.0
PLACE = Place(0, 0.6, 205.0, 5e-5)
SECONDS = 0.27
WEAK = 8


def note(weak: float, phase: float = 0.3, fade_s: float = 0.4) -> np.ndarray:
    """Twenty partials that fade and are cut off; one of them is weak."""
    t = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
    numbers = np.arange(1, 21)
    sizes = np.where(numbers == WEAK, weak, 1.0)
    angles = 2.0 * np.pi * partial_hz(PLACE, numbers)[:, None] * t + phase * numbers[:, None] ** 2
    return np.exp(-t / fade_s) * (sizes @ np.sin(angles))


@pytest.mark.parametrize("phase", [0.3, 0.8, 1.7])
def test_the_share_of_a_weak_partial_is_measured(phase: float) -> None:
    """The sides at its place, by the same note without it: share of the power that the partial adds."""
    left = clear_shares(note(0.0, phase), RATE_HZ, PLACE)[WEAK - 1]
    assert left < 0.35
    clear = clear_shares(note(0.3, phase), RATE_HZ, PLACE)
    assert clear[WEAK - 1] > 0.85
    assert min(clear[2:19]) > 0.85
    assert all(0.0 <= share <= 1.0 for share in clear)


def test_a_hidden_partial_is_raised_less_than_a_clear_one() -> None:
    """A source with a notch at partial 8: the recording tells whether anything is to be raised."""
    coil = Coil(5e3, 3.0, 8e-11, at_m=0.6 / WEAK + 0.001, sensitivity=1.0)
    hz = np.fft.rfftfreq(1 << 14, 1.0 / RATE_HZ)
    hz[0] = 0.01
    sensor = Sensor(hz, (coil,), np.ones((1, len(hz)), complex))
    wanted = [replace(coil, at_m=0.1)]
    row = round(float(partial_hz(PLACE, np.array([WEAK]))[0]) / hz[1])

    def raised(place: Place) -> float:
        return float(abs(place_ratio(sensor, wanted, place)[0, row]))

    clear = replace(PLACE, clear=clear_shares(note(0.3), RATE_HZ, PLACE))
    hidden = replace(PLACE, clear=clear_shares(note(0.0), RATE_HZ, PLACE))
    assert raised(clear) > 1.5 * raised(hidden)
    assert raised(clear) > raised(PLACE), "a partial that is heard is raised more than the comb alone would"
