"""Plucked notes of the string model beside real ones: `pytest -s -m long tests/reference/test_real_notes.py`.

The command prints before, now and real for every note, the fit half first. `string_notes` says which notes
may have set a constant; the bars hold on the others.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from modelled_notes import BEFORE, COIL, NOW, Model, play
from numpy.typing import NDArray
from string_measures import BANDS_HZ, Measured, Spectrum, glide, measure, weakest_of_ten
from string_notes import FIT_HZ, HELD_HZ, Recorded, aside_notes, clean_notes

from dsp.strings.note import Note
from dsp.strings.perform import Setup, perform
from dsp.takes.player import USUAL_SCALE_M

pytestmark = [pytest.mark.reference, pytest.mark.long]

Floats = NDArray[np.float64]
DECAY_TIMES, DECAY_WORST, STIFF_TIMES = 1.5, 2.0, 1.4
WOBBLE_DB, WEAKEST_DB, GLIDE_CENTS, ATTACK_DB = (0.2, 2.0), (15.0, 40.0), (0.5, 3.0), 4.0
"""The bars."""
COILS_M = (0.042, 0.1, 0.16)
"""Bridge, middle, neck (common practice)."""

Rows = dict[float, dict[str, Measured]]


def rows_of(notes: dict[float, Recorded], pitches: tuple[float, ...]) -> Rows:
    found: Rows = {}
    for hz in pitches:
        note = notes[hz]
        seconds = len(note.samples) / note.rate_hz
        found[hz] = {"real": measure(note.samples, note.rate_hz, hz)} | {
            name: measure(play(model, hz, seconds, note.rate_hz), note.rate_hz, hz)
            for name, model in (("before", BEFORE), ("now", NOW))
        }
    return found


@pytest.fixture(scope="module")
def notes() -> dict[float, Recorded]:
    return clean_notes()


@pytest.fixture(scope="module")
def held(notes: dict[float, Recorded]) -> Rows:
    return rows_of(notes, HELD_HZ)


def decay_factors(rows: Rows, name: str) -> Floats:
    """By how much each band's decay is off, as a factor of 1 or more.

    Of the partials found in both: a recording's noise hides those that die first.
    """
    found = []
    for row in rows.values():
        real, ours = row["real"].partials, row[name].partials
        _, which, other = np.intersect1d(real[:, 0], ours[:, 0], return_indices=True)
        hz, rates = real[which, 1], np.stack([real[which, 2], ours[other, 2]])
        for low, high in BANDS_HZ:
            inside = (hz >= low) & (hz < high) & np.isfinite(rates).all(axis=0)
            if inside.any():
                theirs, mine = np.median(rates[:, inside], axis=1)
                found.append(np.exp(abs(np.log(mine / theirs))))
    return np.array(found)


def attack_errors(rows: Rows, name: str) -> Floats:
    return np.array([abs(row[name].attack_db - row["real"].attack_db) for row in rows.values()])


def table(title: str, rows: Rows) -> str:
    bands = " ".join(f"{low}-{high}".rjust(9) for low, high in BANDS_HZ)
    lines = [f"\n{title}", f"  T60 s, Hz         {bands}   B e-5 wobble weakest glide attack late"]
    for hz, row in rows.items():
        for name in ("real", "before", "now"):
            one = row[name]
            decay = " ".join(f"{t:9.2f}" for t in one.t60_s)
            lines.append(
                f"  {hz:6.1f} {name:7s}    {decay}   {1e5 * one.inharmonicity:5.1f} {one.wobble_db:6.2f}"
                f" {one.weakest_db:7.0f} {one.glide_cents:5.1f} {one.attack_db:6.1f}"
                f" {one.attack_late_db:4.1f}"
            )
    for name in ("before", "now"):
        off = decay_factors(rows, name)
        lines.append(
            f"  {name}: decay off by x{np.median(off):.2f} on the median, x{off.max():.2f} at worst;"
            f" attack by {np.median(attack_errors(rows, name)):.1f} dB on the median"
        )
    return "\n".join(lines)


def test_table(notes: dict[float, Recorded], held: Rows, capsys: pytest.CaptureFixture[str]) -> None:
    fitted = rows_of(notes, FIT_HZ)
    other = {note.hz: note for note in aside_notes().values()}
    aside = rows_of(other, tuple(other))
    with capsys.disabled():
        print(table("Fit half", fitted))
        print(table("Held-out half", held))
        print(table("Another guitar, kept aside", aside))
    for rows in (fitted, held, aside):
        assert np.median(decay_factors(rows, "now")) < np.median(decay_factors(rows, "before"))


def test_decay_by_band(held: Rows) -> None:
    now, before = decay_factors(held, "now"), decay_factors(held, "before")
    assert np.median(now) <= DECAY_TIMES
    assert now.max() <= DECAY_WORST
    assert np.median(before) > DECAY_TIMES
    assert before.max() > DECAY_WORST


def test_inharmonicity(held: Rows) -> None:
    for row in held.values():
        ratio = row["now"].inharmonicity / row["real"].inharmonicity
        assert 1.0 / STIFF_TIMES <= ratio <= STIFF_TIMES
    low = held[HELD_HZ[0]]
    assert not 1.0 / STIFF_TIMES <= low["before"].inharmonicity / low["real"].inharmonicity <= STIFF_TIMES


def test_partials_wobble(held: Rows) -> None:
    assert WOBBLE_DB[0] <= np.median([row["now"].wobble_db for row in held.values()]) <= WOBBLE_DB[1]
    assert np.median([row["before"].wobble_db for row in held.values()]) < WOBBLE_DB[0]


def test_attack(held: Rows) -> None:
    assert np.median(attack_errors(held, "now")) <= ATTACK_DB
    assert np.median(attack_errors(held, "before")) > ATTACK_DB


def open_strings(model: Model, rate_hz: int = 24_000, away_m: float = 0.0) -> list[Floats]:
    """Play every open string at the usual place into the three coils."""
    coils = [replace(COIL, at_m=at_m) for at_m in COILS_M]
    stage = Setup(model.strings, coils, float(rate_hz), model.curvature, model.planes)
    at_m = model.pluck_share * USUAL_SCALE_M + away_m
    each = [Note(i, 0.0, force=0.6, pluck_at_m=at_m) for i in range(len(model.strings))]
    return [np.concatenate(list(perform([note], stage, 3 * rate_hz // 2)), axis=1) for note in each]


def weakest(model: Model, away_m: float = 0.0) -> list[float]:
    """By how much the weakest of ten partials is down, each string in each coil."""
    return [
        weakest_of_ten(stem, 24_000, string.pitch_hz, string.inharmonicity(string.length_m))
        for string, stems in zip(model.strings, open_strings(model, away_m=away_m), strict=True)
        for stem in stems
    ]


@pytest.mark.parametrize("away_m", [0.0, -0.004, 0.004])
def test_no_partial_is_missing(away_m: float) -> None:
    found = weakest(NOW, away_m)
    assert WEAKEST_DB[0] <= min(found)
    assert max(found) <= WEAKEST_DB[1]
    assert max(weakest(BEFORE)) > WEAKEST_DB[1] + 20.0


def test_pitch_settles() -> None:
    def glides(model: Model) -> list[float]:
        found = []
        for string, stems in zip(model.strings, open_strings(model), strict=True):
            hz = string.pitch_hz * np.arange(1.0, 9.0)
            partials = np.array([(i + 1.0, f, 0.0, 0.0, -i) for i, f in enumerate(hz)])
            found.append(glide(Spectrum.of(stems[1], 24_000), partials))
        return found

    now = glides(NOW)
    assert all(GLIDE_CENTS[0] <= one <= GLIDE_CENTS[1] for one in now)
    assert max(map(abs, glides(BEFORE))) < GLIDE_CENTS[0]
