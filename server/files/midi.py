"""Read MIDI files (Standard MIDI Files 1.0), broken and hostile ones too.

The chunks are walked here, so that a damaged file is described by its track; the events of each track
are read by the library.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from dsp.errors import InputError
from dsp.takes.midi.song import Kind, Message, Song
from server.files.existing import system_errors_of

MIDI_FILES = (".mid", ".midi", ".smf")
LARGEST = 512 * 1024
"""Most bytes: an hour of dense playing has 200,000."""
MOST_TRACKS = 256
LONGEST_TICK = 1 << 31
HEADER, TRACK, WRAPPED = b"MThd", b"MTrk", b"RIFF"
HEADER_BYTES, CHUNK_BYTES = 14, 8
FRAMES = {24: 24.0, 25: 25.0, 29: 30_000.0 / 1001.0, 30: 30.0}
"""Frames per second by the number that the division holds; 29 is 30 drop-frame."""
ALLOWED = "a Standard MIDI File"


def read_song(path: Path) -> Song:
    """Read a MIDI file.

    Raises
    ------
    InputError
        If it is none, is damaged, or is larger than a performance can be.
    """
    where = str(path)
    with system_errors_of(path):
        size = path.stat().st_size
        if size > LARGEST:
            raise InputError(where, f"{size} bytes", f"a MIDI file up to {LARGEST} bytes")
        data = path.read_bytes()
    return parse_song(data, where)


def parse_song(data: bytes, where: str) -> Song:
    """Read the bytes of a MIDI file.

    Raises
    ------
    InputError
        As `read_song`.
    """
    form, declared, division, body = _header(data, where)
    warnings: list[str] = []
    messages: list[Message] = []
    names: list[str] = []
    for number, content in enumerate(_tracks(body, declared, where, warnings), start=1):
        name = ""
        tick = 0
        for event in _events(content, f"{where}: track {number}"):
            tick += event.time
            if tick > LONGEST_TICK:
                got = f"an event {tick} ticks after the start"
                raise InputError(f"{where}: track {number}", got, f"up to {LONGEST_TICK}")
            if event.type == "track_name":
                name = " ".join(event.name.split())[:60]
            messages += _message(event, tick, number)
        names.append(name)
    if form == 2 and len(names) > 1:
        got = f"type 2: {len(names)} patterns that are not played together"
        raise InputError(where, got, "type 0 or 1: one performance")
    messages.sort(key=lambda one: one.tick)  # stable: a tick's messages stay in the order of the tracks
    ticks_per_s = 0.0
    if division < 0:
        frames, in_frame = -(division >> 8), division & 0xFF
        if frames not in FRAMES or not in_frame:
            got = f"a division of {frames} frames per second and {in_frame} ticks per frame"
            raise InputError(where, got, "24, 25, 29 or 30 frames, 1 or more ticks")
        ticks_per_s = FRAMES[frames] * in_frame
    elif division == 0:
        raise InputError(where, "a division of 0 ticks", "1 to 32767 ticks per quarter note")
    return Song(tuple(messages), tuple(names), max(division, 0), ticks_per_s, tuple(warnings))


def _header(data: bytes, where: str) -> tuple[int, int, int, bytes]:
    """Return type, number of tracks, division, and the chunks after the header."""
    if data[:4] == WRAPPED:
        raise InputError(where, "a MIDI file wrapped in RIFF", ALLOWED, "save it as a plain .mid")
    if data[:4] != HEADER:
        got = "an empty file" if not data else "no MThd at its start"
        raise InputError(where, got, ALLOWED)
    if len(data) < HEADER_BYTES:
        raise InputError(where, f"a header that ends after {len(data)} bytes", ALLOWED)
    size, form, tracks, division = struct.unpack(">LHHh", data[4:HEADER_BYTES])
    if size < HEADER_BYTES - CHUNK_BYTES or form > 2:
        raise InputError(where, f"a header of {size} bytes, type {form}", "6 bytes or more, type 0, 1 or 2")
    return form, tracks, division, data[CHUNK_BYTES + size :]


def _tracks(body: bytes, declared: int, where: str, warnings: list[str]) -> Iterator[bytes]:
    """Yield the content of each track; chunks of other kinds are passed over, as the standard asks."""
    at = found = 0
    while len(body) - at >= CHUNK_BYTES:
        name, size = body[at : at + 4], int.from_bytes(body[at + 4 : at + CHUNK_BYTES])
        content = body[at + CHUNK_BYTES : at + CHUNK_BYTES + size]
        at += CHUNK_BYTES + size
        if name != TRACK:
            continue
        found += 1
        if found > MOST_TRACKS:
            raise InputError(where, f"more than {MOST_TRACKS} tracks", f"up to {MOST_TRACKS}")
        if len(content) < size:
            got = f"{len(content)} bytes of {size}: the file breaks off"
            raise InputError(f"{where}: track {found}", got, "a whole file")
        yield content
    if found < declared:
        raise InputError(where, f"{found} tracks where the header says {declared}", "a whole file")
    if found > declared:
        warnings.append(f"the header says {declared} tracks, the file has {found}; all are read")


def _events(content: bytes, where: str) -> list[Any]:
    """Return the events of one track."""
    from mido import MidiFile

    alone = HEADER + struct.pack(">LHHH", 6, 0, 1, 96) + TRACK + struct.pack(">L", len(content)) + content
    try:
        return list(MidiFile(file=io.BytesIO(alone)).tracks[0])
    except EOFError as error:
        raise InputError(where, "an event that breaks off at the track's end", "a whole file") from error
    except Exception as error:  # the library raises many kinds, some its own
        got = f"an event that cannot be read ({str(error)[:80]})"
        raise InputError(where, got, "events of MIDI 1.0") from error


def _message(event: Any, tick: int, track: int) -> Iterator[Message]:
    match event.type:
        case "note_on" | "note_off":
            kind: Kind = "on" if event.type == "note_on" and event.velocity else "off"
            yield Message(tick, track, kind, event.channel + 1, event.note, event.velocity)
        case "pitchwheel":
            yield Message(tick, track, "bend", event.channel + 1, event.pitch)
        case "control_change":
            yield Message(tick, track, "control", event.channel + 1, event.control, event.value)
        case "set_tempo" if event.tempo:
            yield Message(tick, track, "tempo", number=event.tempo)
        case "time_signature" if event.numerator and event.denominator:
            yield Message(tick, track, "meter", number=event.numerator, value=event.denominator)
