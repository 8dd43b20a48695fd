"""What strums of one chord sound like at every setting, and how far sound instruments differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dsp.checking.directions import draw_steps, find_directions, make_copies, with_taps
from dsp.circuit.copies import respond_copies
from dsp.circuit.response import respond
from dsp.errors import InputError
from dsp.parts.coil import Coil
from dsp.sound.timbre import SUB_BANDS, ear_bands
from dsp.strings.perform import Setup, perform
from dsp.takes.player import PLUCK_SHARE, instrument_of, notes_of, strings_of
from dsp.takes.score import Event, Score
from dsp.verifying.strums import LEAD_S, RATE_HZ, ease
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

STRUMS = 12
"""Strums that stand for every player's."""
FORCE, FORCE_DB = 0.5, 1.5
HAND = "pick"
PLACE_SD = 0.018
"""Of the pluck's place from recording to recording, as a share of the scale: 12 mm (our own choice)."""
CROSS_S = 0.05
"""Time of a strum across all strings."""
MOST_FRET = 24
SOMEWHERE = 0.25
"""Place, as a share of the scale, assumed for a coil whose wiring states none."""
DEPTH_DB = 65.0
"""Floor below the loudest setting: hands, planes and neighbouring strings fill what a chord leaves out."""
DRAWN = 96
"""Sound instruments drawn for their spread."""
CABLE = 0.10
"""Spread of the recording's cable, two standard deviations (our own choice): the player states its length."""
SENSITIVITY_DB = 1.0
"""Standard deviation of a coil's sensitivity: its height is set by hand (our own choice)."""


def strum(
    wiring: Wiring,
    frets: Sequence[int | None] | None = None,
    *,
    window_s: float,
    strums: int = STRUMS,
    hand: str = HAND,
    seed: int = 23,
) -> Complex:
    """Strum a chord, each time with other hands.

    Parameters
    ----------
    frets : sequence of int or None, optional
        Per string, lowest first, None for a string that is not struck; open strings unless given.
    window_s : float
        Time over which energy counts.
    strums : int
        How many.
    hand : str
        A word of `dsp.strings.pluck.HANDS`.

    Returns
    -------
    ndarray, shape (strums, n_sub_bands, n_coils, n_coils), V² s
        Cross-spectra of the coils' EMFs.
    """
    instrument, _ = instrument_of(wiring.instrument)
    coils = [_placed(coil, instrument.scale_m) for coil in wiring.coils.values()]
    n = round((window_s + LEAD_S) * RATE_HZ)
    found = []
    for k in range(strums):
        chance = np.random.default_rng([seed, k])
        place = instrument.scale_m * float(np.clip(PLUCK_SHARE + PLACE_SD * chance.normal(), 0.04, 0.45))
        chord = frets or [0] * len(instrument.strings)
        events = _strum_events(chord, place, chance.normal() * FORCE_DB, hand)
        score = Score(60.0, events, seed=seed * STRUMS + k, tail_s=window_s + 1.0)
        setup = Setup(strings_of(score, instrument), coils, RATE_HZ, score.curvature)
        stems = np.concatenate(list(perform(notes_of(score, instrument, "strums"), setup, n)), axis=1)
        found.append(_cross_spectra(stems))
    return np.array(found)


def _strum_events(
    frets: Sequence[int | None], place_m: float, louder_db: float, hand: str
) -> tuple[Event, ...]:
    """One stroke from the lowest string to the highest, `LEAD_S` after the start."""
    force = FORCE * 10.0 ** (louder_db / 20.0)
    return tuple(
        Event(
            LEAD_S,  # at a tempo of 60 a beat is a second
            string=len(frets) - index,
            fret=fret,
            force=force,
            pluck_at_m=place_m,
            hand=hand,
            delay_s=CROSS_S * index / len(frets),
        )
        for index, fret in enumerate(frets)
        if fret is not None
    )


def _placed(coil: Coil, scale_m: float) -> Coil:
    return coil if coil.at_m is not None else replace(coil, at_m=SOMEWHERE * scale_m)


def _cross_spectra(stems: Floats) -> Complex:
    """Return the cross-spectra of stems in sub-bands, shape (n_sub_bands, n_coils, n_coils)."""
    n_coils, n = stems.shape
    bands = ear_bands()
    spectra = np.fft.rfft(stems * ease(n), axis=1)
    at = bands.sub_band(np.fft.rfftfreq(n, 1.0 / RATE_HZ))
    found = np.zeros((len(bands.centres_hz), n_coils, n_coils), complex)
    for band in range(len(found)):
        part = spectra[:, at == band]
        found[band] = part @ part.conj().T
    return np.asarray(found / n / RATE_HZ)


