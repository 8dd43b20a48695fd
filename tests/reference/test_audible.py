"""What counts as heard, against a published threshold that nobody here set.

Source: D. Gagne, P. Zurek, "Resonance-frequency discrimination", J. Acoust. Soc. Am. 83 (1988) 2293-2299,
abstract, read: a shift of 0.079 Fr / sqrt(Q) is just noticed, Q 1 to 36, and what explains it is the largest
level difference of a band, not the root mean square over bands.
"""

from __future__ import annotations

import numpy as np
import pytest

from dsp.sound.audible import (
    BAND_DB,
    EDGE,
    HEARD,
    LEVEL_DB,
    NOT_HEARD,
    Difference,
    difference,
    least_shift_hz,
    word_of,
)
from dsp.sound.timbre import SUB_BANDS, ear_bands

pytestmark = pytest.mark.reference

PRINTED = {1.0: 0.079, 2.0: 0.056, 3.0: 0.046}
"""Share of the frequency by Q, as the paper's figures are quoted."""
COILS_HZ, COILS_Q = (1000.0, 2000.0, 3000.0), (1.0, 2.0, 3.0, 6.0)
"""Resonances as loaded coils have them."""


def resonance(frequency_hz: float, quality: float) -> np.ndarray:
    """Energy by band of even noise through R, L and C, the second order's textbook low-pass."""
    x = ear_bands().centres_hz / frequency_hz
    power = 1.0 / np.abs(1.0 - x**2 + 1j * x / quality) ** 2
    return np.asarray(power.reshape(-1, SUB_BANDS).sum(axis=1))


def shifted(frequency_hz: float, quality: float, thresholds: float) -> Difference:
    """Compare a resonance with itself moved up by so many published thresholds."""
    moved = frequency_hz * (1.0 + thresholds * 0.079 / np.sqrt(quality))
    return difference(resonance(frequency_hz, quality), resonance(moved, quality))


@pytest.mark.parametrize(("quality", "share"), PRINTED.items())
def test_the_threshold_is_the_one_printed(quality: float, share: float) -> None:
    assert least_shift_hz(1000.0, quality) / 1000.0 == pytest.approx(share, abs=0.0006)


@pytest.mark.parametrize("quality", COILS_Q)
@pytest.mark.parametrize("frequency_hz", COILS_HZ)
def test_the_published_threshold_lies_at_the_edge(frequency_hz: float, quality: float) -> None:
    """Of the bands' limits one was set by level alone; the resonance's threshold must fall between them."""
    at = shifted(frequency_hz, quality, 1.0)
    assert at.largest_db == pytest.approx(1.2, abs=0.41)
    assert at.heard == EDGE
    assert shifted(frequency_hz, quality, 0.3).heard == NOT_HEARD
    assert shifted(frequency_hz, quality, 2.5).heard == HEARD


def test_twin_other_limits_are_refused() -> None:
    """Limits twice as large would not call two and a half thresholds heard."""
    sizes = [shifted(hz, quality, 2.5).largest_db for hz in COILS_HZ for quality in COILS_Q]
    assert min(sizes) < 2.0 * BAND_DB[1]
    assert word_of(min(sizes), (2.0 * BAND_DB[0], 2.0 * BAND_DB[1])) != HEARD


def test_the_largest_band_explains_the_threshold_and_the_mean_square_does_not() -> None:
    """At twice the Q the same mean square is another number of thresholds; so it cannot be the measure."""
    at = [shifted(2000.0, quality, 1.0) for quality in (1.0, 6.0)]
    assert at[1].distance_db < at[0].distance_db
    assert at[1].largest_db > 1.5 * at[0].largest_db


def test_levels_by_the_published_half_and_whole_decibel() -> None:
    sound = resonance(2000.0, 2.0)
    for db, word in ((0.3, NOT_HEARD), (0.7, EDGE), (1.5, HEARD), (-1.5, HEARD)):
        apart = difference(sound, sound * 10.0 ** (db / 10.0))
        assert apart.level_db == pytest.approx(db)
        assert (apart.heard, apart.heard_as_played) == (NOT_HEARD, word)
    assert LEVEL_DB == (0.5, 1.0)
