"""MIDI notes on an instrument: strings by number, forces, bends, and all that cannot be played."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from midi_bytes import bend, chord, control, melody, midi, off, on, track

from dsp.errors import InputError
from dsp.parts.instrument import Instrument
from dsp.strings.note import Movement
from dsp.takes.midi.arrange import Arrangement, Midi, arrange, seconds_of
from dsp.takes.midi.sounding import notes_in
from dsp.takes.midi.timing import Timing
from dsp.takes.player import instrument_of, notes_of
from dsp.takes.score import Event
from server.files.midi import parse_song

SIX, _ = instrument_of(None)
EXACT = {"timing_s": 0.0, "dynamics_db": 0.0, "place_m": 0.0, "angle_deg": 0.0, "tuning_cents": 0.0}


def arranged(data: bytes, instrument: Instrument = SIX, **options: object) -> Arrangement:
    song = parse_song(data, "riff.mid")
    timing = Timing(song)
    midi_take = replace(Midi(), **options)
    notes, _ = notes_in(song, timing, pedals=midi_take.pedals)
    found = arrange(notes, timing, midi_take, instrument, "riff")
    assert found.score.seconds == pytest.approx(seconds_of(notes, midi_take))
    return found


def frets(events: tuple[Event, ...]) -> list[tuple[int, int]]:
    return [(one.string, one.fret) for one in events]


def problems(data: bytes, **options: object) -> list[str]:
    with pytest.raises(InputError) as caught:
        arranged(data, **options)
    return [str(one) for one in caught.value.problems]


def test_a_channel_is_a_string() -> None:
    """The highest string on the first channel, as MIDI 1.0's mode 4 numbers a guitar's."""
    data = midi(*(melody([key], channel=channel) for channel, key in ((1, 64), (2, 64), (6, 45))))
    assert frets(arranged(data, strings="channels").score.events) == [(1, 0), (2, 5), (6, 5)]
    other = midi(melody([64], channel=11), melody([45], channel=16))
    ordered = arranged(other, strings="channels", order=tuple(range(11, 17)))
    assert frets(ordered.score.events) == [(1, 0), (6, 5)]


def test_a_track_is_a_string() -> None:
    data = midi(track((0, b"\xff\x03\x01a")), melody([64]), melody([64]))
    assert frets(arranged(data, strings="tracks").score.events) == [(1, 0), (2, 5)]
    low_first = arranged(midi(melody([41]), melody([50])), strings="tracks", order=(9, 8, 7, 6, 2, 1))
    assert frets(low_first.score.events) == [(6, 1), (5, 5)]


def test_velocity_is_force_as_downloadable_sounds_has_it() -> None:
    """DLS level 1: 40 log10(velocity / 127) dB; half the velocity is 12 dB softer."""
    data = midi(track((0, on(60, 126)), (240, off(60)), (0, on(62, 63)), (240, off(62))))
    loud, soft = (one.force for one in arranged(data).score.events)
    assert 20.0 * np.log10(soft / loud) == pytest.approx(-12.04, abs=0.01)


def test_silence_before_the_first_note_is_left_out_and_lengths_are_kept() -> None:
    data = midi(track((960, on(60)), (480, off(60)), (240, on(62)), (120, off(62))))
    found = arranged(data).score
    assert [(one.beat, one.length) for one in found.events] == [(0.0, 0.5), (0.75, 0.125)]
    assert found.beat_s == 1.0


def test_the_tempo_map_is_followed() -> None:
    slow = (0, bytes.fromhex("FF51030F4240"))
    data = midi(track((0, on(60)), (480, off(60)), slow, (0, on(62)), (480, off(62))))
    assert [(one.beat, one.length) for one in arranged(data).score.events] == [(0.0, 0.5), (0.5, 1.0)]


def test_a_bend_reaches_the_string_model() -> None:
    data = midi(track((0, on(64)), (240, bend(1.0)), (240, bend(0.0)), (240, off(64))))
    found = arranged(data).score
    assert found.events[0].fret > 0
    note = notes_of(replace(found, **EXACT), SIX, "riff")[0]
    assert isinstance(note.movement, Movement)
    at_s = np.array([0.0, 0.21, 0.25, 0.4, 0.51])
    semitones = 12.0 * np.log2(note.movement.speed_ratio(at_s))
    assert semitones == pytest.approx([0.0, 0.0, 2.0, 2.0, 0.0], abs=0.01)


def test_a_bend_downward_starts_from_a_lower_fret_that_is_bent() -> None:
    data = midi(track((0, on(62)), (240, bend(-1.0)), (240, off(62))))
    event = arranged(data).score.events[0]
    assert SIX_KEYS[6 - event.string] + event.fret == 60
    assert event.bent[0] == (0.0, 2.0)
    assert event.bent[-1][1] == pytest.approx(0.0, abs=0.001)


SIX_KEYS = (40, 45, 50, 55, 59, 64)


def test_all_that_cannot_be_played_is_said_at_once() -> None:
    data = midi(
        track(
            *chord([60]),
            *chord([30]),
            *chord([100]),
            *chord([52, 56, 59, 62, 64, 67, 71]),
            *chord([41, 42]),
            (0, on(40)),
            (60, bend(-1.0)),
            (60, off(40)),
        )
    )
    said = problems(data)
    assert [text.partition(": got ")[0] for text in said] == [
        "riff: bar 1, beat 2 (0.5 s)",
        "riff: bar 1, beat 3 (1.0 s)",
        "riff: bar 1, beat 4 (1.5 s)",
        "riff: bar 2, beat 1 (2.0 s)",
        "riff: bar 2, beat 2 (2.5 s)",
    ]
    assert "F#1; allowed: E2 and above, the lowest open string" in said[0]
    assert "E7; allowed: up to D6, fret 22 of the highest string" in said[1]
    assert "7 notes at once" in said[2]
    assert "F2 F#2 at once, which no hand holds" in said[3]
    assert "E2 bent downward as an open string" in said[4]
    left = arranged(data, leave_out=True)
    assert len(left.left_out) == 5
    assert len(left.score.events) == 1 + 6 + 1


def test_a_span_that_is_too_wide_loses_as_little_as_it_must() -> None:
    said = problems(midi(track(*chord([41, 53, 60, 76]))))
    assert len(said) == 1
    assert "would go" in said[0]
    left = arranged(midi(track(*chord([41, 53, 60, 76]))), leave_out=True)
    assert len(left.score.events) == 3


def test_a_wider_reach_takes_it() -> None:
    data = midi(track(*chord([41, 56])), division=480)
    low = Instrument(SIX.scale_m, SIX.strings[:2])
    with pytest.raises(InputError):
        arranged(data, low)
    assert len(arranged(data, low, reach_m=0.3).score.events) == 2


def test_two_notes_on_one_string_are_told_and_a_long_one_is_cut() -> None:
    both = midi(track(*chord([65, 67])))
    assert "F4 and G4 at once on string 1" in problems(both, strings="channels")[0]
    data = midi(track((0, on(65)), (480, on(67)), (480, off(65)), (0, off(67))))
    found = arranged(data, strings="channels")
    assert found.score.events[0].length == pytest.approx(0.5)
    assert found.remarks == ("1 note cut short by the next on the same string",)


def test_a_channel_without_a_string_is_told() -> None:
    said = problems(midi(melody([64], channel=9)), strings="channels")
    assert (
        "E4 on channel 9, which is no string; allowed: channels of the strings: 1, 2, 3, 4, 5, 6" in said[0]
    )


def test_transposing_brings_a_file_onto_a_lower_instrument() -> None:
    data = midi(melody([35, 47]))
    low = Instrument(0.686, SIX.strings)
    assert "B1" in problems(data)[0]
    assert [one.fret for one in arranged(data, low, transpose=5).score.events] == [0, 2]


def test_many_problems_are_counted() -> None:
    said = problems(midi(melody([30] * 50)))
    assert len(said) == 22
    assert "30 more up to here" in said[20]
    assert "nothing that can be played" in said[21]


def test_the_range_of_a_bend_is_followed_to_its_limit() -> None:
    ranged = [(0, control(101, 0)), (0, control(100, 0)), (0, control(6, 12))]
    data = midi(track(*ranged, (0, on(60)), (240, bend(1.0)), (240, off(60))))
    assert "C4 bent over 12.0 semitones; allowed: up to 5" in problems(data)[0]
