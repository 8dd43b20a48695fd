"""The facts of a setting: level and brightness against rendered audio, the rest against its parts."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from places import DEMO
from scipy.signal import freqz
from tolerances import CHORD_LEVEL_DB

from dsp.chain.run import respond_small
from dsp.chain.ways import WAYS
from dsp.circuit.response import respond
from dsp.facts.position import PositionFacts, position_facts
from dsp.facts.words import HUM, WordInputs, sound_words
from dsp.sound.open_chord import NOTE_S
from dsp.strings.magnetised import tune_set
from dsp.strings.note import Note
from dsp.strings.perform import Setup, perform
from dsp.takes.player import PLUCK_SHARE
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

Floats = NDArray[np.float64]
RATE_HZ = 48_000


@pytest.fixture(scope="module")
def baritone() -> Wiring:
    return load_wiring(DEMO / "baritone.yaml")


@pytest.fixture(scope="module")
def facts(baritone: Wiring) -> dict[str, PositionFacts]:
    found = position_facts(baritone, [baritone.setting(position) for position in baritone.positions])
    return {one.setting.position: one for one in found}


@cache
def rendered_energy(position: str) -> tuple[Floats, Floats]:
    """Render each string of an open chord; return frequencies and the energy at the output, one spectrum."""
    wiring = load_wiring(DEMO / "baritone.yaml")
    assert wiring.instrument is not None
    scale_m = wiring.instrument.scale_m
    stage = Setup(tune_set(wiring.instrument.strings, scale_m), list(wiring.coils.values()), RATE_HZ)
    total, audible_hz = 0.0, np.empty(0)
    for index in range(len(stage.strings)):  # one by one: neighbouring strings' partials must not beat
        note = Note(index, 0.0, pluck_at_m=PLUCK_SHARE * scale_m)
        stems = np.concatenate(list(perform([note], stage, round(NOTE_S * RATE_HZ))), axis=1)
        spectra = np.fft.rfft(stems, 4 * stems.shape[1])
        hz = np.fft.rfftfreq(4 * stems.shape[1], 1.0 / RATE_HZ)
        audible = (hz > 20.0) & (hz < 20_000.0)
        audible_hz = hz[audible]
        response = respond(wiring, [wiring.setting(position)], audible_hz).coil[0]
        output = np.sum(response * spectra[:, audible], axis=0)
        total = total + 2.0 * np.abs(output) ** 2 / (4 * stems.shape[1]) / RATE_HZ
    return audible_hz, np.asarray(total)


@pytest.mark.parametrize("position", ["1", "4", "6"])
def test_level_against_rendered_audio(position: str, facts: dict[str, PositionFacts]) -> None:
    want_db = 10.0 * math.log10(rendered_energy(position)[1].sum())
    assert facts[position].level_db == pytest.approx(want_db, abs=CHORD_LEVEL_DB)


def published_k_power(hz: Floats) -> Floats:
    """K weighting by the coefficients that ITU-R BS.1770-5 prints for 48 kHz, annex 1, tables 1 and 2."""
    shelf = (
        [1.53512485958697, -2.69169618940638, 1.19839281085285],
        [1.0, -1.69065929318241, 0.73248077421585],
    )
    high = [1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621]
    found = np.ones(len(hz))
    for above, below in (shelf, high):
        found *= np.abs(freqz(above, below, worN=hz, fs=RATE_HZ)[1]) ** 2
    return found


@pytest.mark.parametrize("position", ["1", "4", "6"])
def test_level_through_clean_against_rendered_audio(position: str, facts: dict[str, PositionFacts]) -> None:
    hz, energy = rendered_energy(position)
    grid_hz = np.geomspace(20.0, 20_000.0, 1000)
    clean = np.abs(respond_small(WAYS["clean"], grid_hz)) ** 2 * published_k_power(grid_hz)
    want_db = 10.0 * math.log10(energy @ np.interp(hz, grid_hz, clean))
    assert facts[position].clean_level_db == pytest.approx(want_db, abs=CHORD_LEVEL_DB)


def test_a_bridge_coil_gains_through_clean(facts: dict[str, PositionFacts]) -> None:
    neck, bridge = facts["1"], facts["6"]
    assert bridge.clean_level_db - neck.clean_level_db > bridge.level_db - neck.level_db + 3.0


def test_the_row_of_each_position(facts: dict[str, PositionFacts]) -> None:
    assert [one.joined for one in facts.values()][:3] == [
        "neck_a + neck_b",
        "(neck_a + neck_b) | (bridge_a + bridge_b)",
        "neck_a | bridge_b",
    ]
    assert facts["1"].hum == "none"
    assert facts["6"].hum == "hums"
    assert facts["6"].brightness_hz > facts["5"].brightness_hz > facts["1"].brightness_hz
    assert facts["1"].reading_ohm == pytest.approx(1.0 / (1.0 / 8250.0 + 1.0 / 5e5), rel=1e-3)


def test_tone_down_is_rounder(baritone: Wiring) -> None:
    up, down = position_facts(baritone, [baritone.setting("5"), baritone.setting("5", {"tone": 0.0})])
    assert down.brightness < 0.6 * up.brightness


def test_a_coil_working_against_the_others_is_named() -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    together, opposed = position_facts(
        wiring, [wiring.setting("2", None, {"phase": stand}) for stand in ("1", "2")]
    )
    assert together.against == ()
    assert opposed.against == ("bridge",)
    assert opposed.joined == "neck | -bridge"
    assert opposed.level_db < together.level_db - 3.0


def test_volume_at_nothing_is_silence(baritone: Wiring) -> None:
    (silent,) = position_facts(baritone, [baritone.setting("1", {"volume": 0.0})])
    assert (silent.coils, silent.hum, silent.level_db) == ((), "silent", -math.inf)
    assert sound_words([heard(silent)]) == (("silent",),)


def heard(one: PositionFacts) -> WordInputs:
    return WordInputs(one.brightness, one.low_share, one.middle_share, one.level_db, one.hum)


def test_words_come_from_the_table() -> None:
    sounds = [
        WordInputs(3.0, 0.7, 0.0, 0.0, "none"),
        WordInputs(7.0, 0.2, 0.1, -7.0, "hums"),
        WordInputs(5.0, 0.5, 0.3, -3.0, "little"),
        WordInputs(5.0, 0.5, 0.1, -30.0, "none"),
    ]
    assert sound_words(sounds) == (
        ("round", HUM["none"]),
        ("bright and thin", "softer", HUM["hums"]),
        ("open and nasal", "a little softer", HUM["little"]),
        ("open", "much softer", HUM["none"]),
    )
    assert sound_words([]) == ()
