"""MIDI files: the standard's own examples, and what is damaged or hostile."""

from __future__ import annotations

from pathlib import Path

import pytest
from midi_bytes import END, FORMAT_0, FORMAT_1, length, melody, midi, on, track

from dsp.errors import InputError
from dsp.takes.midi.song import Message, Song
from dsp.takes.midi.sounding import notes_in
from dsp.takes.midi.timing import Timing
from server.files.midi import LARGEST, parse_song, read_song

QUANTITIES = {
    0x00: "00",
    0x40: "40",
    0x7F: "7F",
    0x80: "81 00",
    0x2000: "C0 00",
    0x3FFF: "FF 7F",
    0x4000: "81 80 00",
    0x100000: "C0 80 00",
    0x1FFFFF: "FF FF 7F",
    0x200000: "81 80 80 00",
    0x8000000: "C0 80 80 00",
    0xFFFFFFF: "FF FF FF 7F",
}
"""The table of variable-length quantities in Standard MIDI Files 1.0 (RP-001)."""


def problem_of(data: bytes) -> str:
    with pytest.raises(InputError) as caught:
        parse_song(data, "riff.mid")
    return str(caught.value)


@pytest.mark.reference
@pytest.mark.parametrize("number", QUANTITIES)
def test_variable_length_quantities_are_those_of_the_standard(number: int) -> None:
    written = bytes.fromhex(QUANTITIES[number])
    content = written + on(60) + b"\0" + END
    song = parse_song(midi(b"MTrk" + len(content).to_bytes(4) + content, form=0), "riff.mid")
    assert [message.tick for message in song.messages] == [number]
    assert length(number) == written, "the tests' own writer"


@pytest.mark.reference
@pytest.mark.parametrize(("data", "tracks"), [(FORMAT_0, (1, 1, 1, 1)), (FORMAT_1, (4, 4, 3, 2))])
def test_the_example_of_the_standard(data: bytes, tracks: tuple[int, ...]) -> None:
    """RP-001: 4/4 at 120; C3 and C4 forte, then G4 mezzo forte, then E5 piano, all to the end of the bar."""
    song = parse_song(data, "example.mid")
    timing = Timing(song)
    notes, remarks = notes_in(song, timing, pedals=True)
    found = [(one.channel, one.key, one.velocity, one.start_s, one.end_s) for one in notes]
    assert found == [
        (3, 48, 96, 0.0, 2.0),
        (3, 60, 96, 0.0, 2.0),
        (2, 67, 64, 0.5, 2.0),
        (1, 76, 32, 1.0, 2.0),
    ]
    assert tuple(one.track for one in notes) == tracks
    assert timing.place(384) == "bar 2, beat 1 (2.0 s)"
    assert not remarks


def test_frames_give_seconds_whatever_the_tempo() -> None:
    """SMPTE: 25 frames of 40 ticks make a tick a millisecond, as the standard says."""
    tempo = bytes.fromhex("FF51030F4240")
    song = parse_song(midi(track((0, tempo), (1500, on(60))), division=0xE728), "riff.mid")
    assert Timing(song).seconds(song.messages[-1].tick) == pytest.approx(1.5)
    assert Timing(song).place(1500) == "1.5 s"


def test_thirty_drop_frame_is_a_little_slower() -> None:
    song = parse_song(midi(track((0, on(60))), division=0xE301), "riff.mid")
    assert Timing(song).seconds(30_000) == pytest.approx(1001.0)


def test_chunks_of_other_kinds_and_a_longer_header_are_passed_over() -> None:
    data = b"MThd" + (8).to_bytes(4) + bytes.fromhex("0000 0001 01E0 FFFF") + b"XFIH\0\0\0\2ab" + melody([60])
    assert len(parse_song(data, "riff.mid").messages) == 2


def test_a_bar_cut_short_by_a_new_meter_counts() -> None:
    messages = (
        Message(0, 1, "meter", number=4, value=4),
        Message(3 * 480, 1, "meter", number=6, value=8),
        Message(3 * 480, 1, "tempo", number=1_000_000),
    )
    timing = Timing(Song(messages, ("",), ticks_per_quarter=480))
    assert timing.place(3 * 480) == "bar 2, beat 1 (1.5 s)"
    assert timing.place(3 * 480 + 240 * 7) == "bar 3, beat 2 (5.0 s)"


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "an empty file"),
        (b"RIFF\0\0\0\0RMID", "wrapped in RIFF"),
        (b"fLaC and more", "no MThd"),
        (FORMAT_0[:10], "a header that ends after 10 bytes"),
        (FORMAT_0[:-9], "riff.mid: track 1: got 50 bytes of 59: the file breaks off"),
        (FORMAT_1[:42], "1 tracks where the header says 4"),
        (midi(melody([60]), melody([62]), form=2), "type 2: 2 patterns"),
        (midi(melody([60]), division=0), "a division of 0 ticks"),
        (midi(melody([60]), division=0x8000), "frames per second"),
        (midi(b"MTrk\0\0\0\2\0\x90"), "breaks off at the track's end"),
        (midi(b"MTrk\0\0\0\4\0\x90\xff\xff"), "cannot be read"),
        (midi(b"MTrk\0\0\0\7\0\xff\x51\x82\x80\x80\x00"), "track 1"),
        (midi(track(*(((0xFFFFFFF, on(60)),) * 9))), "ticks after the start"),
        (midi(*(melody([]),) * 300), "more than 256 tracks"),
    ],
)
def test_what_cannot_be_read_is_said(data: bytes, says: str) -> None:
    assert says in problem_of(data)


def test_every_cut_of_a_file_is_refused_or_read() -> None:
    for end in range(len(FORMAT_1)):
        assert "riff.mid" in problem_of(FORMAT_1[:end])


def test_every_flipped_byte_is_refused_or_read() -> None:
    """Nothing but an InputError comes out of a damaged file."""
    for place in range(len(FORMAT_0)):
        for change in (0x01, 0x80, 0xFF):
            damaged = bytearray(FORMAT_0)
            damaged[place] ^= change
            try:
                song = parse_song(bytes(damaged), "riff.mid")
            except InputError:
                continue
            notes_in(song, Timing(song), pedals=True)


def test_a_file_of_a_million_events_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "black.mid"
    path.write_bytes(midi(b"MTrk" + (LARGEST).to_bytes(4) + b"\0\x90\x3c\x40" * (LARGEST // 4)))
    with pytest.raises(InputError, match=f"up to {LARGEST} bytes"):
        read_song(path)
