"""The pick on the string before it lets go, beside real notes: `pytest -s -m long` with this file prints it.

What is compared is the contact's level in bands relative to the same bands of the note's first 20 ms, so that
a recording's coil and amplifier cancel. `string_notes` says which notes set constants and which judge.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import soundfile
from modelled_notes import COIL, NOW
from numpy.typing import NDArray
from places import DEMO
from scipy.signal import butter, sosfilt, stft
from string_notes import PICKED_ASIDE, PICKED_FIT, PICKED_HELD, Recorded, picked_aside, picked_notes

from dsp.strings import noises
from dsp.strings.note import Note
from dsp.strings.perform import Setup, perform
from dsp.takes.player import PLUCK_SHARE, USUAL_SCALE_M

pytestmark = [pytest.mark.reference, pytest.mark.long]

Floats = NDArray[np.float64]
BANDS_HZ = ((300, 800), (800, 1600), (1600, 3200), (3200, 6400), (6400, 10_000))
BAND_DB, WORST_DB = 6.0, 12.0
"""The bars: bands' medians over the held-out notes, off on the median and at worst."""
ASIDE_DB = 10.0
"""The same for other guitars: three of them differ among themselves by as much."""
LETS_GO = 0.25
"""Of the peak: the sample at which the string has been let go."""
BEFORE_S, SLIPS_S, SHORTEST_S, FIRST_S = 0.003, 0.0004, 0.0014, 0.02
"""The contact's last 3 ms, up to where the pick slips; less of it than 1.4 ms is not judged."""
RATE_HZ, SEEDS = 44_100, 4
SLIDES_S = (0.3, 0.5)
"""The first slide of the demo's recording, 9 semitones down."""
NO_SQUEAK_DB = -44.0
"""Measured -47.6; the recording's pauses are some 5 dB lower."""


def contact_db(note: Recorded) -> Floats | None:
    """Return the contact in each band, dB re the note; None if the file starts too late."""
    samples = note.samples
    peak = np.abs(samples[: round(0.06 * note.rate_hz)]).max()
    let_go = int(np.argmax(np.abs(samples) > LETS_GO * peak))
    until = let_go - round(SLIPS_S * note.rate_hz)
    since = max(until - round(BEFORE_S * note.rate_hz), 0)
    if until - since < SHORTEST_S * note.rate_hz:
        return None
    found = []
    for band in BANDS_HZ:
        one = sosfilt(butter(2, band, "band", fs=note.rate_hz, output="sos"), samples)
        ringing = one[let_go : let_go + round(FIRST_S * note.rate_hz)]
        found.append(10.0 * np.log10(np.mean(one[since:until] ** 2) / np.mean(ringing**2)))
    return np.array(found)


def bands_db(notes: list[Recorded]) -> Floats:
    """Return each band's median."""
    return np.asarray(np.median([one for note in notes if (one := contact_db(note)) is not None], axis=0))


def played(notes: list[Recorded], at_m: float = COIL.at_m or 0.0) -> list[Recorded]:
    """Play the same pitches as low on the neck as they lie, each with some seeds."""
    stage = Setup(NOW.strings, [replace(COIL, at_m=at_m)], float(RATE_HZ), NOW.curvature)
    found = []
    for real in notes:
        frets = [round(12.0 * np.log2(real.hz / string.pitch_hz)) for string in NOW.strings]
        string, fret = max((i, fret) for i, fret in enumerate(frets) if fret >= 0)
        length_m = USUAL_SCALE_M * 2.0 ** (-fret / 12.0)
        at = min(PLUCK_SHARE * USUAL_SCALE_M, 0.5 * length_m)
        for seed in range(SEEDS):
            note = Note(string, 0.02, fret=fret, pluck_at_m=at, noises=seed)
            stem = np.concatenate(list(perform([note], stage, round(0.1 * RATE_HZ))), axis=1)[0]
            found.append(Recorded(real.hz, stem[np.flatnonzero(stem)[0] :], RATE_HZ))
    return found


def off_db(ours: Floats, real: Floats) -> tuple[float, float]:
    """Return by how much bands are off, on the median and at worst."""
    each = np.abs(ours - real)
    return float(np.median(each)), float(each.max())


def meets(ours: Floats, real: Floats) -> bool:
    median, worst = off_db(ours, real)
    return median <= BAND_DB and worst <= WORST_DB


def test_the_contact_is_that_of_notes_kept_aside(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    notes = picked_notes()
    fit, held = notes[PICKED_FIT], notes[PICKED_HELD]
    ours, real = bands_db(played(held)), bands_db(held)
    with capsys.disabled():
        print("\nThe pick's contact by band, dB re the note's first 20 ms")
        for name, bands in (
            ("fit half, real", bands_db(fit)), ("fit half, ours", bands_db(played(fit))),
            ("held-out half, real", real), ("held-out half, ours", ours),
            ("held-out half, ours, coil at the neck", bands_db(played(held, 0.16))),
        ):  # fmt: skip
            print(f"  {name:40s}" + " ".join(f"{one:6.1f}" for one in bands))
    assert meets(ours, real), off_db(ours, real)
    for wrong in (0.25, 4.0):  # the twins: 12 dB less, 12 dB more
        monkeypatch.setattr(noises, "RUBS_BY", wrong * noises.RUBS_BY)
        assert not meets(bands_db(played(held)), real)
        monkeypatch.undo()


@pytest.mark.parametrize("guitar", PICKED_ASIDE)
def test_other_guitars_have_one_much_like_it(guitar: str, capsys: pytest.CaptureFixture[str]) -> None:
    real, ours = bands_db(picked_aside(guitar)), bands_db(played(picked_notes()))
    with capsys.disabled():
        print(f"\n  {guitar:40s}" + " ".join(f"{one:6.1f}" for one in real))
    assert off_db(ours, real)[0] <= ASIDE_DB


def squeak_db(samples: Floats, rate_hz: int) -> float:
    """Return the loudest 46 ms of a slide between 3.2 and 6.4 kHz, dB re all that sounds at that time."""
    hz, time_s, found = stft(samples, rate_hz, nperseg=round(0.046 * rate_hz))
    slides = (time_s > SLIDES_S[0]) & (time_s < SLIDES_S[1])
    power = np.abs(found[:, slides]) ** 2
    squeaks = (hz > 3200.0) & (hz < 6400.0)
    return float(10.0 * np.log10((power[squeaks].sum(axis=0) / power.sum(axis=0)).max()))


def test_the_slide_at_hand_has_no_squeak_to_hold_one_to() -> None:
    """The twin: a tone of 4 kHz, 40 dB below the note, would be told."""
    samples, rate_hz = soundfile.read(DEMO / "e_slide.flac")
    assert squeak_db(samples, rate_hz) < NO_SQUEAK_DB
    tone = np.sin(2.0 * np.pi * 4000.0 * np.arange(len(samples)) / rate_hz)
    part = samples[round(SLIDES_S[0] * rate_hz) : round(SLIDES_S[1] * rate_hz)]
    level = np.sqrt(2.0 * np.mean(part**2)) * 10.0 ** (-40.0 / 20.0)
    assert squeak_db(samples + level * tone, rate_hz) > NO_SQUEAK_DB
