"""The demo's scores on the demo's instruments: none stops dead, each ends."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from places import DEMO

from dsp.strings import hands
from dsp.strings.perform import Setup, perform
from dsp.takes.player import instrument_of, notes_of, strings_of
from server.takes.load import load_take
from server.wirings.text import load_wiring

RATE_HZ = 8_000
"""Enough to tell sound from none."""
STEP = 2.0**-23
"""Of a 24-bit file, re the peak."""
SILENT_S = 0.01
"""A pause of zeros that long is a gate's; the wave itself crosses zero within it."""
TAKES = ("low_riff", "lead_line", "double_stops", "arpeggio", "open_chords", "harmonics", "staccato")


def played(take: str, wiring: str) -> NDArray[np.float64]:
    """Return a take's stems from its first pluck on."""
    score = load_take(DEMO / f"{take}.yaml").take.score
    board = load_wiring(DEMO / f"{wiring}.yaml")
    assert score is not None
    instrument, _ = instrument_of(board.instrument)
    notes = notes_of(score, instrument, take)
    setup = Setup(strings_of(score, instrument), list(board.coils.values()), RATE_HZ, score.curvature)
    stems = np.concatenate(list(perform(notes, setup, round(score.seconds * RATE_HZ))), axis=1)
    return stems[:, round(min(note.start_s for note in notes) * RATE_HZ) + 8 :]


def longest_silence_s(stems: NDArray[np.float64]) -> float:
    """Return the longest stretch in which every coil's 24-bit samples are zero."""
    loud = np.abs(stems).max(axis=0) >= 0.5 * STEP * np.abs(stems).max()
    edges = np.flatnonzero(np.concatenate([[True], loud, [True]]))
    return float(np.diff(edges).max() - 1) / RATE_HZ


@pytest.mark.parametrize(
    ("take", "wiring"), [*((take, "baritone") for take in TAKES), ("four_strings", "tenor")]
)
def test_no_take_stops_in_digital_silence(take: str, wiring: str) -> None:
    assert longest_silence_s(played(take, wiring)) < SILENT_S


def test_hands_that_leave_nothing_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """The twin: eight pauses of the staccato are then exact zeros."""
    monkeypatch.setattr(hands, "LEFT_DB", -1000.0)
    assert longest_silence_s(played("staccato", "baritone")) > 5.0 * SILENT_S
