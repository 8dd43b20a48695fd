"""Convert notes to pieces: which filter applies when, as the pitch of a line moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import log2

from dsp.parts.instrument import Instrument
from dsp.tracking.clear import clear_shares
from dsp.tracking.filtering import Piece
from dsp.tracking.notes import Note
from dsp.tracking.pitch import RATE_HZ, Floats
from dsp.tracking.places import Place, place_of

ONSET_FADE_S = 0.003
"""Fade from note to note; it ends where the new note begins."""
UNCLEAR_FADE_S = 0.04
"""Fade to and from the filter for an unclear pitch."""
GLIDE_STEP_S = 0.01
GLIDE_CENTS = 3.0
"""Steps in time and pitch that follow a moving pitch. At the 30th partial of a coil a quarter up
the string, 3 cents turn the comb by 2 degrees."""


def pieces_of(
    notes: Sequence[Note],
    strings: Sequence[int | None],
    instrument: Instrument,
    rate_hz: int,
    samples: Floats | None = None,
) -> tuple[Piece, ...]:
    """Return the pieces of a line: a `Place` each, or None for unclear pitch.

    Parameters
    ----------
    notes : sequence of Note
        In order, not overlapping.
    strings : sequence of int or None
        Index of the string of each note, 0 the lowest; None if no string can play it.
    rate_hz : int
        Rate of the samples that pieces count.
    samples : ndarray, shape (n,), any unit, or None
        The recording at the rate of the tracking, in which partials of steady notes are measured.

    Returns
    -------
    tuple of Piece
        The first starts at sample 0. A note without a string counts as unclear.
    """
    fade = round(UNCLEAR_FADE_S * rate_hz)
    pieces = [Piece(0, 0, None)]
    free = 0  # first sample where a new fade may start
    sounding_to = 0
    for note, string in zip(notes, strings, strict=True):
        if string is None:
            continue
        start, end = round(note.start_s * rate_hz), round(note.end_s * rate_hz)
        if pieces[-1].voice is not None and start - sounding_to > 2 * fade:
            pieces.append(Piece(max(sounding_to, free), fade, None))
            free = pieces[-1].start + fade
        over = fade if pieces[-1].voice is None else round(ONSET_FADE_S * rate_hz)
        first = True
        for at, place in _places(note, instrument, string, rate_hz, samples):
            begin = max(start - over, free, 0) if first else max(at, free)
            if begin >= end:
                break
            length = over if first else round(GLIDE_STEP_S * rate_hz)
            pieces.append(Piece(begin, length, place))
            free, first = begin + length, False
        sounding_to = end
    if pieces[-1].voice is not None:
        pieces.append(Piece(max(sounding_to, free), fade, None))
    return _from_zero(pieces)


def _places(
    note: Note, instrument: Instrument, string: int, rate_hz: int, samples: Floats | None
) -> list[tuple[int, Place]]:
    """Sample and sounding string each time the pitch has moved by a step."""
    high = float(max(note.pitch_hz))

    def place(pitch_hz: float) -> Place:
        return place_of(instrument, string, note.lowest_hz, high, pitch_hz, note.stiffness)

    if note.steady:
        steady = place(note.lowest_hz)
        if samples is not None:
            heard = samples[round(note.start_s * RATE_HZ) : round(note.end_s * RATE_HZ)]
            steady = replace(steady, clear=clear_shares(heard, RATE_HZ, steady))
        return [(round(note.start_s * rate_hz), steady)]
    found: list[tuple[int, Place]] = []
    before = 0
    for i in range(int((note.end_s - note.start_s) / GLIDE_STEP_S) + 1):
        time_s = note.start_s + i * GLIDE_STEP_S
        step = round(1200.0 * log2(note.pitch_at(time_s) / note.lowest_hz) / GLIDE_CENTS)
        if not found or step != before:
            pitch_hz = note.lowest_hz * 2.0 ** (step * GLIDE_CENTS / 1200.0)
            found.append((round(time_s * rate_hz), place(pitch_hz)))
            before = step
    return found


def _from_zero(pieces: list[Piece]) -> tuple[Piece, ...]:
    """Pieces without a first one that a piece at sample 0 replaces."""
    if len(pieces) > 1 and pieces[1].start == 0:
        return (Piece(0, 0, pieces[1].voice), *pieces[2:])
    return tuple(pieces)
