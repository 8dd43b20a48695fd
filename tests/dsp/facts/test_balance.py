"""How loud each string is in each coil, and what its pole heights have to make even."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small_wirings import wiring_of

from dsp.facts.balance import SILENT_DB, string_levels
from dsp.parts.instrument import GuitarString, Instrument, pitch_hz
from dsp.strings.magnetised import tune_set
from dsp.strings.note import Note
from dsp.strings.perform import Setup, perform
from dsp.takes.player import PLUCK_SHARE
from dsp.wiring.model import Wiring

RATE_HZ = 48_000
PLUCKED_DB = 0.7
"""Stems of a twentieth of a second against energies at the pluck: partials beat and decay a little."""
COIL = "kind: coil, resistance: 6k, inductance: 2.5H, capacitance: 110p"
PARTS = f"""
neck: {{{COIL}, at: 160 mm}}
bridge: {{{COIL}, at: 45 mm, string_balance: [0, 0, -3, 0]}}
dummy: {{{COIL}, at: 160 mm, sensitivity: 0}}
nowhere: {{{COIL}}}
output: {{kind: jack}}
"""
NOTES = {"D3": (0.66e-3, True), "G3": (0.43e-3, False), "B3": (0.33e-3, False), "E4": (0.25e-3, False)}


def guitar(balance: str = "[0, 0, -3, 0]", **others: tuple[float, bool]) -> Wiring:
    strings = tuple(
        GuitarString(pitch_hz(note), gauge, wound, note)
        for note, (gauge, wound) in {**NOTES, **others}.items()
    )
    bare = wiring_of(PARTS.replace("[0, 0, -3, 0]", balance))
    return replace(bare, instrument=Instrument(0.648, strings))


def test_a_plain_third_stands_out_beside_a_wound_fourth() -> None:
    """Common practice: over level poles the plain third is the loudest, and its pole is set lowest."""
    for levels in string_levels(guitar()).values():
        assert levels[1] == 0.0
        assert -9.0 < levels[0] < -3.0
    wound = string_levels(guitar(G3=(0.56e-3, True)))["neck"]
    assert abs(wound[1] - wound[0]) < 2.0, "a wound third is about as loud as the fourth"


def test_the_balance_of_a_coil_comes_on_top() -> None:
    plain, lowered = (
        string_levels(guitar(balance))["bridge"] for balance in ("[0, 0, 0, 0]", "[0, 0, -3, 0]")
    )
    np.testing.assert_allclose(lowered - plain, [0.0, 0.0, -3.0, 0.0], atol=1e-9)


def test_coils_that_sense_no_string_have_no_levels() -> None:
    assert list(string_levels(guitar())) == ["neck", "bridge"]
    assert string_levels(guitar("[0, 0, -60, 0]"))["bridge"].min() >= SILENT_DB


def test_the_level_of_plain_strings_grows_with_their_section() -> None:
    """Published of plain strings (JAES 65(9):711, 2017, abstract): twice the gauge, +12 dB."""
    thin, thick = (
        string_levels(guitar(E4=(gauge, False), B3=(0.33e-3, False)))["neck"] for gauge in (0.2e-3, 0.4e-3)
    )
    gained_db = (thick[3] - thick[2]) - (thin[3] - thin[2])
    assert gained_db == pytest.approx(20.0 * np.log10(4.0), abs=0.5)
    assert gained_db != pytest.approx(10.0 * np.log10(4.0), abs=0.5), "the square root is refused"


def test_the_sound_follows_the_bars() -> None:
    """Each string pulled equally far and rendered alone: levels of its stems are those of the bars."""
    wiring = guitar()
    assert wiring.instrument is not None
    strings, scale_m = wiring.instrument.strings, wiring.instrument.scale_m
    stage = Setup(tune_set(strings, scale_m), list(wiring.coils.values()), RATE_HZ)
    row = list(wiring.coils).index("neck")

    def level_db(stage: Setup, index: int) -> float:
        note = Note(index, 0.0, pluck_at_m=PLUCK_SHARE * scale_m)
        [stems] = perform([note], stage, RATE_HZ // 20)
        return float(10.0 * np.log10(np.mean(stems[row] ** 2)))

    found = np.array([level_db(stage, index) for index in range(len(strings))])
    bars = string_levels(wiring)["neck"]
    np.testing.assert_allclose(found - found.max(), bars, atol=PLUCKED_DB)
    even = replace(stage, strings=[replace(string, signal=1.0) for string in stage.strings])
    without = np.array([level_db(even, index) for index in range(len(strings))])
    assert np.max(np.abs(without - without.max() - bars)) > 3.0 * PLUCKED_DB, "strings alike would be seen"


def test_the_mean_string_of_a_set_has_the_coils_sensitivity() -> None:
    instrument = guitar().instrument
    assert instrument is not None
    signals = [string.signal for string in tune_set(instrument.strings, instrument.scale_m)]
    assert np.mean(signals) == pytest.approx(1.0, rel=1e-12)
