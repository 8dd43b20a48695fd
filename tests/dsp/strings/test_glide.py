"""A pitch that settles after a hard stroke: how far, how fast, and without a broken wave."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from partials import line
from scipy.signal import butter, sosfiltfilt
from score_text import SIX
from string_stems import point_coil
from tolerances import STRETCHED

from dsp.strings.glide import MOST_STEPS, glide_of
from dsp.strings.modes import ONE_PLANE
from dsp.strings.note import Movement, Note
from dsp.strings.perform import Setup, perform
from dsp.strings.tuned import TunedString, tune

RATE_HZ = 48_000
LOW = tune(SIX.strings[0], SIX.scale_m)
STIFF = replace(LOW, stretch_n=0.0)


def heard(string: TunedString, note: Note, seconds: float = 1.5) -> np.ndarray:
    stage = Setup([string], [point_coil(0.16)], RATE_HZ, planes=ONE_PLANE)
    return np.concatenate(list(perform([note], stage, round(seconds * RATE_HZ))), axis=1)[0]


def test_the_stretch_is_that_of_the_curve() -> None:
    """Two partials with their own phases: the length of the curve, integrated over place and time."""
    numbers, bellies_m, length_m = np.array([1.0, 3.0]), np.array([1.5e-3, 0.6e-3]), LOW.length_m
    found = glide_of(LOW, length_m, numbers, bellies_m, np.array([1.0, 2.0]))
    assert found is not None
    x = np.linspace(0.0, length_m, 4001)
    turns = 2.0 * np.pi * (np.arange(64) / 64.0)
    slopes = [
        sum(
            a * n * np.pi / length_m * np.cos(n * np.pi * x / length_m) * np.cos(n * turn)
            for n, a in zip(numbers, bellies_m, strict=True)
        )
        for turn in turns
    ]
    longer = np.mean([np.trapezoid(np.sqrt(1.0 + s**2) - 1.0, x) for s in slopes]) / length_m
    law = np.sqrt(1.0 + LOW.stretch_n * longer / LOW.tension_n)
    assert found.ratios[0] - 1.0 == pytest.approx(law - 1.0, rel=STRETCHED)
    assert 1.05 * (found.ratios[0] - 1.0) != pytest.approx(law - 1.0, rel=STRETCHED)
    assert np.all(np.diff(found.ratios) <= 0.0)
    assert found.ratios[-1] == 1.0


def test_a_faint_stroke_and_a_string_that_does_not_stretch_keep_their_pitch() -> None:
    one = np.array([1.0])
    assert glide_of(LOW, LOW.length_m, one, np.array([1e-5]), one) is None
    assert glide_of(STIFF, LOW.length_m, one, np.array([2e-3]), one) is None


def test_steps_follow_the_glide() -> None:
    one = np.array([1.0])
    found = glide_of(LOW, LOW.length_m, one, np.array([2e-3]), one)
    assert found is not None
    steps = found.steps()
    assert 2 <= len(steps) <= MOST_STEPS + 1
    assert steps[-1] == (float("inf"), 1.0)
    size = (found.ratios[0] - 1.0) / (len(steps) - 0.5)
    start_s = 0.0
    for until_s, ratio in steps[:-1]:
        assert until_s > start_s
        middle = float(found.ratio(np.array([0.5 * (start_s + until_s)]))[0])
        assert abs(ratio - middle) < size
        start_s = until_s


@pytest.mark.parametrize("movement", [None, Movement()])
def test_a_hard_stroke_starts_sharp(movement: Movement | None) -> None:
    """Twice the force, four times the glide; summed in steps or along a moving pitch."""
    sharp = []
    for force in (0.4, 0.8):
        stem = heard(LOW, Note(0, 0.0, force=force, pluck_at_m=0.12, movement=movement))
        first, last = (
            line(stem, RATE_HZ, 4.0 * LOW.pitch_hz, span, 60.0).hz for span in ((0.06, 0.2), (1.1, 1.4))
        )
        sharp.append(1200.0 * np.log2(first / last))
    assert 0.3 < sharp[0] < 2.0
    assert 2.5 < sharp[1] / sharp[0] < 6.0
    still = heard(STIFF, Note(0, 0.0, force=0.8, pluck_at_m=0.12))
    first, last = (
        line(still, RATE_HZ, 4.0 * LOW.pitch_hz, span, 60.0).hz for span in ((0.06, 0.2), (1.1, 1.4))
    )
    assert abs(1200.0 * np.log2(first / last)) < 0.15


def test_steps_of_pitch_break_no_wave() -> None:
    """Phases run on: above the palm-muted partials nothing is heard where the pitch steps."""
    note = Note(0, 0.0, force=1.0, pluck_at_m=0.12, mute=0.15)
    high = butter(8, 8000.0, "high", fs=RATE_HZ, output="sos")
    stems = [heard(string, note, 0.8) for string in (LOW, STIFF)]
    late = slice(round(0.3 * RATE_HZ), None)
    glided, straight = (np.max(np.abs(sosfiltfilt(high, stem)[late])) for stem in stems)
    assert glided < 2.0 * straight + 1e-5 * np.max(np.abs(stems[0][late]))
