"""Strings, frets and bends of notes; pieces of a line; the string identified by its comb."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from plucked_line import Pluck, heard

from dsp.parts.coil import Coil
from dsp.parts.instrument import GuitarString, Instrument, pitch_hz
from dsp.strings.tuned import tune
from dsp.tracking.follow import UNCLEAR_FADE_S, pieces_of
from dsp.tracking.notes import Note
from dsp.tracking.pitch import RATE_HZ
from dsp.tracking.places import choose_string, fret_of, partial_hz, partial_numbers, place_of
from dsp.tracking.sensor import Sensor
from dsp.tracking.which_string import identify_string

GAUGES = {"B1": (0.062, True), "E2": (0.045, True), "A2": (0.034, True)}
GAUGES |= {"D3": (0.024, True), "F#3": (0.018, False), "B3": (0.014, False)}
GUITAR = Instrument(
    0.686,
    tuple(GuitarString(pitch_hz(note), inch * 0.0254, wound) for note, (inch, wound) in GAUGES.items()),
)


def steady(start_s: float, end_s: float, hz: float, stiffness: float | None = None) -> Note:
    return Note(start_s, end_s, np.array([start_s]), np.array([hz]), stiffness)


@pytest.mark.parametrize(
    ("note", "allowed", "string"),
    [
        ("B1", (), 0),
        ("C2", (), 0),
        ("E2", (), 1),
        ("D4", (), 5),
        ("D4", (3,), 3),
        ("B3", (2, 4), 4),
        ("A1", (), None),
        ("E2", (4,), None),
    ],
)
def test_the_string_where_a_note_lies_lowest(note: str, allowed: tuple[int, ...], string: int | None) -> None:
    assert choose_string(GUITAR, pitch_hz(note), allowed) == string


@pytest.mark.parametrize(("cents", "fret"), [(0, 3), (-30, 3), (-40, 2), (60, 3), (70, 4)])
def test_a_note_belongs_to_the_fret_at_or_below(cents: float, fret: int) -> None:
    string = GUITAR.strings[1]
    assert fret_of(string, string.pitch_hz * 2.0 ** ((3 + cents / 100.0) / 12.0)) == fret


def test_a_bend_keeps_the_length_and_a_slide_the_tension() -> None:
    low = pitch_hz("A2") * 2.0 ** (5 / 12)
    bent = place_of(GUITAR, 2, low, low * 2 ** (2 / 12), low * 2 ** (2 / 12))
    assert bent.length_m == pytest.approx(0.686 * 2.0 ** (-5 / 12))
    slid = place_of(GUITAR, 2, low, low * 2 ** (7 / 12), low * 2 ** (7 / 12))
    assert slid.length_m == pytest.approx(0.686 * 2.0 ** (-12 / 12))
    assert 2.0 * slid.length_m * slid.pitch_hz == pytest.approx(2.0 * 0.686 * pitch_hz("A2"))


def test_partials_and_their_numbers_are_each_others_inverse() -> None:
    place = place_of(GUITAR, 0, 70.0, 70.0, 70.0, 2e-4)
    numbers = np.linspace(0.1, 80.0, 200)
    np.testing.assert_allclose(partial_numbers(place, partial_hz(place, numbers)), numbers, rtol=1e-9)


def test_pieces_follow_the_notes_and_fade_out_where_there_is_none() -> None:
    notes = [steady(0.5, 1.0, 82.4), steady(1.0, 1.5, 110.0), steady(2.5, 3.0, 110.0), steady(3.0, 3.2, 30.0)]
    pieces = pieces_of(notes, [1, 2, 2, None], GUITAR, 48_000)
    kinds = [piece.voice is None for piece in pieces]
    assert kinds == [True, False, False, True, False, True]
    assert all(a.start + a.fade <= b.start for a, b in pairwise(pieces))
    starts = [(piece.start + piece.fade) / 48_000 for piece in pieces]
    assert starts[1:3] == pytest.approx([0.5, 1.0])  # fully there when the note begins
    fade = UNCLEAR_FADE_S * 48_000
    assert [piece.fade for piece in pieces if piece.voice is None][1:] == [fade, fade]
    assert fade >= 0.03 * 48_000


def test_a_line_from_the_first_sample_starts_with_its_note() -> None:
    assert pieces_of([steady(0.0, 1.0, 82.4)], [1], GUITAR, 8000)[0].voice is not None
    assert [piece.voice for piece in pieces_of([], [], GUITAR, 8000)] == [None]


@pytest.mark.parametrize("string", [1, 2, 3])
def test_the_comb_of_a_known_source_identifies_the_string(string: int) -> None:
    """One pitch, D3 a fifth up (A3), on three strings; it lies lowest on another."""
    truth = GUITAR.strings[string]
    fret = round(12.0 * np.log2(220.0 / truth.pitch_hz))
    coil = Coil(4e3, 2.0, 8e-11, at_m=0.06, sensitivity=1.0)
    stiffness = tune(truth, 0.686).inharmonicity(0.686)
    note = Pluck(0.0, 0.8, 220.0 / 2.0 ** (fret / 12.0), fret, stiffness)
    samples = heard([note], [0.06], RATE_HZ)[0]
    freqs_hz = np.linspace(1.0, 8000.0, 2000)
    sensor = Sensor(freqs_hz, (coil,), np.ones((1, 2000), complex))
    found = steady(0.0, 0.8, 220.0, note.b)
    assert choose_string(GUITAR, 220.0) == 4
    assert identify_string(found, samples, RATE_HZ, sensor, GUITAR) == string
    assert identify_string(found, samples, RATE_HZ, Sensor(freqs_hz), GUITAR) == 4
    assert identify_string(found, np.zeros(RATE_HZ), RATE_HZ, sensor, GUITAR, (3,)) == 3
