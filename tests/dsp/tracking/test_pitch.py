"""Pitch, notes and partials of lines with known values."""

from __future__ import annotations

import numpy as np
import pytest
from plucked_line import LINE, Pluck, heard
from tolerances import NOTE_CENT, NOTE_ONSET_S, NOTE_STIFFNESS

from dsp.tracking.notes import Note, find_notes
from dsp.tracking.partials import fit_partials
from dsp.tracking.pitch import RATE_HZ, track_pitch

RANGE_HZ = 56.0, 1000.0


def notes_of(samples: np.ndarray) -> tuple[Note, ...]:
    return find_notes(track_pitch(samples, *RANGE_HZ), samples)


@pytest.mark.parametrize("place_m", [0.04, 0.176])
def test_every_note_is_found_where_it_is(place_m: float) -> None:
    """Near the bridge, where the fundamental is weak, and near the neck."""
    samples = heard(LINE, [place_m], RATE_HZ)[0]
    track = track_pitch(samples, *RANGE_HZ)
    assert track.clear_share > 0.9
    notes = find_notes(track, samples)
    assert len(notes) == len(LINE)
    for note, truth in zip(notes, LINE, strict=True):
        assert note.start_s == pytest.approx(truth.start_s, abs=NOTE_ONSET_S)
        assert note.steady
        assert 1200.0 * abs(np.log2(note.lowest_hz / truth.pitch_hz)) < NOTE_CENT
        assert note.stiffness == pytest.approx(truth.b, rel=NOTE_STIFFNESS)


def test_partials_tell_a_wrong_stiffness_from_a_right_one() -> None:
    """The twin: a string stiffer by a little more than the tolerance is measured as stiffer."""
    note = Pluck(0.0, 0.8, 110.0)
    stiffer = Pluck(0.0, 0.8, 110.0, 0, note.stiffness * (1.0 + 1.2 * NOTE_STIFFNESS))
    found = [fit_partials(heard([one], [0.04], RATE_HZ)[0], RATE_HZ, 110.3) for one in (note, stiffer)]
    assert found[0] is not None
    assert found[1] is not None
    assert found[0][1] == pytest.approx(note.b, rel=0.1 * NOTE_STIFFNESS)
    assert found[1][1] != pytest.approx(note.b, rel=NOTE_STIFFNESS)


def test_a_bend_is_one_note_that_moves() -> None:
    t = np.arange(RATE_HZ) / RATE_HZ
    hz = 196.0 * 2.0 ** (np.clip((t - 0.3) / 0.3, 0.0, 1.0) * 2.0 / 12.0)
    phase = 2.0 * np.pi * np.cumsum(hz) / RATE_HZ
    samples = sum(np.sin(n * phase) / n for n in range(1, 15)) * np.exp(-t)
    (note,) = notes_of(samples)
    assert not note.steady
    for time_s in (0.15, 0.45, 0.8):
        true_hz = float(np.interp(time_s, t, hz))
        assert 1200.0 * abs(np.log2(note.pitch_at(time_s) / true_hz)) < 12.0  # steps of 10 and the frame


def test_noise_and_silence_have_no_clear_pitch() -> None:
    noise = np.random.default_rng(1).standard_normal(2 * RATE_HZ)
    track = track_pitch(noise, *RANGE_HZ)
    assert track.loud.all()
    assert track.clear_share < 0.25  # measured 0.16: chance runs of a few frames
    silence = track_pitch(np.zeros(RATE_HZ), *RANGE_HZ)
    assert silence.clear_share == 0.0
    assert find_notes(silence, np.zeros(RATE_HZ)) == ()


def test_progress_is_reported_from_start_to_end() -> None:
    shares: list[float] = []
    samples = np.tile(heard([Pluck(0.0, 0.5, 110.0)], [0.04], RATE_HZ)[0], 12)
    track_pitch(samples, *RANGE_HZ, progress=shares.append)
    assert len(shares) >= 3
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_seams_between_pieces_do_not_show() -> None:
    """A note across the seam at 5 s is tracked like any other."""
    samples = heard([Pluck(4.0, 2.0, 146.832)], [0.06], RATE_HZ)[0]
    track = track_pitch(samples, *RANGE_HZ)
    inside = track.pitch_hz[round(4.2 / track.hop_s) : round(5.8 / track.hop_s)]
    assert np.all(np.isfinite(inside))
    assert 1200.0 * np.log2(np.max(inside) / np.min(inside)) <= 20.0


@pytest.mark.parametrize("seconds", [0.0, pytest.param(0.01, marks=pytest.mark.long), 0.05])
def test_hardly_any_samples(seconds: float) -> None:
    samples = np.sin(np.arange(round(seconds * RATE_HZ)) * 0.1)
    assert find_notes(track_pitch(samples, *RANGE_HZ), samples) is not None
    assert fit_partials(samples, RATE_HZ, 100.0) is None
