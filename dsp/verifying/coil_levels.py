"""What plucked strings sound like at every setting, for any sensitivities of the coils."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import respond
from dsp.errors import InputError
from dsp.sound.timbre import SUB_BANDS, ear_bands
from dsp.takes.player import instrument_of
from dsp.verifying.expected import DEPTH_DB, HAND, draw_responses, strum
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Flags = NDArray[np.bool_]

PLUCKS = 48
"""Plucks of each string that stand for every player's: their spread over all bands is believed."""
FAINT_DB = 40.0
"""A coil sounds at a setting where its response comes so near to the largest of all."""
PHASE_HZ = 300.0
"""Where two coils are said to be in phase or not."""


@dataclass(frozen=True)
class Plucks:
    """What one recording holds.

    Attributes
    ----------
    string : int or None
        Index of the string plucked alone, lowest first; None for strums of the chord.
    """

    setting: Setting
    string: int | None = None


@dataclass(frozen=True)
class CoilLevels:
    """Energy of plucks as a quadratic form of the coils' gains.

    A point is a setting at which one string or the chord is heard.

    Attributes
    ----------
    strings : tuple of int
        Indices of all strings heard, lowest first.
    points : ndarray of int, shape (n_recordings,)
        The point of each recording.
    groups : ndarray of int, shape (n_points,)
        Points of one group hear the same string, or the chord, and are compared.
    forms : ndarray, shape (n_points, n_strums, n_strings, n_bands, n_coils, n_coils), V² s
        Energy of one string for gains of 1; zero for a string that is not struck.
    heard : ndarray, shape (n_points, n_strings, n_sub_bands, n_coils, n_coils), V² s
        Cross-spectra of the coils' EMFs for the mean strum.
    drawn : ndarray, shape (n_points, n_drawn, n_coils, n_sub_bands)
        Responses of sound instruments.
    sounds : ndarray of bool, shape (n_points, n_coils)
    aligned : ndarray, shape (n_points, n_coils)
        Sign with which a string comes from each coil to the jack.
    """

    coils: tuple[str, ...]
    strings: tuple[int, ...]
    points: NDArray[np.int64]
    groups: NDArray[np.int64]
    forms: Floats
    heard: Complex
    drawn: Complex
    sounds: Flags
    aligned: Floats

    def of_group(self, group: int) -> CoilLevels:
        """Return the recordings and points of one group."""
        kept = self.groups == group
        return replace(
            self,
            points=(np.cumsum(kept) - 1)[self.points[kept[self.points]]],
            groups=self.groups[kept],
            forms=self.forms[kept],
            heard=self.heard[kept],
            drawn=self.drawn[kept],
            sounds=self.sounds[kept],
            aligned=self.aligned[kept],
        )

    def energy(self, gains: Floats) -> Floats:
        """Return the energy of every strum.

        Parameters
        ----------
        gains : ndarray, shape (n_coils, n_strings)
            Signed factors on the wiring's own sensitivities.

        Returns
        -------
        ndarray, shape (n_points, n_strums, n_bands), V² s
        """
        inner = np.matmul(self.forms, gains.T[:, None, :, None])[..., 0]
        return np.asarray(np.maximum(np.einsum("phsbk,ks->phb", inner, gains), 0.0))

    def levels(self, gains: Floats) -> tuple[Floats, Floats]:
        """Return levels, and what other hands add.

        Parameters
        ----------
        gains : ndarray, shape (n_coils, n_strings)

        Returns
        -------
        levels_db : ndarray, shape (n_points, n_bands)
            Mean of the strums' levels.
        played_db : ndarray, shape (n_strums, n_points, n_bands)
        """
        energy = self.energy(gains)
        floor = self._floor(energy.mean(axis=1))
        each = 10.0 * np.log10(energy + floor[:, None, None])
        levels = each.mean(axis=1)
        return levels, (each - levels[:, None]).transpose(1, 0, 2)

    def slopes(self, gains: Floats) -> tuple[Floats, Floats]:
        """Return levels of the mean strum, and how they follow the gains.

        Parameters
        ----------
        gains : ndarray, shape (n_coils, n_strings)

        Returns
        -------
        levels_db : ndarray, shape (n_points, n_bands)
        slopes : ndarray, shape (n_points, n_bands, n_coils, n_strings)
            dB per dB.
        """
        inner = np.matmul(self._mean, gains.T[:, None, :, None])[..., 0]
        parts = inner.transpose(0, 2, 3, 1) * gains
        energy = np.maximum(parts.sum(axis=(2, 3)), 0.0)
        whole = energy + self._floor(energy)[:, None]
        return 10.0 * np.log10(whole), parts / whole[:, :, None, None]

    @cached_property
    def _mean(self) -> Floats:
        """Forms of the mean strum, shape (n_points, n_strings, n_bands, n_coils, n_coils)."""
        return np.asarray(self.forms.mean(axis=1))

    def drawn_db(self, gains: Floats) -> Floats:
        """Return what parts within their tolerances add.

        Parameters
        ----------
        gains : ndarray, shape (n_coils, n_strings)

        Returns
        -------
        ndarray, shape (n_drawn, n_points, n_bands), dB
        """
        plain = 10.0 ** (self.slopes(gains)[0] / 10.0)
        floor = self._floor(plain)
        found = []
        for point, response in enumerate(self.drawn):
            both = np.einsum("sfkl,ks,ls->fkl", self.heard[point], gains, gains)
            by_frequency = response.transpose(2, 0, 1)
            each = ((by_frequency @ both) * by_frequency.conj()).sum(axis=2).real.T
            by_band = np.maximum(each, 0.0).reshape(len(each), -1, SUB_BANDS).sum(axis=-1)
            found.append(10.0 * np.log10((by_band + floor[point]) / plain[point]))
        return np.asarray(found).transpose(1, 0, 2)

    def _floor(self, energy: Floats) -> Floats:
        """Energy that fills what the strings leave out.

        Parameters
        ----------
        energy : ndarray, shape (n_points, n_bands)

        Returns
        -------
        ndarray, shape (n_points,)
        """
        loudest = energy.max(axis=1)
        top = [loudest[self.groups == group].max() for group in self.groups]
        return np.asarray(np.maximum(top, 1e-30) * 10.0 ** (-DEPTH_DB / 10.0))


