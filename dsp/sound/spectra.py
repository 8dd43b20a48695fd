"""Cross-spectra of the coils' EMFs by sub-band, of standard notes or a take, and the energy they make."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import respond
from dsp.sound.open_chord import open_chord
from dsp.sound.timbre import Bands
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
FRETS = (0, 3, 5, 8, 12)
"""The standard notes: every string at each of these frets."""


def standard_notes(wiring: Wiring, bands: Bands, *, frets: Sequence[int] = FRETS) -> Complex:
    """Return the cross-spectra of the standard notes.

    Returns
    -------
    ndarray, shape (n_sub_bands, n_coils, n_coils), V² s
    """
    n_coils = len(wiring.coils)
    found = np.zeros((len(bands.centres_hz), n_coils, n_coils), complex)
    n_strings = len(wiring.instrument.strings) if wiring.instrument and wiring.instrument.strings else 6
    for fret in frets:
        chord = open_chord(wiring, frets=[fret] * n_strings)
        at = bands.sub_band(chord.hz)
        inside = at >= 0
        volt = chord.volt[:, inside].T
        power = 0.5 * chord.seconds[inside, None, None] * volt[:, :, None] * volt[:, None, :]
        np.add.at(found, at[inside], power)
    return found


def stem_spectra(blocks: Iterable[Floats], rate_hz: float, bands: Bands) -> Complex:
    """Return the cross-spectra of a take's stems.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (n_coils, n), volt

    Returns
    -------
    ndarray, shape (n_sub_bands, n_coils, n_coils), V² s

    Raises
    ------
    ValueError
        If there are no blocks.
    """
    found: Complex | None = None
    for block in blocks:
        size = block.shape[1]
        spectra = np.fft.rfft(block * np.hanning(size), axis=1)
        hz = np.fft.rfftfreq(size, 1.0 / rate_hz)
        at = bands.sub_band(hz)
        if found is None:
            found = np.zeros((len(bands.centres_hz), len(block), len(block)), complex)
        for band in range(len(bands.centres_hz)):
            part = spectra[:, at == band]
            found[band] += part @ part.conj().T / size / rate_hz
    if found is None:
        raise ValueError("no blocks")  # a take of no samples is refused when it is read
    return found


def band_energy(wiring: Wiring, settings: Sequence[Setting], bands: Bands) -> Floats:
    """Return the energy of the standard notes at the output, by band.

    Returns
    -------
    ndarray, shape (n_settings, n_bands), V² s
    """
    heard = standard_notes(wiring, bands)
    return energy_of(respond(wiring, settings, bands.centres_hz).coil, heard, bands)


def energy_of(coil: Complex, heard: Complex, bands: Bands) -> Floats:
    """Return the energy at the output, by band, from responses and input.

    Parameters
    ----------
    coil : ndarray, shape (n_settings, n_coils, n_sub_bands)
    heard : ndarray, shape (n_sub_bands, n_coils, n_coils), V² s

    Returns
    -------
    ndarray, shape (n_settings, n_bands), V² s
    """
    energy = np.einsum("skf,slf,fkl->sf", coil, coil.conj(), heard, optimize=True).real
    return np.asarray(np.maximum(energy, 0.0).reshape(len(coil), bands.n_bands, -1).sum(axis=2))
