"""Notes of MIDI files: releases, pedal, bends and their range."""

from __future__ import annotations

import pytest
from midi_bytes import bend, control, midi, off, on, track

from dsp.errors import InputError
from dsp.takes.midi import sounding
from dsp.takes.midi.sounding import MidiNote, notes_in, pick
from dsp.takes.midi.timing import Timing
from server.files.midi import parse_song


def read(*events: tuple[int, bytes], pedals: bool = True) -> tuple[tuple[MidiNote, ...], tuple[str, ...]]:
    """Return the notes of a track; 1,000 ticks last a second."""
    song = parse_song(midi(track(*events), division=500), "riff.mid")
    return notes_in(song, Timing(song), pedals=pedals)


def test_a_note_on_of_no_velocity_releases() -> None:
    (note,), _ = read((0, on(60)), (500, on(60, 0)), (500, off(60)))
    assert (note.start_s, note.end_s) == (0.0, 0.5)


def test_a_key_struck_again_ends_the_note_before() -> None:
    notes, remarks = read((0, on(60)), (300, on(60)), (300, off(60)))
    assert [(one.start_s, one.end_s) for one in notes] == [(0.0, 0.3), (0.3, 0.6)]
    assert not remarks


def test_the_pedal_holds_what_is_released() -> None:
    events = [(0, control(64, 127)), (0, on(60)), (200, off(60)), (800, control(64, 0))]
    (held,), said = read(*events)
    assert held.end_s == 1.0
    assert said == ("the sustain pedal lets 1 note ring on",)
    (plain,), said = read(*events, pedals=False)
    assert plain.end_s == 0.2
    assert said == ("the sustain pedal is ignored",)


def test_what_is_never_released_ends_with_the_file() -> None:
    (note,), said = read((0, on(60)), (700, control(7, 100)))
    assert note.end_s == 0.7
    assert said == ("1 note that the file never releases: ended with the file",)


def test_a_bend_has_two_semitones_until_its_range_is_set() -> None:
    """General MIDI: the range is 2 semitones; registered parameter 0 0 sets it, then data entry."""
    (note,), _ = read((0, on(60)), (100, bend(1.0)), (100, bend(0.0)), (100, off(60)))
    assert note.highest == pytest.approx(2.0, abs=0.001)
    ranged = [(0, control(101, 0)), (0, control(100, 0)), (0, control(6, 12)), (0, control(38, 50))]
    (note,), _ = read(*ranged, (0, on(60)), (100, bend(-0.5)), (100, off(60)))
    assert note.lowest == pytest.approx(-6.25)


def test_another_parameter_leaves_the_range_alone() -> None:
    others = [(0, control(101, 0)), (0, control(100, 1)), (0, control(6, 12)), (0, control(99, 1))]
    (note,), _ = read(*others, (0, control(6, 9)), (0, on(60)), (50, bend(0.5)), (50, off(60)))
    assert note.highest == pytest.approx(1.0)


def test_a_bend_moves_its_own_channel_from_its_own_time() -> None:
    notes, _ = read(
        (0, bend(0.5)), (0, on(60)), (0, on(67, channel=2)), (400, bend(0.0)), (400, off(60)), (0, off(67, 2))
    )
    assert notes[0].bends == ((0.0, 1.0), (pytest.approx(0.37), 1.0), (0.4, 0.0))
    assert notes[1].bends == ()


def test_notes_off_and_reset_are_heard() -> None:
    notes, said = read(
        (0, on(60)), (0, on(64)), (300, control(123, 0)), (300, on(60)), (100, control(120, 0))
    )
    assert [one.end_s for one in notes] == [0.3, 0.3, 0.7]
    assert not said
    (note,), _ = read((0, bend(1.0)), (0, control(121, 0)), (0, on(60)), (100, off(60)))
    assert note.bends == ()


def test_percussion_is_left_out_unless_it_is_named() -> None:
    notes, _ = read((0, on(36, channel=10)), (0, on(60)), (100, off(36, 10)), (0, off(60)))
    played, said = pick(notes, (), ())
    assert [one.key for one in played] == [60]
    assert said == ("1 note on channel 10, percussion, left out",)
    assert [one.key for one in pick(notes, (), (10,))[0]] == [36]


def test_a_wheel_that_never_rests_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sounding, "MOST_MOVED", 3)
    with pytest.raises(InputError, match="more than 3"):
        read((0, on(60)), *((1, bend(0.1 * step)) for step in range(6)), (1, off(60)))