def levels_of(energy: Floats, loudest: float | None = None) -> Floats:
    """Return levels with a floor below the loudest, of any shape, dB.

    Parameters
    ----------
    energy : ndarray, shape (..., n_settings, n_bands), V² s
    loudest : float, optional
        Energy of the loudest band, that of these unless given.
    """
    top = float(energy.max()) if loudest is None else loudest
    return np.asarray(10.0 * np.log10(energy + max(top, 1e-30) * 10.0 ** (-DEPTH_DB / 10.0)))


def expect_energy(wiring: Wiring, settings: Sequence[Setting], heard: Complex) -> Floats:
    """Return the energy of every strum at every setting.

    Parameters
    ----------
    heard : ndarray, shape (n_strums, n_sub_bands, n_coils, n_coils), V² s

    Returns
    -------
    ndarray, shape (n_strums, n_settings, n_bands), V² s
    """
    coil = respond(wiring, settings, ear_bands().centres_hz).coil
    both = np.einsum("skf,slf->fskl", coil, coil.conj())
    n_strums, n_sub, n_coils, _ = heard.shape
    n_settings = len(settings)
    pairs = n_coils * n_coils
    # One product of matrices for each sub-band: (strums, pairs of coils) by (pairs of coils, settings).
    left = heard.reshape(n_strums, n_sub, pairs).transpose(1, 0, 2)
    right = both.reshape(n_sub, n_settings, pairs).transpose(0, 2, 1)
    energy = np.maximum((left @ right).real, 0.0)
    return np.asarray(energy.reshape(-1, SUB_BANDS, n_strums, n_settings).sum(axis=1).transpose(1, 2, 0))


def draw_levels(wiring: Wiring, settings: Sequence[Setting], heard: Complex, *, seed: int = 29) -> Floats:
    """Return what sound instruments add to the expected levels.

    Parts differ by their tolerances, the cable by `CABLE`, sensitivities by `SENSITIVITY_DB`.

    Parameters
    ----------
    heard : ndarray, shape (n_sub_bands, n_coils, n_coils), V² s
        Of the mean strum.

    Returns
    -------
    ndarray, shape (DRAWN, n_settings, n_bands), dB
    """
    coil = draw_responses(wiring, settings, seed=seed)
    gain_db = SENSITIVITY_DB * np.random.default_rng([seed, 1]).standard_normal((DRAWN, len(wiring.coils)))
    coil = coil * (10.0 ** (gain_db / 20.0))[None, :, :, None]
    energy = np.einsum("sckf,fkl,sclf->csf", coil, heard, coil.conj(), optimize=True).real
    by_band = np.maximum(energy, 0.0).reshape(*energy.shape[:2], -1, SUB_BANDS).sum(axis=-1)
    plain = expect_energy(wiring, settings, heard[None])[0]
    return np.asarray(levels_of(by_band, float(plain.max())) - levels_of(plain))


def draw_responses(wiring: Wiring, settings: Sequence[Setting], *, seed: int = 29) -> Complex:
    """Return the coils' responses of sound instruments, sensitivities aside.

    Returns
    -------
    ndarray, shape (n_settings, DRAWN, n_coils, n_sub_bands)
    """
    wiring = with_taps(wiring)
    directions = find_directions(wiring, cable=CABLE)
    steps = draw_steps(DRAWN, len(directions), seed)
    copies = make_copies(wiring, directions, steps)
    coil, _ = respond_copies(wiring, settings, ear_bands().centres_hz, copies)
    return coil


def at_input(wiring: Wiring, *, cable_m: float, input_ohm: float, input_f: float) -> Wiring:
    """Return a wiring whose load is the recording's.

    Parameters
    ----------
    cable_m : float
        Length of a cable of the wiring's own kind.
    input_ohm, input_f : float
        Of the input.
    """
    load = replace(wiring.load, cable_length_m=cable_m, amplifier_ohm=input_ohm, amplifier_f=input_f)
    return replace(wiring, load=load)


def read_frets(wiring: Wiring, text: str, where: str) -> tuple[int | None, ...]:
    """Read a chord: a fret for every string, lowest first.

    A string that is not struck has an ``x``.

    Raises
    ------
    InputError
        If the chord has too many or too few strings, a word that is no fret, or strikes no string.
    """
    count = len(instrument_of(wiring.instrument)[0].strings)
    words = text.replace(",", " ").split()
    good = all(word.lower() == "x" or (word.isdecimal() and int(word) <= MOST_FRET) for word in words)
    if len(words) != count or not good or all(word.lower() == "x" for word in words):
        allowed = f"{count} frets from 0 to {MOST_FRET}, or x for a string that is not struck"
        raise InputError(where, text, allowed)
    return tuple(None if word.lower() == "x" else int(word) for word in words)
