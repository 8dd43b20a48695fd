"""Identify the string of a note by the comb of a known source and by its stiffness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dsp.parts.instrument import Instrument
from dsp.tracking.notes import Note
from dsp.tracking.partials import fit_partials
from dsp.tracking.places import HIGHEST_FRET, Place, choose_string, fret_of, partial_hz, place_of, sensed
from dsp.tracking.sensor import Sensor

Floats = NDArray[np.float64]

LEAD_S, LONGEST_S = 0.01, 0.2
"""The measured stretch: the start of a note, with strong upper partials and before any bend."""
TOP_HZ = 5000.0
MOST_PARTIALS, FEWEST = 30, 8
DEEPEST_DB = -30.0
"""Notches are compared down to this level; noise and the neighbours' sides fill deeper ones."""
CLEARLY = 0.75
"""Another string must fit better by this factor than the one where the note lies lowest."""
STIFF_DB = 2.0
"""Misfit of a stiffness twice that of the gauge. Neighbouring strings differ two- to fourfold, and a
wound string's stiffness is known within a factor of two."""
COST = 3
"""Terms of the smooth law that partials of a pluck may follow: level, slope, curvature."""


def identify_string(
    note: Note,
    samples: Floats,
    rate_hz: float,
    sensor: Sensor,
    instrument: Instrument,
    allowed: Sequence[int] = (),
) -> int | None:
    """Identify the string that best explains a note's partials in the source.

    A recording without a source shows no string; the note is placed where it lies lowest.

    Parameters
    ----------
    samples : ndarray, shape (n,), any unit
        The recording.
    allowed : sequence of int
        Indices to choose from, 0 the lowest string; empty for all.

    Returns
    -------
    int or None
        Index; None if no string can play the note.
    """
    lowest = choose_string(instrument, note.lowest_hz, allowed)
    if sensor.flat or lowest is None:
        return lowest
    start_s = note.start_s + LEAD_S
    part = samples[round(start_s * rate_hz) : round(min(start_s + LONGEST_S, note.end_s) * rate_hz)]
    pitch_hz = note.pitch_at(start_s + 0.5 * LONGEST_S)
    stiffness = note.stiffness or (fit_partials(part, rate_hz, pitch_hz) or (0.0, None))[1]
    misfits: dict[int, float] = {}
    for i in allowed or range(len(instrument.strings)):
        if 0 <= fret_of(instrument.strings[i], note.lowest_hz) <= HIGHEST_FRET:
            place = place_of(instrument, i, note.lowest_hz, float(max(note.pitch_hz)), pitch_hz)
            measured = replace(place, stiffness=stiffness or place.stiffness)
            stiff_by = STIFF_DB * np.log2(measured.stiffness / place.stiffness)
            misfits[i] = float(np.hypot(_misfit(measured, part, rate_hz, sensor), stiff_by))
    best = min(misfits, key=lambda i: misfits[i])
    return best if misfits[best] < CLEARLY * misfits[lowest] else lowest


def _misfit(place: Place, part: Floats, rate_hz: float, sensor: Sensor) -> float:
    """Distance of the partials, less the source's response, from a smooth law, dB rms."""
    numbers = np.arange(1.0, MOST_PARTIALS + 1)
    at_hz = partial_hz(place, numbers)
    numbers = numbers[at_hz < min(TOP_HZ, 0.45 * rate_hz)]
    at_hz = at_hz[: len(numbers)]
    if len(numbers) < FEWEST or not part.any():
        return 0.0  # too few partials: every string fits alike
    measured = _levels_db(part, rate_hz, at_hz)
    made = _made_db(place, sensor, numbers, at_hz)
    law = np.vander(np.log(numbers), COST)
    left = measured - made
    weights = np.where(np.maximum(measured - np.max(measured), made - np.max(made)) > DEEPEST_DB, 1.0, 0.3)
    fitted = law @ np.linalg.lstsq(law * weights[:, None], left * weights, rcond=None)[0]
    return float(np.sqrt(np.average(np.square(left - fitted), weights=weights)))


def _levels_db(part: Floats, rate_hz: float, at_hz: Floats) -> Floats:
    """Level of the highest peak near each partial, dB, shape as given."""
    size = 1 << int(np.ceil(np.log2(4 * len(part))))
    magnitude = np.abs(np.fft.rfft(part * np.hanning(len(part)), size))
    reach = max(int(0.2 * at_hz[0] / rate_hz * size), 2)
    middles = np.round(at_hz / rate_hz * size).astype(int)
    peaks = np.array([np.max(magnitude[max(m - reach, 0) : m + reach]) for m in middles])
    found: Floats = 20.0 * np.log10(np.maximum(peaks, 1e-6 * np.max(peaks)))
    return np.maximum(found, np.max(found) + DEEPEST_DB)


def _made_db(place: Place, sensor: Sensor, numbers: Floats, at_hz: Floats) -> Floats:
    """Response of the source to each partial, dB, shape as given, notches filled."""
    assert sensor.responses is not None
    shares = np.array([sensed(coil, place, numbers) for coil in sensor.coils])
    there = np.array([np.interp(at_hz, sensor.frequencies_hz, one) for one in sensor.responses])
    power = np.square(np.abs(np.sum(shares * there, axis=0)))
    strong = np.square(np.sum(np.abs(there), axis=0)) * np.max(np.square(shares))
    floor = strong * 10.0 ** (DEEPEST_DB / 10.0) + 1e-30  # a string that ends before the coils has none
    found: Floats = 10.0 * np.log10(power + floor)
    return found
