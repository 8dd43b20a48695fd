"""What each stretch of a line is: one note, several, none, or not told."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from dsp.tracking.notes import Note
from dsp.tracking.pitch import RATE_HZ
from dsp.tracking.remarks import OCTAVES, verdict_lines
from dsp.tracking.together import SEVERAL, SINGLE, UNTOLD, Passage, find_passages, find_verdicts

SECONDS = 1.0


def string(hz: float, seconds: float) -> np.ndarray:
    """Return a plucked string's harmonics, each dying faster than the one below."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return np.asarray(sum(np.sin(2 * np.pi * n * hz * t + n) * np.exp(-n * t) / n for n in range(1, 11)))


def note(start_s: float, hz: float, seconds: float = SECONDS) -> Note:
    at = np.array([start_s, start_s + seconds])
    return Note(start_s, start_s + seconds, at, np.array([hz, hz]))


def line(*sounds: np.ndarray) -> np.ndarray:
    return np.concatenate(sounds)


FIFTH = string(110.0, SECONDS) + string(165.0, SECONDS)
OCTAVE = string(110.0, SECONDS) + string(220.0, SECONDS)
TWELFTH = string(110.0, SECONDS) + string(330.0, SECONDS)


def kinds(samples: np.ndarray, notes: list[Note]) -> list[str]:
    return [one.why for one in find_verdicts(notes, samples)]


def test_a_fifth_between_single_notes_is_a_stretch_of_its_own() -> None:
    samples = line(string(146.8, SECONDS), FIFTH, FIFTH, string(196.0, SECONDS), string(146.8, SECONDS))
    notes = [note(k * SECONDS, hz) for k, hz in enumerate((146.8, 110.0, 110.0, 196.0, 146.8))]
    found = find_verdicts(notes, samples)
    assert [one.why for one in found] == [SINGLE, SEVERAL, SINGLE]
    assert (found[0].start_s, found[-1].end_s) == (0.0, 5 * SECONDS)
    assert abs(found[1].start_s - SECONDS) < 0.15
    assert abs(found[1].end_s - 3 * SECONDS) < 0.15
    assert find_passages(notes, samples) == (found[1],)
    assert all(one.end_s <= other.start_s for one, other in pairwise(found))


def test_an_octave_and_a_twelfth_are_not_told_and_the_lines_say_so() -> None:
    for dyad in (OCTAVE, TWELFTH):
        assert kinds(line(dyad, dyad), [note(0.0, 110.0), note(SECONDS, 110.0)]) == [SINGLE]
    assert verdict_lines((Passage(0.0, 2.0, SINGLE),))[-1] == OCTAVES
    assert "octave or a twelfth" in OCTAVES


def test_a_note_too_soft_to_judge_is_not_called_single() -> None:
    """30 dB below the loudest, where noise and hum come near."""
    samples = line(string(146.8, SECONDS), 10 ** (-30 / 20) * string(196.0, SECONDS), string(146.8, SECONDS))
    notes = [note(k * SECONDS, hz) for k, hz in enumerate((146.8, 196.0, 146.8))]
    assert kinds(samples, notes) == [SINGLE, UNTOLD, SINGLE]
    loud = line(string(146.8, SECONDS), string(196.0, SECONDS), string(146.8, SECONDS))
    assert kinds(loud, notes) == [SINGLE]


def test_the_lines_name_every_stretch_by_its_time() -> None:
    told = verdict_lines((Passage(0.0, 1.24, SINGLE), Passage(1.3, 3.0, SEVERAL), Passage(3.0, 3.2, UNTOLD)))
    assert told == (
        "0.0 to 1.2 s: one note at a time",
        "1.3 to 3.0 s: several notes ring together; coil places are left out",
        "3.0 to 3.2 s: cannot tell, too short or soft",
        OCTAVES,
    )
    assert verdict_lines(()) == ()
