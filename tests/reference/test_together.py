"""The guard against several notes at once, on real notes: alone, in lines, dyads and chords.

The notes are those of two of Debian's packages (see `real_notes`), mixed by seed. Half of the first package's
notes (every other one) set the guard's limits; the rest and the second package were kept aside until
then, looked at once, and some limits were changed after that. The seed here was used for neither.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import soundfile
from places import DEMO
from real_notes import items, sets_of_notes
from reference.test_real_strings import recording
from scipy.signal import resample_poly

from dsp.tracking.notes import find_notes
from dsp.tracking.pitch import RATE_HZ, track_pitch
from dsp.tracking.together import Passage, find_passages, leave_out

pytestmark = [pytest.mark.reference, pytest.mark.usefixtures("compiled_tracker")]

RANGE_HZ = (56.6, 1108.0)
"""Of the demo baritone."""
SEED, COUNT = 101, 2
LEFT = 0.3
"""Share of its notes' time that a refused item may keep."""


def judge(samples: np.ndarray) -> tuple[tuple[Passage, ...], float]:
    """Return the passages, and the share of the notes' time that stays."""
    notes = find_notes(track_pitch(samples, *RANGE_HZ), samples)
    passages = find_passages(notes, samples)
    seconds = sum(note.end_s - note.start_s for note in notes)
    left = sum(note.end_s - note.start_s for note in leave_out(notes, passages))
    return passages, left / seconds if seconds else 0.0


@pytest.mark.long
def test_single_notes_pass_and_dyads_and_chords_do_not(capsys: pytest.CaptureFixture[str]) -> None:
    total, told, refused = Counter[str](), Counter[str](), Counter[str]()
    missed = []
    for i, (name, notes) in enumerate(sets_of_notes().items()):
        for item in items(notes, name, COUNT, SEED + i):
            passages, left = judge(item.samples)
            total[item.kind] += 1
            told[item.kind] += bool(passages) or left == 0.0
            refused[item.kind] += left < LEFT
            if (left < 1.0) if item.kind in ("single", "line") else (left == 1.0 and item.kind != "octave"):
                missed.append(item.name)
    with capsys.disabled():
        for kind, count in total.items():
            print(f"\n  {kind}: {told[kind]} of {count} told, {refused[kind]} refused whole", end="")
        print(f"\n  wrong: {', '.join(missed)}")
    assert told["single"] + told["line"] <= 0.02 * (total["single"] + total["line"])
    assert told["dyad"] >= 0.9 * total["dyad"]
    assert told["chord"] >= 0.9 * total["chord"]


def _at_tracking_rate(samples: np.ndarray, rate_hz: int) -> np.ndarray:
    shared = int(np.gcd(rate_hz, RATE_HZ))
    return resample_poly(samples, RATE_HZ // shared, rate_hz // shared)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["guit_em9.flac", "guit_e_fifths.flac"])
def test_two_recorded_chords_are_refused_whole(name: str) -> None:
    passages, left = judge(_at_tracking_rate(*recording(name)))
    assert len(passages) == 1
    assert left == 0.0


def test_the_demos_slide_passes() -> None:
    samples, rate_hz = soundfile.read(Path(DEMO / "e_slide.flac"))
    assert judge(_at_tracking_rate(samples, rate_hz)) == ((), 1.0)
