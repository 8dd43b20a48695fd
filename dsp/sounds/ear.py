"""What is heard of many networks: energies by band, hum and resonance."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.hum import NOTHING_DB
from dsp.sound.timbre import SUB_BANDS, Bands
from dsp.sounds.elements import Elements

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Features = tuple[Floats, Floats, Floats]
"""Energy by band, residual hum and resonance of candidates; see `Candidates`."""


class Ear:
    """Converter of coils' gains to what is heard, in all phases at once.

    Parameters
    ----------
    heard : ndarray, shape (n_sub_bands, n_coils, n_coils), V² s
        Cross-spectra of the coils' EMFs.
    hum_weights : ndarray, shape (n_coils,)
    """

    def __init__(self, heard: Complex, hum_weights: Floats, bands: Bands, own: Elements) -> None:
        self.own = own
        self._bands, self._hum_weights = bands, hum_weights
        self._heard = heard
        self._is_real = bool(np.all(heard.imag == 0.0))
        n_coils = heard.shape[1]
        self._pairs = [(i, j) for i in range(n_coils) for j in range(i, n_coils)]
        self._first, self._second = np.array(self._pairs).T

    def features(self, weights: Iterable[tuple[NDArray[np.intp], Complex]], coil_signs: Floats) -> Features:
        """Return the features of networks in all their phases.

        Parameters
        ----------
        weights : iterable of (ndarray of int, ndarray)
            Phases, and the elements' gains that hold for them, shape (n_elements, n, n_freqs).
        coil_signs : ndarray, shape (n_phases, n_coils)

        Returns
        -------
        energy : ndarray, shape (n * n_phases, n_bands), V² s
        hum_db : ndarray, shape (n * n_phases,)
        resonance_hz : ndarray, shape (n * n_phases,)
        """
        found: Features | None = None
        for rows, weight in weights:
            gains = self.own.gains(weight)
            if found is None:
                n, n_phases = gains.shape[1], len(coil_signs)
                found = (
                    np.empty((n, n_phases, self._bands.n_bands)),
                    np.empty((n, n_phases)),
                    np.empty((n, n_phases)),
                )
            products = coil_signs[rows][:, self._first] * coil_signs[rows][:, self._second]
            products *= np.where(self._first == self._second, 1.0, 2.0)
            by_band = self._by_band(gains)
            found[0][:, rows] = np.maximum(products @ by_band, 0.0)
            found[1][:, rows] = self._hum_db(gains, products)
            found[2][:, rows] = self._resonance_hz(gains, by_band)[:, None]
        assert found is not None  # every network has a phase
        return found[0].reshape(-1, self._bands.n_bands), found[1].ravel(), found[2].ravel()

    def _by_band(self, gains: Complex) -> Floats:
        """Return the energies by pairs of coils, shape (n, n_pairs, n_bands)."""
        n_sub = len(self._bands.centres_hz)
        real = np.ascontiguousarray(gains[..., :n_sub].real)
        imaginary = np.ascontiguousarray(gains[..., :n_sub].imag)
        found = np.empty((gains.shape[1], len(self._pairs), self._bands.n_bands))
        for place, (i, j) in enumerate(self._pairs):
            energy = real[i] * real[j]
            energy += imaginary[i] * imaginary[j]
            energy *= self._heard[:, i, j].real
            if not self._is_real:
                energy -= (imaginary[i] * real[j] - real[i] * imaginary[j]) * self._heard[:, i, j].imag
            total = energy[:, ::SUB_BANDS].copy()
            for sub in range(1, SUB_BANDS):
                total += energy[:, sub::SUB_BANDS]
            found[:, place] = total
        return found

    def _hum_db(self, gains: Complex, products: Floats) -> Floats:
        """Return the residual hum re all coils adding up, dB, shape (n, n_phases)."""
        hum = gains[..., len(self._bands.centres_hz) :] * self._hum_weights[:, None, None]
        form = (hum[self._first] * hum[self._second].conj()).real.sum(axis=2)
        left = np.maximum(form.T @ products.T, 0.0)
        worst = np.sum(np.abs(hum).sum(axis=0) ** 2, axis=1)[:, None]
        share = np.divide(left, worst, out=np.zeros_like(left), where=worst > 0.0)
        return np.asarray(10.0 * np.log10(np.maximum(share, 10.0 ** (NOTHING_DB / 10.0))))

    def _resonance_hz(self, gains: Complex, by_band: Floats) -> Floats:
        """Return the peak of each network's loudest coil, shape (n,), Hz."""
        own = by_band[:, self._first == self._second].sum(axis=2)
        loudest = np.argmax(own, axis=1)
        n_sub = len(self._bands.centres_hz)
        return _tops_hz(np.abs(gains[loudest, np.arange(len(loudest)), :n_sub]), self._bands.centres_hz)


def _tops_hz(curves: Floats, frequencies_hz: Floats) -> Floats:
    """Return the frequency of each curve's peak, shape (n,), Hz.

    It is the vertex of the parabola through the highest point and its neighbours, dB over log
    frequency. NaN if the highest point is at an end.
    """
    top = np.argmax(curves, axis=1)
    inside = (top > 0) & (top < curves.shape[1] - 1)
    rows, at = np.flatnonzero(inside), top[inside, None] + np.arange(-1, 2)
    x = np.log(frequencies_hz)[at]
    y = np.log(np.maximum(curves[rows[:, None], at], 1e-300))
    before, after = (x[:, side] - x[:, 1] for side in (0, 2))
    down, up = (y[:, side] - y[:, 1] for side in (0, 2))
    bend = down * after - up * before
    found = np.full(len(curves), np.nan)
    away = 0.5 * (down * after**2 - up * before**2) / np.where(bend == 0.0, np.inf, bend)
    found[rows] = np.exp(x[:, 1] + away)
    return found
