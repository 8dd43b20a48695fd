"""What a MIDI file holds and how an instrument plays it, before it becomes a take."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from dsp.errors import InputError, Problem
from dsp.parts.instrument import Instrument
from dsp.takes.midi.arrange import Arrangement, Midi, arrange
from dsp.takes.midi.board import Board, board_of
from dsp.takes.midi.song import Song
from dsp.takes.midi.sounding import MidiNote
from dsp.takes.midi.timing import Timing
from dsp.takes.score import Event

LEAST_NUMBERS = 4
"""Channels or tracks that may be strings: of fewer, several voices of one song are likelier."""


@dataclass(frozen=True)
class Part:
    """A track with notes.

    Attributes
    ----------
    track : int
        From 1.
    name : str
        Empty if the file gives none.
    channels : tuple of int
        Those of its notes, lowest first.
    notes : int
        How many it has.
    """

    track: int
    name: str
    channels: tuple[int, ...]
    notes: int


@dataclass(frozen=True)
class Look:
    """How an instrument plays the notes of a file.

    Attributes
    ----------
    strings : str
        What decides the string of a note, as in `Midi`.
    on : tuple of int
        Notes on each string or course, that of string 1 (the highest) first.
    left_out : tuple of Problem
        What cannot be played.
    remarks : tuple of str
        What is played otherwise than written.
    """

    strings: str
    on: tuple[int, ...]
    left_out: tuple[Problem, ...]
    remarks: tuple[str, ...]


def parts_of(notes: Collection[MidiNote], song: Song) -> tuple[Part, ...]:
    """List the tracks of a file that have notes, in its order."""
    found = []
    for track in sorted({note.track for note in notes}):
        own = [note for note in notes if note.track == track]
        channels = tuple(sorted({note.channel for note in own}))
        found.append(Part(track, song.tracks[track - 1], channels, len(own)))
    return tuple(found)


def look_at(notes: Sequence[MidiNote], timing: Timing, midi: Midi, instrument: Instrument, file: str) -> Look:
    """Lay notes on an instrument's strings, and find out what decides them.

    Channels, or else tracks, decide where each of them fits a string of its own; otherwise a hand does.

    Parameters
    ----------
    notes : sequence of MidiNote
        By time.
    instrument : Instrument
        With strings.
    file : str
        Name of the MIDI file, for errors.
    """
    board = board_of(instrument, midi.head.courses, midi.highest_fret, midi.reach_m)
    for strings in ("channels", "tracks"):
        found = _one_a_string(notes, timing, replace(midi, strings=strings), instrument, board)
        if found is not None:
            return _look(strings, found, board)
    by_hand = replace(midi, strings="hand", leave_out=True)
    try:
        return _look("hand", arrange(notes, timing, by_hand, instrument, file), board)
    except InputError as error:
        return Look("hand", (0,) * len(board.keys), error.problems, ())


def _look(strings: str, found: Arrangement, board: Board) -> Look:
    played = [event.string for event in found.score.events]
    on = tuple(played.count(string) for string in range(1, len(board.keys) + 1))
    return Look(strings, on, found.left_out, found.remarks)


def _one_a_string(
    notes: Sequence[MidiNote], timing: Timing, midi: Midi, instrument: Instrument, board: Board
) -> Arrangement | None:
    """Return the notes on the strings of their channels or tracks; None where these are no strings."""
    by_track = midi.strings == "tracks"
    numbers = {note.track if by_track else note.channel for note in notes}
    if not LEAST_NUMBERS <= len(numbers) <= len(board.keys):
        return None
    try:
        found = arrange(notes, timing, replace(midi, leave_out=False), instrument, "")
    except InputError:
        return None
    within_reach = not found.remarks and _within_reach(found.score.events, board)
    return found if within_reach else None


def _within_reach(events: Sequence[Event], board: Board) -> bool:
    """Return whether frets that are held down together lie where one hand reaches."""
    held: list[Event] = []
    for event in events:
        held = [one for one in held if one.beat + (one.length or 0.0) > event.beat]
        if event.fret:
            held.append(event)
        frets = [one.fret for one in held]
        if frets and board.span_m(min(frets), max(frets)) > board.reach_m:
            return False
    return True
