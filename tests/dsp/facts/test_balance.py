"""How loud each string is in each coil, and what its pole heights have to make even."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small_wirings import wiring_of

from dsp.facts.balance import SILENT_DB, string_levels
from dsp.parts.instrument import GuitarString, Instrument, pitch_hz
from dsp.wiring.model import Wiring

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
