"""Load a MIDI file as a take."""

from __future__ import annotations

from pathlib import Path

from dsp.errors import InputError
from dsp.takes.midi.arrange import Midi, seconds_of
from dsp.takes.midi.song import Song
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
    song = read_song(path)
    timing = Timing(song)
    every, remarks = notes_in(song, timing, pedals=take.midi.pedals)
    notes, left_out = pick(every, take.midi.tracks, take.midi.channels)
    _check(notes, every, song, take.midi, str(path))
    return PlayedMidi(take, Cache(), notes, timing, name=name_of(take), warnings=(*remarks, *left_out))


def _check(
    notes: tuple[MidiNote, ...], every: tuple[MidiNote, ...], song: Song, midi: Midi, where: str
) -> None:
    """Refuse a file with no note to play, or more than a take may hold."""
    if not notes:
        got = "no note" if not every else f"{count(len(every), 'note')}, none of them played"
        raise InputError(
            where, got, f"a note in the tracks and channels that are played: {_parts(every, song)}"
        )
    if len(notes) > MOST_EVENTS:
        allowed = f"up to {MOST_EVENTS}: choose with tracks or channels: {_parts(every, song)}"
        raise InputError(where, f"{len(notes)} notes", allowed)
    if seconds_of(notes, midi) > LONGEST_S:
        allowed = f"up to {LONGEST_S:.0f} s from the first note to the end"
        raise InputError(where, f"{seconds_of(notes, midi):.0f} s", allowed)


def _parts(notes: tuple[MidiNote, ...], song: Song) -> str:
    """List what a file holds: its tracks with notes, their channels and how many they have."""
    found = []
    for track in sorted({note.track for note in notes})[:16]:
        own = [note for note in notes if note.track == track]
        channels = ", ".join(str(one) for one in sorted({note.channel for note in own}))
        name = f" ({song.tracks[track - 1]})" if song.tracks[track - 1] else ""
        found.append(f"track {track}{name}, channel {channels}: {count(len(own), 'note')}")
    return "; ".join(found) or "the file has none"
