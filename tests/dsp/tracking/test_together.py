"""Several notes at once, noise and lone tones are told from the single notes of a line."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from plucked_line import LINE, Pluck, heard

from dsp.tracking.notes import Note, find_notes
from dsp.tracking.pitch import RATE_HZ, track_pitch
from dsp.tracking.together import NO_NOTE, SEVERAL, UNTOLD, Passage, find_passages, leave_out

Floats = NDArray[np.float64]
RANGE_HZ = (56.6, 1100.0)
PICKUP_M = 0.05


def line(plucks: list[Pluck] | tuple[Pluck, ...]) -> Floats:
    """Return a line as one coil senses it, peak 1."""
    samples = heard(plucks, [PICKUP_M], RATE_HZ)[0]
    return samples / np.max(np.abs(samples))


def passages(samples: Floats) -> tuple[Passage, ...]:
    """Track samples and find the passages that are no single notes."""
    return find_passages(find_notes(track_pitch(samples, *RANGE_HZ), samples), samples)


def chord(semitones: tuple[float, ...], root_hz: float, seed: int) -> Floats:
    """Return notes strummed within 40 ms, each of its own strength."""
    rng = np.random.default_rng(seed)
    strings = [
        line([Pluck(0.1 + 0.01 * i, 1.1, root_hz * 2.0 ** (up / 12.0))]) for i, up in enumerate(semitones)
    ]
    samples = np.zeros(max(map(len, strings)))
    for one in strings:
        samples[: len(one)] += rng.uniform(0.6, 1.0) * one
    return samples


def with_noise(samples: Floats, noise_db: float, hum_db: float, seed: int) -> Floats:
    rng, loud = np.random.default_rng(seed), float(np.sqrt(np.mean(np.square(samples))))
    t = np.arange(len(samples)) / RATE_HZ
    hum = sum(np.sin(2.0 * np.pi * 50.0 * n * t + n) / n for n in (1, 2, 3, 4, 6))
    return (
        samples
        + loud * 10.0 ** (noise_db / 20.0) * rng.standard_normal(len(samples))
        + loud * 10.0 ** (hum_db / 20.0) * hum
    )


@pytest.mark.parametrize("seed", [1, 2])
def test_a_line_has_none_with_hum_and_noise_at_minus_40_db(seed: int) -> None:
    assert passages(with_noise(line(LINE[:4] if seed == 1 else LINE[4:]), -40.0, -40.0, seed)) == ()


@pytest.mark.parametrize(
    ("curve", "name"),
    [
        (lambda t: 0.4 * np.sin(2.0 * np.pi * 5.5 * t), "vibrato"),
        (lambda t: 2.0 * np.clip((t - 0.5) / 0.2, 0.0, 1.0), "bend"),
        (lambda t: -5.0 * np.clip((t - 0.5) / 0.25, 0.0, 1.0), "slide"),
    ],
    ids=["vibrato", "bend", "slide"],
)
def test_a_moving_pitch_is_one_note(curve, name: str) -> None:  # type: ignore[no-untyped-def]
    t = np.arange(round(1.4 * RATE_HZ)) / RATE_HZ
    phase = 2.0 * np.pi * np.cumsum(196.0 * 2.0 ** (curve(t) / 12.0)) / RATE_HZ
    samples = sum(np.sin(n * phase) / n * np.exp(-(1.0 + 0.3 * n) * t) for n in range(1, 15))
    assert passages(np.pad(samples, 1600)) == (), name


@pytest.mark.parametrize(
    ("semitones", "root_hz"),
    [((0, 6), 98.0), ((0, 7), 82.4), ((0, 10), 130.8), ((0, 4, 7), 110.0), ((0, 7, 12, 16, 19, 24), 82.4)],
)
def test_dyads_and_chords_are_told(semitones: tuple[float, ...], root_hz: float) -> None:
    samples = chord(semitones, root_hz, seed=len(semitones))
    notes = find_notes(track_pitch(samples, *RANGE_HZ), samples)
    left = leave_out(notes, find_passages(notes, samples))
    assert sum(note.end_s - note.start_s for note in left) < 0.15  # unclear from the start, or told


@pytest.mark.parametrize("up", [12, 19])
def test_an_octave_and_a_twelfth_are_not_told(up: int) -> None:
    """Every partial of the upper note is one of the lower: known, and documented as a limit."""
    assert passages(chord((0, up), 110.0, seed=3)) == ()


def test_a_chord_within_a_line_is_named_by_its_time() -> None:
    """The fifth rings from 2.1 to 3.2 s."""
    strings = [heard([Pluck(0.1, 1.1, 110.0, fret)], [PICKUP_M], RATE_HZ)[0] for fret in (0, 7)]
    fifth = strings[0] + np.pad(strings[1], (0, max(0, len(strings[0]) - len(strings[1]))))[: len(strings[0])]
    samples = np.zeros(round(4.6 * RATE_HZ))
    for at_s, part in ((0.0, line(LINE[:4])), (2.0, fifth), (3.2, line(LINE[:3]))):
        first = round(at_s * RATE_HZ)
        part = part[: min(round((2.0 if at_s != 2.0 else 1.2) * RATE_HZ), len(samples) - first)]
        samples[first : first + len(part)] += part
    (found,) = passages(samples)
    assert found.why == SEVERAL
    assert found.start_s == pytest.approx(2.1, abs=0.35)
    assert found.end_s == pytest.approx(3.2, abs=0.3)


def _noise() -> Floats:
    return np.random.default_rng(5).standard_normal(3 * RATE_HZ)


def _tone(hz: float) -> Floats:
    return np.pad(np.sin(2.0 * np.pi * hz * np.arange(2 * RATE_HZ) / RATE_HZ), 1600)


@pytest.mark.parametrize(
    "samples", [_noise(), _tone(3000.0), _tone(440.0)], ids=["white noise", "3 kHz", "440 Hz"]
)
def test_noise_and_lone_tones_are_no_notes_of_a_string(samples: Floats) -> None:
    (found,) = passages(samples)
    assert found.why == NO_NOTE
    assert (found.start_s, found.end_s) == (0.0, len(samples) / RATE_HZ)


def test_silence_has_none() -> None:
    assert find_passages((), np.zeros(100)) == ()
    assert find_passages((), np.zeros(0)) == ()


def test_a_note_that_dies_in_noise_at_once_cannot_be_told() -> None:
    samples = np.zeros(RATE_HZ)
    samples[:200] = 1.0
    note = Note(0.0, 0.9, np.array([0.0]), np.array([110.0]))
    (found,) = find_passages((note,), samples + 1e-4 * np.random.default_rng(1).standard_normal(RATE_HZ))
    assert found.why == UNTOLD


@pytest.mark.parametrize(("missing", "several"), [((), False), ((1, 5, 7, 11, 13), True), ((1,), False)])
def test_notes_on_a_common_fundamental_leave_its_partials_out(
    missing: tuple[int, ...], several: bool
) -> None:
    """A fifth makes partials 2, 4, 6 … and 3, 6, 9 … of a fundamental that no string has."""
    t = np.arange(RATE_HZ) / RATE_HZ
    numbers = [n for n in range(1, 15) if n not in missing]
    samples = sum(np.sin(2.0 * np.pi * 110.0 * n * t + n) / n for n in numbers)
    note = Note(0.0, 1.0, np.array([0.0]), np.array([110.0]))
    assert bool(find_passages((note,), samples)) == several


def test_a_passage_cuts_the_notes_it_meets() -> None:
    note = Note(1.0, 3.0, np.array([1.0]), np.array([110.0]))
    later = Note(3.0, 4.0, np.array([3.0]), np.array([147.0]))
    left = leave_out((note, later), (Passage(1.5, 2.5, SEVERAL),))
    assert [(one.start_s, one.end_s) for one in left] == [(1.0, 1.5), (2.5, 3.0), (3.0, 4.0)]
    assert leave_out((note, later), (Passage(0.0, 3.95, SEVERAL),)) == ()