def expect_levels(
    wiring: Wiring,
    recordings: Sequence[Plucks],
    frets: Sequence[int | None] | None = None,
    *,
    window_s: float,
    hand: str = HAND,
) -> CoilLevels:
    """Predict plucks at the settings of some recordings.

    Parameters
    ----------
    wiring : Wiring
        Its load that of the recording.
    frets : sequence of int or None, optional
        The chord of strums, as in `dsp.verifying.expected.strum`.
    window_s : float
        Time over which energy counts.
    hand : str
        The player's, a word of `dsp.strings.pluck.HANDS`.
    """
    chord = list(frets or [0] * len(instrument_of(wiring.instrument)[0].strings))
    in_chord = {index for index, fret in enumerate(chord) if fret is not None}
    struck = [in_chord if one.string is None else {one.string} for one in recordings]
    strings = tuple(sorted(set().union(*struck)))
    spectra: dict[tuple[int, int], Complex] = {}

    def alone(index: int, fret: int) -> Complex:
        if (index, fret) not in spectra:
            played = [fret if k == index else None for k in range(len(chord))]
            spectra[index, fret] = strum(wiring, played, window_s=window_s, strums=PLUCKS, hand=hand)
        return spectra[index, fret]

    keys = [(_key(one.setting), one.string) for one in recordings]
    places = list(dict.fromkeys(keys))
    first = [keys.index(place) for place in places]
    settings = [recordings[i].setting for i in first]
    response = respond(wiring, settings, ear_bands().centres_hz).coil
    forms, heard = [], []
    for at, i in zip(response, first, strict=True):
        string = recordings[i].string
        rows = []
        for index in strings:
            fret = (chord[index] or 0) if string is None else 0
            cross = alone(index, fret)
            rows.append(cross if index in struck[i] else np.zeros_like(cross))
        forms.append([_form(one, at) for one in rows])
        heard.append([one.mean(axis=0) for one in rows])
    hears = np.array([not coil.dummy for coil in wiring.coils.values()])
    strengths = np.abs(response).max(axis=2) * hears
    signs = np.array([coil.string_sign for coil in wiring.coils.values()])
    near = int(np.argmin(np.abs(ear_bands().centres_hz - PHASE_HZ)))
    groups = {string: number for number, string in enumerate(dict.fromkeys(place[1] for place in places))}
    return CoilLevels(
        tuple(wiring.coils),
        strings,
        np.array([places.index(key) for key in keys]),
        np.array([groups[string] for _, string in places]),
        np.array(forms).transpose(0, 2, 1, 3, 4, 5),
        np.array(heard),
        draw_responses(wiring, settings),
        strengths > strengths.max() * 10.0 ** (-FAINT_DB / 20.0),
        np.where(response[:, :, near].real < 0.0, -1.0, 1.0) * signs,
    )


def _key(setting: Setting) -> tuple[object, ...]:
    knobs, switches = sorted(setting.knobs.items()), sorted(setting.switches.items())
    return (setting.position, *knobs, *switches)


def _form(cross: Complex, response: Complex) -> Floats:
    """Sum cross-spectra through the responses by band, shape (n_strums, n_bands, n_coils, n_coils)."""
    both = np.einsum("kf,lf->fkl", response, response.conj())
    whole = (cross * both).real.reshape(len(cross), -1, SUB_BANDS, *both.shape[1:]).sum(axis=2)
    return np.asarray((whole + whole.swapaxes(-1, -2)) / 2.0)


def read_string(wiring: Wiring, text: str, where: str) -> int:
    """Return the index, lowest first, of a string by its number.

    String 1 is the highest.

    Raises
    ------
    InputError
        For a string that the instrument does not have.
    """
    count = len(instrument_of(wiring.instrument)[0].strings)
    if not text.strip().isdecimal() or not 1 <= int(text) <= count:
        raise InputError(where, f"string '{text.strip()[:20]}'", f"1, the highest, to {count}, the lowest")
    return count - int(text)
