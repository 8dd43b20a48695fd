"""What people read about a filtered recording: what was tracked and what was raised."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from dsp.takes.model import COIL_PLACES_LEFT_OUT
from dsp.tracking.pitch import Track
from dsp.tracking.sensor import MOST_BOOST_DB, Sensor
from dsp.tracking.together import NO_NOTE, SEVERAL, UNTOLD, Passage

LIES_LOWEST = "where it lies lowest on the neck"
FITS_BEST = "that fits its partials and the source's coils best, or where it lies lowest on the neck"
AUDIBLE_HZ = (20.0, 20_000.0)
WHOLE_WITHIN_S = 0.1
"""A passage this close to the take's length is the whole take."""
_VERDICTS = {
    UNTOLD: f"cannot tell, {UNTOLD.removesuffix(' to tell')}",
    SEVERAL: f"{SEVERAL}; coil places are left out",
    NO_NOTE: f"{NO_NOTE}; coil places are left out",
}
OCTAVES = "a note an octave or a twelfth above another is not heard apart: one string has all its partials"
MOST_SPANS = 3
"""Passages that a label names one by one."""


def tracking_remarks(tracks: Mapping[str, Track], *, guessed: str = "") -> Iterator[str]:
    """State how much of each line had a clear pitch.

    Parameters
    ----------
    tracks : mapping of str to Track
        By the line's name, such as ``string 6``.
    guessed : str
        How each note's string was chosen, if it is an assumption.
    """
    for name, track in tracks.items():
        if not track.loud.any():
            continue
        yield (
            f"{name}: pitch clear in {100.0 * track.clear_share:.0f} % of the sounding time;"
            " elsewhere coil places are left out"
        )
    if guessed:
        yield f"each note is placed on the string {guessed}; strings: […] in the take file overrides this"


def places_left_out(otherwise: str, passages: Sequence[Passage], length_s: float) -> str:
    """Return the label of coil places, with the passages that have none.

    Parameters
    ----------
    otherwise : str
        The label without passages.
    length_s : float
        Length of the take.
    """
    if not passages:
        return otherwise
    if covers_all(passages, length_s):
        return f"{COIL_PLACES_LEFT_OUT} ({passages[0].why})"
    spans = [f"from {one.start_s:.1f} to {one.end_s:.1f} s ({one.why})" for one in passages[:MOST_SPANS]]
    more = len(passages) - MOST_SPANS
    rest = f" and in {more} more passage{'s' if more > 1 else ''}" if more > 0 else ""
    return f"{otherwise}; not modelled {', '.join(spans)}{rest}"


def covers_all(passages: Sequence[Passage], length_s: float) -> bool:
    """Whether one passage is the whole take."""
    return len(passages) == 1 and passages[0].end_s - passages[0].start_s > length_s - WHOLE_WITHIN_S


def passage_remarks(passages: Sequence[Passage], length_s: float) -> Iterator[str]:
    """Say which passages are no single line, and what to write instead."""
    for one in passages:
        where = "" if covers_all(passages, length_s) else f"from {one.start_s:.1f} to {one.end_s:.1f} s "
        advice = "; write line: chords for a recording of chords" if one.why == SEVERAL else ""
        yield f"the line: {where}{one.why}, and coil places are left out{advice}"


def verdict_lines(verdicts: Sequence[Passage]) -> tuple[str, ...]:
    """Say of each stretch of a line what it is, and what is never told.

    Parameters
    ----------
    verdicts : sequence of Passage
        From `find_verdicts`.

    Returns
    -------
    tuple of str
        Empty without verdicts.
    """
    if not verdicts:
        return ()
    spans = (f"{one.start_s:.1f} to {one.end_s:.1f} s: {_VERDICTS.get(one.why, one.why)}" for one in verdicts)
    return (*spans, OCTAVES)


def division_remarks(sensor: Sensor) -> Iterator[str]:
    """State by how much a source was raised, and where it could not be."""
    if sensor.flat:
        return
    freqs_hz = sensor.frequencies_hz
    audible = (freqs_hz >= AUDIBLE_HZ[0]) & (freqs_hz <= AUDIBLE_HZ[1])
    boost_db = sensor.boost_db()[audible]
    freqs_hz, strength = freqs_hz[audible], sensor.strength()
    yield f"the recording's own wiring is divided out: raised by up to {np.max(boost_db):.0f} dB"
    lacking = 20.0 * np.log10(np.max(strength) / np.maximum(strength[audible], 1e-30))
    beyond = freqs_hz[lacking > MOST_BOOST_DB]
    if len(beyond):
        yield f"raised by no more than {MOST_BOOST_DB:.0f} dB; {_span(beyond)} would need more"
    if sensor.signal_left is not None:
        lost = freqs_hz[(sensor.signal_left[audible] < 0.5) & (lacking > 1.0)]
        if len(lost):
            yield f"not raised where the recording has no signal above its noise: {_span(lost)}"


def _span(freqs_hz: np.ndarray[tuple[int], np.dtype[np.float64]]) -> str:
    """A set of frequencies by its ends."""
    low, high = _hz(float(freqs_hz[0])), _hz(float(freqs_hz[-1]))
    return f"{low} to {high}"


def _hz(value: float) -> str:
    return f"{value / 1000.0:.1f} kHz" if value >= 1000.0 else f"{value:.0f} Hz"
