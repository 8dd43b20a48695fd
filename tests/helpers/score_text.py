"""Scores written within a test, and instruments to play them on."""

from __future__ import annotations

from collections.abc import Sequence

from dsp.parts.instrument import GuitarString, Instrument, pitch_hz
from dsp.strings.note import Note
from dsp.takes.player import USUAL_STRINGS, instrument_of, notes_of
from dsp.takes.reading.take import read_take
from dsp.takes.score import Score
from server.files.yaml_text import parse_tree

SIX, _ = instrument_of(None)
SEVEN = Instrument(SIX.scale_m, (GuitarString(pitch_hz("B1"), 1.5e-3, True, "B1"), *USUAL_STRINGS))
TWELVE = Instrument(SIX.scale_m, tuple(string for string in USUAL_STRINGS for _ in range(2)))
EXACT = "timing: 0 s\ndynamics: 0 dB\nplace: 0 mm\nangle: 0\ntuning: 0\n"


def score_text(events: Sequence[str], head: str = EXACT) -> str:
    """Return a take file with the first event after the head. A beat lasts half a second."""
    lines = "".join(f"  - {{{event}}}\n" for event in events)
    return f"format: 1\nname: Test\nkind: score\ntempo: 120\n{head}events:\n{lines}"


def score_of(events: Sequence[str], head: str = EXACT) -> Score:
    """Return the score of such a file."""
    score = read_take(parse_tree(score_text(events, head), "s.yaml"), "s.yaml").score
    assert score is not None
    return score


def played(events: Sequence[str], head: str = EXACT, instrument: Instrument = SIX) -> tuple[Note, ...]:
    """Return its notes on an instrument, in the order in which they sound."""
    return tuple(
        sorted(notes_of(score_of(events, head), instrument, "s.yaml"), key=lambda note: note.start_s)
    )
