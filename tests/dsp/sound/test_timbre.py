"""Bands of the ear against their published formula, and the distance of timbres."""

from __future__ import annotations

import numpy as np
import pytest
from tolerances import ERB_PRINTED

from dsp.sound.timbre import (
    DEPTH_DB,
    ear_bands,
    erb_hz,
    erb_number,
    loudness_weighted_distance,
    timbre,
    timbre_distance,
)

PUBLISHED = {
    100: (35.494, 3.3696),
    250: (51.685, 6.8622),
    500: (78.669, 10.7665),
    1000: (132.639, 15.6214),
    2000: (240.578, 21.1552),
    4000: (456.456, 27.1074),
    8000: (888.212, 33.2945),
    10_000: (1104.09, 35.3166),
}
"""B. Glasberg, B. Moore, Hearing Research 47 (1990): width 24.7 (4.37 F + 1) and number, worked out."""


@pytest.mark.parametrize(("hz", "width", "number"), [(f, *row) for f, row in PUBLISHED.items()])
def test_erb_numbers(hz: float, width: float, number: float) -> None:
    assert float(erb_number(hz)) == pytest.approx(number, abs=ERB_PRINTED)
    assert float(erb_hz(erb_number(hz))) == pytest.approx(hz)
    half = 0.5
    span = float(erb_hz(erb_number(hz) + half) - erb_hz(erb_number(hz) - half))
    assert span == pytest.approx(width, rel=0.01)


def test_bands_are_one_erb_wide_and_cover_the_range() -> None:
    bands = ear_bands()
    np.testing.assert_allclose(np.diff(erb_number(bands.edges_hz)), 1.0)
    assert bands.edges_hz[0] == pytest.approx(50.0)
    assert 13_000.0 < bands.edges_hz[-1] <= 15_000.0
    assert bands.sub_band(np.array([49.0, 51.0, 16_000.0])).tolist() == [-1, 0, -1]
    assert bands.sub_band(bands.centres_hz).tolist() == list(range(len(bands.centres_hz)))


def test_level_does_not_change_timbre() -> None:
    energy = np.random.default_rng(1).uniform(0.1, 1.0, (2, 30))
    assert timbre_distance(timbre(energy[0]), timbre(1e-4 * energy[0])) == pytest.approx(0.0, abs=1e-12)
    assert timbre_distance(timbre(energy[0]), timbre(energy[1])) > 0.5


def test_a_tilt_has_its_own_size_as_distance() -> None:
    """3 dB up in half of the bands, 3 dB down in the others: 3 dB."""
    flat = np.ones(30)
    tilted = np.where(np.arange(30) < 15, 10.0**0.3, 10.0**-0.3)
    assert timbre_distance(timbre(flat), timbre(tilted)) == pytest.approx(3.0)


def test_it_is_a_metric() -> None:
    points = timbre(np.random.default_rng(2).uniform(0.01, 1.0, (12, 30)))
    apart = timbre_distance(points[:, None], points[None, :])
    np.testing.assert_allclose(apart, apart.T)
    assert np.all(np.diag(apart) == 0.0)
    assert np.all(apart[:, :, None] <= apart[:, None, :] + apart.T[None, :, :] + 1e-12)


def test_levels_far_below_count_no_further() -> None:
    deep, deeper = np.ones(30), np.ones(30)
    deep[3], deeper[3] = 10.0 ** (-DEPTH_DB / 10.0), 1e-12
    assert timbre_distance(timbre(deep), timbre(deeper)) == pytest.approx(0.0, abs=1e-12)
    assert np.all(timbre(np.zeros(30)) == 0.0)
    deep[3], deeper[3] = 1e-4, 1e-4 / 3.0  # 40 and 45 dB down are both heard
    assert timbre_distance(timbre(deep), timbre(deeper)) > 0.5


def test_a_band_counts_by_its_loudness() -> None:
    """One band differs by 3 dB. By hand: its share w of the loudness gives 3 sqrt(w (1 - w))."""
    loud = np.array([1.0, 1.0, 1.0, 1e-2])
    for band, energy in ((0, 1.0), (3, 1e-2)):
        other = loud.copy()
        other[band] = energy * 10.0**0.3
        specific = (loud / loud.sum()) ** 0.23 + (other / other.sum()) ** 0.23
        share = specific[band] / specific.sum()
        want_db = 3.0 * np.sqrt(share * (1.0 - share))
        assert loudness_weighted_distance(loud, other) == pytest.approx(want_db)
        assert loudness_weighted_distance(other, loud) == pytest.approx(want_db)
        assert loudness_weighted_distance(loud, 7.0 * loud) == pytest.approx(0.0, abs=1e-12)
