"""What a score sounds like, in words with times: captions for whoever reads along."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import log2

from dsp.parts.instrument import Instrument
from dsp.takes.player import strings_struck
from dsp.takes.score import Event, Score

SHORTEST_S = 2.0
"""A caption stands this long, so that it can be read."""
MOST_WORDS = 16
"""Notes and chords that a caption names."""
CHORD = 3
"""Strings struck together, from which on they are called a chord."""
NOTES = ("C", "C♯", "D", "D♯", "E", "F", "F♯", "G", "G♯", "A", "A♯", "B")


@dataclass(frozen=True)
class Caption:
    """Words for a stretch of a take, s."""

    start_s: float
    end_s: float
    text: str


def note_name(pitch_hz: float) -> str:
    """Return the nearest note of equal temperament, A4 = 440 Hz.

    Examples
    --------
    >>> note_name(61.74), note_name(187.0)
    ('B1', 'F♯3')
    """
    semitone = round(69.0 + 12.0 * log2(pitch_hz / 440.0))
    return f"{NOTES[semitone % 12]}{semitone // 12 - 1}"


def score_captions(score: Score, instrument: Instrument) -> tuple[Caption, ...]:
    """Caption a score as an instrument plays it.

    Parameters
    ----------
    instrument : Instrument
        With strings.

    Returns
    -------
    tuple of Caption
        In order, without gaps from the first pluck to the end of the take.
    """
    struck = list(_struck(score, instrument))
    found: list[tuple[float, list[Struck]]] = []
    while struck:
        start_s = struck[0].at_s
        here = [one for one in struck if one.at_s < start_s + SHORTEST_S]
        struck = struck[len(here) :]
        if not struck and found and score.seconds - start_s < SHORTEST_S / 2:  # too short to read by itself
            found[-1][1].extend(here)
        else:
            found.append((start_s, here))
    ends_s = [*(start_s for start_s, _ in found[1:]), score.seconds][: len(found)]
    return tuple(Caption(at_s, end_s, _text(here)) for (at_s, here), end_s in zip(found, ends_s, strict=True))


@dataclass(frozen=True)
class Struck:
    """What is struck at a time, s, in words, and how it is played."""

    at_s: float
    words: str
    is_chord: bool
    manners: frozenset[str]


def _struck(score: Score, instrument: Instrument) -> Iterator[Struck]:
    """Yield a note, a few, or a chord at a time, in order."""
    events = sorted(score.events, key=lambda event: event.beat)
    for beat, together in groupby(events, key=lambda event: event.beat):
        sounding = [
            (min(instrument.strings[i].pitch_hz for i in strings) * 2.0 ** (event.fret / 12.0), event)
            for event in together
            if (strings := strings_struck(score, event, len(instrument.strings)))
        ]
        if not sounding:
            continue
        here = [event for _, event in sounding]
        names = [_name(hz, event) for hz, event in sorted(sounding, key=lambda one: one[0]) if not event.dead]
        is_chord = len(names) >= CHORD
        words = (" " if is_chord else " with ").join(names) or "a thud"
        yield Struck(beat * score.beat_s, words, is_chord, frozenset(_manners(here)))


def _name(pitch_hz: float, event: Event) -> str:
    """Return the note of an event, and where it moves."""
    name = note_name(pitch_hz * event.harmonic)
    for moved, word in ((event.slide, "sliding"), (event.bend, "bent")):
        if moved is not None:
            name += f" {word} to {note_name(pitch_hz * 2.0 ** (moved.semitones / 12.0))}"
    return name


def _manners(events: Sequence[Event]) -> Iterator[str]:
    """Yield how events are played, where that is heard."""
    if all(event.mute > 0.0 for event in events):
        yield "palm-muted"
    if all(event.harmonic > 1 for event in events):
        yield "harmonics"
    if any(event.vibrato is not None for event in events):
        yield "with vibrato"


def _text(struck: Sequence[Struck]) -> str:
    """Say in one line what is struck: notes one after the other, the same chord again counted."""
    parts: list[str] = []
    for is_chord, group in groupby(struck[:MOST_WORDS], key=lambda one: one.is_chord):
        if is_chord:
            counted = [(words, len(list(again))) for words, again in groupby(one.words for one in group)]
            parts += [f"chord {words}{f' ×{count}' if count > 1 else ''}" for words, count in counted]
        else:
            parts.append(" ".join(one.words for one in group))
    text = ", ".join(parts) + (" …" if len(struck) > MOST_WORDS else "")
    manners = [
        manner if all(manner in one.manners for one in struck) else f"some {manner}"
        for manner in sorted(frozenset().union(*(one.manners for one in struck)))
    ]
    return f"{text} ({', '.join(manners)})" if manners else text
