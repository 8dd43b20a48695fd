"""Response curves as the page draws them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import knob_grid, respond
from dsp.errors import InputError, nearest
from dsp.parts.pot import KNOB_TOP
from dsp.strings.sensing import coil_sensitivity, place_factor
from dsp.takes.player import instrument_of
from dsp.wiring.model import Setting, Wiring

BAND_HZ = (20.0, 20_000.0)
LOWEST_DB = -160.0
"""Stands for silence: JSON has no minus infinity."""
FAN_POINTS = 240
EVENNESS_HZ = (80.0, 8000.0)
"""Band in which the steps of a fan are compared: that of a guitar's strings."""


def response_json(
    wiring: Wiring, settings: Sequence[Setting], *, points: int, string: int | None
) -> dict[str, Any]:
    """Return the levels of every coil and their sum, dB re one coil's EMF.

    Parameters
    ----------
    points : int
        Frequencies, evenly spaced on a logarithmic scale.
    string : int or None
        The string of the sum, from 1, the lowest; every coil senses it at its own place. None
        for the same EMF in all coils.
    """
    hz = np.geomspace(*BAND_HZ, points)
    coil = respond(wiring, settings, hz).coil
    together = np.einsum("kf,skf->sf", emf_of(wiring, hz, string), coil)
    return {
        "frequencies_hz": _rounded(hz, 4),
        "settings": [
            {
                "together_db": _level(together[i]),
                "coils": {name: _level(coil[i, k]) for k, name in enumerate(wiring.coils)},
            }
            for i in range(len(settings))
        ],
    }


def fan_json(wiring: Wiring, setting: Setting, knob: str, *, steps: int) -> dict[str, Any]:
    """Return the levels along a knob's travel, and the size of every step.

    Parameters
    ----------
    steps : int
        Values from 0 to 10, both included.

    Raises
    ------
    InputError
        If there is no such knob.
    """
    if knob not in wiring.knobs:
        allowed = ", ".join(wiring.knobs) or "none here"
        raise InputError("knob", f"'{knob}'", allowed, nearest(knob, wiring.knobs))
    hz, values = np.geomspace(*BAND_HZ, FAN_POINTS), np.linspace(0.0, KNOB_TOP, steps)
    grid = knob_grid(wiring, setting, {knob: values}, hz)
    together = np.einsum("kf,skf->sf", emf_of(wiring, hz, None), grid)
    return {
        "frequencies_hz": _rounded(hz, 4),
        "curves": [
            {"value": round(float(value), 3), "together_db": _level(row)}
            for value, row in zip(values, together, strict=True)
        ],
        "evenness": evenness(together, hz),
    }


def evenness(together: Complex, hz: Floats) -> list[float]:
    """Return how far each curve is from the one before, RMS in dB.

    Parameters
    ----------
    together : ndarray, shape (n_values, n_freqs)
    hz : ndarray, shape (n_freqs,), Hz
    """
    inside = (hz >= EVENNESS_HZ[0]) & (hz <= EVENNESS_HZ[1])
    levels = [_decibel(row[inside]) for row in together]
    return [round(float(np.sqrt(np.mean((b - a) ** 2))), 3) for a, b in pairwise(levels)]


def emf_of(wiring: Wiring, hz: Floats, string: int | None) -> Floats:
    """Return each coil's relative EMF, (n_coils, n_freqs), mean about 1.

    Parameters
    ----------
    hz : ndarray, shape (n_freqs,), Hz
    string : int or None
        As for `response_json`.

    Raises
    ------
    InputError
        If there is no such string.
    """
    coils = list(wiring.coils.values())
    if string is None:
        plain = np.array([coil.string_sign * coil.sensitivity for coil in coils])
        return np.repeat((plain / _mean(plain))[:, None], len(hz), axis=1)
    instrument, _ = instrument_of(wiring.instrument)
    if not 1 <= string <= len(instrument.strings):
        raise InputError("string", str(string), f"1 to {len(instrument.strings)}, from the lowest")
    chosen = instrument.strings[string - 1]
    numbers = hz / chosen.pitch_hz
    size = np.array([coil_sensitivity(coil, string - 1) for coil in coils])
    places = [
        np.ones(len(hz))
        if coil.at_m is None
        else place_factor(coil.at_m, coil.aperture_m, numbers, instrument.scale_m)
        for coil in coils
    ]
    found: Floats = (size / _mean(size))[:, None] * np.array(places)
    return found


def _mean(size: Floats) -> float:
    return float(np.mean(np.abs(size))) or 1.0


def _level(response: Complex) -> list[float]:
    return _rounded(_decibel(response), 3)


def _decibel(response: Complex) -> Floats:
    level: Floats = 20.0 * np.log10(np.maximum(np.abs(response), 10.0 ** (LOWEST_DB / 20.0)))
    return level


def _rounded(values: Floats, digits: int) -> list[float]:
    found: list[float] = np.round(values, digits).tolist()
    return found
