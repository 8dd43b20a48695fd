"""Captions of a score: every note named by its pitch, each caption long enough to read."""

from __future__ import annotations

from itertools import pairwise

import pytest

from dsp.parts.instrument import pitch_hz
from dsp.takes.captions import SHORTEST_S, note_name, score_captions
from dsp.takes.player import instrument_of
from dsp.takes.score import Event, Glide, Score, Vibrato

INSTRUMENT, _ = instrument_of(None)


def said(*events: Event) -> list[str]:
    return [one.text for one in score_captions(Score(60.0, events), INSTRUMENT)]


@pytest.mark.parametrize(
    ("name", "hz"), [("A4", 440.0), ("C4", 261.626), ("F♯3", 184.997), ("E2", 82.407), ("B1", 61.735)]
)
def test_notes_by_the_standard_table(name: str, hz: float) -> None:
    """Equal temperament with A4 = 440 Hz (ISO 16:1975); the table's frequencies, five digits."""
    assert note_name(hz) == name
    assert note_name(hz * 2.0 ** (0.4 / 12.0)) == name
    assert pitch_hz(name.replace("♯", "#")) == pytest.approx(hz, rel=1e-5)


def test_a_chord_and_single_notes_are_told_apart() -> None:
    chord = [Event(0.0, string, 0, delay_s=0.01 * i) for i, string in enumerate((6, 5, 4))]
    assert said(*chord, Event(4.0, 1, 3), Event(8.0, 2), Event(8.0, 1)) == [
        "chord E2 A2 D3", "G4", "B3 with E4",
    ]  # fmt: skip


def test_how_a_note_is_played_is_said_where_it_is_heard() -> None:
    assert said(Event(0.0, 6, mute=0.4)) == ["E2 (palm-muted)"]
    assert said(Event(0.0, 6, mute=0.4), Event(0.5, 6)) == ["E2 E2 (some palm-muted)"]
    assert said(Event(0.0, 6, harmonic=2)) == ["E3 (harmonics)"]
    assert said(Event(0.0, 6, dead=True)) == ["a thud"]
    assert said(Event(0.0, 3, 2, bend=Glide(2.0), vibrato=Vibrato(0.3))) == ["A3 bent to B3 (with vibrato)"]
    assert said(Event(0.0, 6, 3, slide=Glide(2.0))) == ["G2 sliding to A2"]


def test_a_chord_up_and_down_is_one_chord() -> None:
    strum = [Event(0.5 * k, string, up=k % 2 == 1) for k in range(3) for string in (1, 2, 3)]
    assert said(*strum, Event(1.75, 6)) == ["chord G3 B3 E4 ×3, E2"]
    assert said(*(Event(0.0, string, dead=True) for string in (1, 2, 3))) == ["a thud"]


def test_fast_notes_share_a_caption() -> None:
    fast = [Event(0.25 * i, 6, 0 if i < 5 else 3) for i in range(16)]
    found = score_captions(Score(60.0, tuple(fast)), INSTRUMENT)
    assert found[0].text == "E2 E2 E2 E2 E2 G2 G2 G2"
    assert all(one.end_s - one.start_s >= SHORTEST_S for one in found)
    assert found[-1].end_s == Score(60.0, tuple(fast)).seconds
    assert all(one.end_s == other.start_s for one, other in pairwise(found))


def test_a_string_that_the_instrument_lacks_is_not_heard() -> None:
    assert said(Event(0.0, 9), Event(3.0, 1)) == ["E4"]
