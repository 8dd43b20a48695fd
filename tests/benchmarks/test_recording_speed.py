"""Speed of tracking and filtering a recording, as a share of the allowed time."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.timing import best_s
from plucked_line import LINE, heard

from dsp.parts.coil import Coil
from dsp.tracking.filtering import Line, Piece, Size, run_pieces
from dsp.tracking.notes import find_notes
from dsp.tracking.pitch import RATE_HZ, track_pitch
from dsp.tracking.places import Place
from dsp.tracking.sensor import Sensor, place_ratio
from dsp.tracking.together import find_passages

pytestmark = [pytest.mark.benchmark, pytest.mark.slow, pytest.mark.usefixtures("compiled_tracker")]

SECONDS = 30
BAR_S = 20.0


@pytest.mark.long
def test_pitch_of_thirty_seconds(record) -> None:  # type: ignore[no-untyped-def]
    """The bar is 20 s on one core; a first run compiles and does not count."""
    line = heard(LINE, [0.04], RATE_HZ)[0]
    samples = np.resize(line, SECONDS * RATE_HZ)
    taken_s = best_s(lambda: track_pitch(samples, 56.0, 1109.0), times=1)
    record("pitch of 30 s, six strings' range", f"{taken_s:.1f} s", f"{BAR_S:.0f} s")
    assert taken_s < BAR_S


def test_the_guard_against_several_notes_beside_the_tracking(record) -> None:  # type: ignore[no-untyped-def]
    samples = heard(LINE, [0.04], RATE_HZ)[0]
    tracked = track_pitch(samples, 56.0, 1109.0)
    notes = find_notes(tracked, samples)
    taken_s = best_s(lambda: find_passages(notes, samples), times=3)
    tracking_s = best_s(lambda: track_pitch(samples, 56.0, 1109.0), times=2)
    record("several notes at once, re tracking", f"{100.0 * taken_s / tracking_s:.1f} %", "10 %")
    assert taken_s < 0.1 * tracking_s


def test_revoicing_into_four_coils(record) -> None:  # type: ignore[no-untyped-def]
    """A note every third of a second, each with its own filters."""
    size = Size.at(48_000)
    coils = [Coil(4e3, 2.0, 8e-11, at_m=at) for at in (0.04, 0.06, 0.16, 0.18)]
    sensor = Sensor(size.frequencies_hz())
    pieces = [Piece(i * 16_000, 144 if i else 0, Place(0, 0.6, 80.0 + i)) for i in range(3 * SECONDS)]
    line = Line(tuple(pieces), lambda place: place_ratio(sensor, coils, place))  # type: ignore[arg-type]
    samples = np.random.default_rng(1).standard_normal((1, SECONDS * 48_000))
    taken_s = best_s(lambda: list(run_pieces([samples], [line], 4, size, 1 << 15)), times=1)
    record(
        "revoicing 30 s into four coils, 90 notes",
        f"{SECONDS / taken_s:.0f} x real time",
        "faster than it plays",
    )
    assert taken_s < SECONDS
