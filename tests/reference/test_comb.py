"""The effect of a coil's place in rendered audio, against closed forms.

Pluck sin(n pi x/l)/n (velocity) and sensing sin(n pi x/l): N. Fletcher, T. Rossing, The Physics of Musical
Instruments (from memory); place, aperture and two coils: R. Paiva, J. Pakarinen, V. Valimaki, J. Audio
Eng. Soc. 60 (2012) 768-782; two coils by their spacing: Acoust. Sci. & Tech. 33(5) (2012).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from partials import line
from string_stems import LENGTH_M, MEASURED, RATE_HZ, heard, point_coil
from tolerances import COMB, COMB_NULL_DB, TWIN_FACTOR

from dsp.parts.coil import Coil
from dsp.strings import pluck
from dsp.strings.modes import partial_frequencies
from dsp.strings.note import Note

pytestmark = pytest.mark.reference

FLEXIBLE = replace(MEASURED, stiffness_nm2=0.0)


@pytest.fixture(autouse=True)
def ideal_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pluck without width or release time, as in the closed forms."""
    monkeypatch.setitem(pluck.HANDS, "ideal", pluck.Hand(0.0, 0.0))


def levels(coils: list[Coil], numbers: np.ndarray, *, at_m: float, fret: int = 0) -> np.ndarray:
    """Amplitude of partials at the pluck, shape (n_coils, n_partials), by spectrum lines."""
    stems = heard(Note(0, 0.0, fret=fret, pluck_at_m=at_m, hand="ideal"), coils, 1.2, FLEXIBLE)
    hz = partial_frequencies(FLEXIBLE, numbers.astype(float), LENGTH_M * 2.0 ** (-fret / 12.0))
    return np.array([[line(stem, RATE_HZ, f, (0.1, 1.0), 60.0).level for f in hz] for stem in stems])


def test_pluck_at_a_fifth_heard_at_a_quarter() -> None:
    """Worked: 1, 1.1441, 0.5393, 0, 0, 0.2357, 0.2311, 0."""
    found = levels([point_coil(LENGTH_M / 4.0)], np.arange(1, 9), at_m=LENGTH_M / 5.0)[0]
    worked = np.array([1.0, 1.1441, 0.5393, 0.0, 0.0, 0.2357, 0.2311, 0.0])
    np.testing.assert_allclose(found / found[0], worked, atol=COMB)
    assert not np.allclose(found / found[0], worked * (1.0 + TWIN_FACTOR * COMB / 0.2311), atol=COMB)


@pytest.mark.parametrize(("numerator", "denominator"), [(1, 4), (1, 5), (1, 6), (1, 9)])
def test_partials_with_a_node_over_the_coil_vanish(numerator: int, denominator: int) -> None:
    """Partial n vanishes where n x / l is a whole number."""
    numbers = np.arange(1, 2 * denominator + 1)
    found = levels([point_coil(LENGTH_M * numerator / denominator)], numbers, at_m=0.0317)[0]
    silent = numbers % denominator == 0
    loudest = found.max()
    assert np.all(20.0 * np.log10(found[silent] / loudest) < COMB_NULL_DB)
    assert np.all(20.0 * np.log10(found[~silent] / loudest) > COMB_NULL_DB + 30.0)


def test_fretting_moves_the_nulls() -> None:
    """At fret 5 the sounding length is shorter by 2^(5/12); the coil stays where it is."""
    length_m = LENGTH_M * 2.0 ** (-5.0 / 12.0)
    found = levels([point_coil(length_m / 4.0)], np.arange(1, 9), at_m=0.0317, fret=5)[0]
    assert np.all(20.0 * np.log10(found[[3, 7]] / found.max()) < COMB_NULL_DB)


@pytest.mark.parametrize("sign", [1, -1])
def test_two_coils_together(sign: int) -> None:
    """In phase 2 sin(n pi x/l) cos(n pi s/2l) about the middle x, opposed 2 cos(n pi x/l) sin(n pi s/2l)."""
    middle_m, spacing_m = 0.11, 0.0187
    coils = [point_coil(middle_m - spacing_m / 2.0), point_coil(middle_m + spacing_m / 2.0, winding=sign)]
    numbers = np.arange(1, 31)
    stems = heard(Note(0, 0.0, pluck_at_m=0.0317, hand="ideal"), coils, 1.2, FLEXIBLE)
    hz = partial_frequencies(FLEXIBLE, numbers.astype(float), LENGTH_M)
    both = np.array([line(stems.sum(axis=0), RATE_HZ, f, (0.1, 0.6), 60.0).level for f in hz])
    x, s = numbers * np.pi * middle_m / LENGTH_M, numbers * np.pi * spacing_m / (2.0 * LENGTH_M)
    shape = 2.0 * (np.sin(x) * np.cos(s) if sign > 0 else np.cos(x) * np.sin(s))
    plucked = np.sin(numbers * np.pi * 0.0317 / LENGTH_M) / numbers
    law = np.abs(shape * plucked)
    scale = both @ law / (law @ law)
    np.testing.assert_allclose(both / scale, law, atol=COMB * law.max())
    other = np.abs(plucked * 2.0 * (np.cos(x) * np.sin(s) if sign > 0 else np.sin(x) * np.cos(s)))
    assert not np.allclose(both / scale, other, atol=COMB * law.max())


def test_aperture_first_null() -> None:
    """A window of width w cancels partials with whole wavelengths in it: first null at n = 2 l / w."""
    numbers = np.array([1, 10, 20, 30, 40])
    narrow, wide = levels(
        [point_coil(0.0531), point_coil(0.0531, aperture_m=LENGTH_M / 20.0)], numbers, at_m=0.0117
    )
    law = np.abs(np.sinc(numbers / 40.0))
    np.testing.assert_allclose(wide[:4] / narrow[:4], law[:4], atol=COMB)
    assert wide[4] / narrow[4] < 10.0 ** (COMB_NULL_DB / 20.0)
