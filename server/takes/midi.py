"""Load a MIDI file as a take."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from dsp.errors import InputError
from dsp.takes.midi.arrange import Midi, seconds_of
from dsp.takes.midi.looking import Part, parts_of
from dsp.takes.midi.sounding import MidiNote, count, notes_in, pick
from dsp.takes.midi.timing import Timing
from dsp.takes.model import Take
from dsp.takes.performance import Performance
from dsp.takes.played_midi import PlayedMidi
from dsp.takes.reading.score_fields import LONGEST_S, MOST_EVENTS
from server.files.cache import Cache
from server.files.existing import path_kind
from server.files.midi import read_song
from server.takes.recordings import name_of

MOST_NAMED = 16
"""Tracks that an error names."""


def load_midi(take: Take, folder: Path) -> Performance:
    """Load a take that is a MIDI file.

    Raises
    ------
    InputError
        If the file is missing or damaged, or holds no note, too many, or too long a performance.
    """
    assert take.midi is not None  # the reader gives every take of this kind one
    file = Path(take.audio)
    path = file if file.is_absolute() else folder / file
    if path_kind(path) != "file":
        where = f"{take.where('midi')}: midi" if take.lines else str(path)
        raise InputError(where, f"no such file as {path}", "a MIDI file, relative to the take file")
    picked = read_picked(path, take.midi)
    require_playable(picked, take.midi, str(path))
    return PlayedMidi(take, Cache(), picked.notes, picked.timing, name=name_of(take), warnings=picked.remarks)


@dataclass(frozen=True)
class Picked:
    """The notes of a MIDI file that are played.

    Attributes
    ----------
    notes : tuple of MidiNote
        By time.
    parts : tuple of Part
        All that the file holds.
    remarks : tuple of str
        What was passed over.
    """

    notes: tuple[MidiNote, ...]
    timing: Timing
    parts: tuple[Part, ...]
    remarks: tuple[str, ...]


def read_picked(path: Path, midi: Midi) -> Picked:
    """Read the notes of a MIDI file that a take plays.

    Raises
    ------
    InputError
        If the file is damaged or none.
    """
    song = read_song(path)
    timing = Timing(song)
    every, remarks = notes_in(song, timing, pedals=midi.pedals)
    notes, left_out = pick(every, midi.tracks, midi.channels)
    return Picked(notes, timing, parts_of(every, song), (*remarks, *left_out))


def require_playable(picked: Picked, midi: Midi, where: str) -> None:
    """Refuse a file with no note to play, or more than a take may hold.

    Parameters
    ----------
    where : str
        The file, for errors.

    Raises
    ------
    InputError
    """
    notes, parts = picked.notes, _in_words(picked.parts)
    if not notes:
        every = sum(part.notes for part in picked.parts)
        got = f"{count(every, 'note')}, none of them played" if every else "no note"
        raise InputError(where, got, f"a note in the tracks and channels that are played: {parts}")
    if len(notes) > MOST_EVENTS:
        allowed = f"up to {MOST_EVENTS}: choose with tracks or channels: {parts}"
        raise InputError(where, f"{len(notes)} notes", allowed)
    if seconds_of(notes, midi) > LONGEST_S:
        allowed = f"up to {LONGEST_S:.0f} s from the first note to the end"
        raise InputError(where, f"{seconds_of(notes, midi):.0f} s", allowed)


def _in_words(parts: tuple[Part, ...]) -> str:
    """List what a file holds: its tracks with notes, their channels and how many they have."""
    found = []
    for part in parts[:MOST_NAMED]:
        channels = ", ".join(map(str, part.channels))
        name = f" ({part.name})" if part.name else ""
        found.append(f"track {part.track}{name}, channel {channels}: {count(part.notes, 'note')}")
    return "; ".join(found) or "the file has none"
