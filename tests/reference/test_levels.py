"""Volts of modelled strings against published outputs of coils, and between coils by their place.

Published: 100-300 mV typical (an encyclopedia's text as quoted by G. Maestrini, 2022; what kind of playing
and which measure of the level is not said). A strummed chord's root mean square over its first half
second is taken here.
"""

from __future__ import annotations

import numpy as np
import pytest
from partials import line
from string_stems import LENGTH_M, MEASURED, RATE_HZ, heard, point_coil

from dsp.parts.coil import Coil
from dsp.parts.instrument import Instrument
from dsp.parts.library.index import LIBRARY
from dsp.strings.magnetised import tune_set
from dsp.strings.note import Note
from dsp.strings.perform import Setup, perform
from dsp.takes.player import USUAL_SCALE_M, USUAL_STRINGS, notes_of
from dsp.takes.score import Event, Score

pytestmark = pytest.mark.reference

PUBLISHED_V = (0.1, 0.3)


def chord_v(coils: list[Coil]) -> float:
    """Return the root mean square of a strummed open chord in volts, the coils in series."""
    frets = [0, 2, 2, 1, 0, 0]
    events = tuple(Event(0.0, 6 - i, fret, force=0.7, delay_s=0.006 * i) for i, fret in enumerate(frets))
    score = Score(120.0, events, dynamics_db=0.0, timing_s=0.0)
    notes = notes_of(score, Instrument(USUAL_SCALE_M, USUAL_STRINGS), "chord")
    stage = Setup(tune_set(USUAL_STRINGS, USUAL_SCALE_M), coils, RATE_HZ)
    stems = np.concatenate(list(perform(notes, stage, RATE_HZ // 2)), axis=1)
    return float(np.sqrt(np.mean(stems.sum(axis=0) ** 2)))


@pytest.mark.parametrize("at_mm", [155.0, 95.0])
@pytest.mark.parametrize("name", ["narrow_single_medium", "plated_single_medium", "wide_single_weak"])
def test_library_singles_give_published_volts(name: str, at_mm: float) -> None:
    sensitivity = float(str(LIBRARY[name].fields["sensitivity"]))
    assert (
        PUBLISHED_V[0]
        <= chord_v([Coil(6e3, 2.5, 1e-10, at_m=at_mm / 1e3, sensitivity=sensitivity)])
        <= PUBLISHED_V[1]
    )


@pytest.mark.parametrize("at_mm", [155.0, 50.0])
def test_library_doubles_give_published_volts(at_mm: float) -> None:
    sensitivity = float(str(LIBRARY["double_medium_coil"].fields["sensitivity"]))
    pair = [Coil(4e3, 2.2, 1e-10, at_m=at_mm / 1e3 + d, sensitivity=sensitivity) for d in (-9e-3, 9e-3)]
    assert PUBLISHED_V[0] <= chord_v(pair) <= PUBLISHED_V[1]


def test_levels_between_coils_follow_place_and_sensitivity() -> None:
    """The fundamental in two coils: sin(pi x1/l) / sin(pi x2/l) times their sensitivities."""
    near, far = point_coil(0.05), point_coil(0.21)
    louder = Coil(1e3, 1.0, 1e-10, at_m=0.05, aperture_m=1e-9, sensitivity=2.5)
    stems = heard(Note(0, 0.0, pluck_at_m=0.13), [near, far, louder], 1.2)
    found = [line(stem, RATE_HZ, MEASURED.pitch_hz, (0.1, 1.0), 60.0).level for stem in stems]
    law = np.sin(np.pi * 0.05 / LENGTH_M) / np.sin(np.pi * 0.21 / LENGTH_M)
    assert found[0] / found[1] == pytest.approx(law, rel=1e-3)
    assert found[2] / found[0] == pytest.approx(2.5, rel=1e-5)
