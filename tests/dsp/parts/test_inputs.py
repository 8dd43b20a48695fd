"""Inputs of the library: against the networks they stand for, and against printed resonances.

The networks are the demo's own positions with the jack moved to the valve's grid: cable, leak and stopper as
parts, the grid's capacitance as load.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from places import DEMO
from small_wirings import read, wiring_of
from tolerances import PLAIN_HIGH_DB, PLAIN_LOW_DB, RESONANCE_PRINTED_DB, RESONANCE_PRINTED_HZ

from dsp.circuit.resonance import Resonance, resonances
from dsp.circuit.response import respond
from dsp.facts.findings.check import check
from dsp.parts.kinds import new_part
from dsp.parts.library.inputs import INPUTS
from dsp.parts.load import Load
from dsp.wiring.model import Joint, Wiring
from server.wirings.text import load_wiring

GRID_F = 130e-12
LEAK_OHM, STOPPER_OHM, DIVIDER_OHM = 1e6, 34e3, 68e3
FREQS_HZ = np.geomspace(50.0, 5e3, 200)
FILES = ("baritone", "twelve")


@cache
def demo(name: str) -> Wiring:
    return load_wiring(DEMO / f"{name}.yaml")


def load_of(name: str) -> Load:
    """Return an entry's load as a wiring file that names it gets it."""
    parts, joints = "a: {COIL}\noutput: {kind: jack}", "a.start, output.tip\na.finish, output.sleeve"
    return wiring_of(parts, joints, f"load: {{like: {name}}}\n").load


def with_input(wiring: Wiring, name: str) -> Wiring:
    return replace(wiring, load=load_of(name))


def at_the_grid(wiring: Wiring, *, low: bool) -> Wiring:
    """Move the jack behind the input's resistors."""
    ohm = LEAK_OHM if not low else DIVIDER_OHM
    parts = {
        **wiring.parts,
        "cable": new_part("capacitor", capacitance=500e-12),
        "leak": new_part("resistor", resistance=ohm),
        "stopper": new_part("resistor", resistance=DIVIDER_OHM if low else STOPPER_OHM),
        "grid": new_part("jack"),
    }
    hot = (wiring.hot, ("cable", "a"), ("stopper", "a"), *([] if low else [("leak", "a")]))
    grid = (("stopper", "b"), ("grid", "tip"), *([("leak", "a")] if low else []))
    cold = ((wiring.jack, "sleeve"), ("cable", "b"), ("leak", "b"), ("grid", "sleeve"))
    joints = (*wiring.joints, *map(Joint, (hot, grid, cold)))
    return replace(
        wiring, parts=parts, joints=joints, output=("grid", "tip"), load=Load(0.0, 0.0, 1e12, GRID_F)
    )


def most_off_db(wiring: Wiring, network: Wiring, gain: float) -> float:
    """Return the largest difference where a coil is within 20 dB of its peak."""
    settings = [wiring.setting(position) for position in wiring.positions]
    got = np.abs(respond(wiring, settings, FREQS_HZ).coil)
    want = np.abs(respond(network, settings, FREQS_HZ).coil) / gain
    loud = (want > 0.0) & (want >= 0.1 * np.max(want, axis=-1, keepdims=True))
    return float(np.max(np.abs(20.0 * np.log10(got[loud] / want[loud]))))


@pytest.mark.parametrize("name", FILES)
def test_valve_input_is_near_its_network(name: str) -> None:
    wiring = demo(name)
    network = at_the_grid(wiring, low=False)
    assert most_off_db(with_input(wiring, "valve_input"), network, 1.0) <= PLAIN_HIGH_DB
    assert most_off_db(replace(wiring, load=Load()), network, 1.0) > 2.0 * PLAIN_HIGH_DB


@pytest.mark.parametrize("name", FILES)
def test_low_input_is_near_its_network_and_halves_the_level(name: str) -> None:
    wiring = demo(name)
    network = at_the_grid(wiring, low=True)
    assert most_off_db(with_input(wiring, "low_input"), network, 0.5) <= PLAIN_LOW_DB
    assert most_off_db(with_input(wiring, "valve_input"), network, 0.5) > 4.0 * PLAIN_LOW_DB


def test_capacitance_of_the_grid() -> None:
    """Cgk + Cga (1 + A), published values of a high-mu triode: 102 pF of the 130."""
    gain = 100.0 * 100e3 / (100e3 + 62.5e3)
    grid_f = 1.65e-12 + 1.6e-12 * (1.0 + gain)
    assert grid_f == pytest.approx(101.7e-12, abs=0.1e-12)
    assert 10e-12 <= GRID_F - grid_f <= 30e-12


COILS = (
    ("baritone", "1", "neck_a"),
    ("baritone", "5", "bridge_b"),
    ("baritone", "6", ""),
    ("twelve", "1", ""),
    ("twelve", "3", ""),
)
PRINTED = {
    "valve_input": ((3654, 4.8), (3229, 4.0)),
    "interface": ((3654, 4.8), (3229, 4.0)),
    "buffer_after_cable": ((3883, 3.7), (3396, 2.9)),
}
"""Hz and dB over 100 Hz of the twelve-string's outer positions, by a program of its own that solves the
demo's values for these loads."""


def loudest(wiring: Wiring, position: str, coil: str) -> Resonance:
    found = resonances(wiring, wiring.setting(position), coils=[coil] if coil else None)
    return max(found, key=lambda one: one.level_db)


@pytest.mark.parametrize("name", PRINTED)
def test_loaded_resonances_as_printed(name: str) -> None:
    for position, (hertz, height_db) in zip(("1", "3"), PRINTED[name], strict=True):
        wiring = with_input(demo("twelve"), name)
        found = loudest(wiring, position, "")
        assert found.frequency_hz == pytest.approx(hertz, abs=RESONANCE_PRINTED_HZ), position
        assert found.height_db == pytest.approx(height_db, abs=RESONANCE_PRINTED_DB), position
        usual = loudest(replace(wiring, load=Load()), position, "")
        assert usual.frequency_hz != pytest.approx(hertz, abs=RESONANCE_PRINTED_HZ)


def test_what_a_file_without_a_load_reads_too_high() -> None:
    """The finding says 8 to 10 % lower into 150 pF."""
    for file, position, coil in COILS:
        usual = loudest(replace(demo(file), load=Load()), position, coil).frequency_hz
        valve = loudest(with_input(demo(file), "valve_input"), position, coil).frequency_hz
        assert 0.07 <= 1.0 - valve / usual <= 0.1


@pytest.mark.parametrize("entry", INPUTS, ids=lambda one: one.name)
def test_only_the_line_input_is_warned_of(entry: object) -> None:
    name = entry.name  # type: ignore[attr-defined]
    found = [
        one for one in check(with_input(demo("twelve"), name)) if one.finding == "input removes the resonance"
    ]
    assert bool(found) == (name == "line_input")


def test_a_coil_of_low_impedance_stands_a_line_input() -> None:
    """A sixth of the turns has a fortieth of the impedance: its peak stays, and nothing is warned of."""
    text = (
        "format: 1\nparts:\n  a: {kind: coil, resistance: 150 Ω, inductance: 60 mH, capacitance: 70 pF}\n"
        "  output: {kind: jack}\njoints:\n  - [a.start, output.tip]\n  - [a.finish, output.sleeve]\n"
        "load: {like: line_input}\n"
    )
    wiring = read(text)
    assert resonances(wiring, wiring.setting("1"))[0].height_db > 3.0
    assert not [one for one in check(wiring) if one.finding == "input removes the resonance"]


def test_a_buffer_at_the_jack_lifts_the_resonance_away() -> None:
    wiring = demo("baritone")
    free = loudest(with_input(wiring, "buffer_at_jack"), "6", "")
    assert free.frequency_hz > 2.0 * loudest(with_input(wiring, "valve_input"), "6", "").frequency_hz
    assert load_of("buffer_at_jack").cable_length_m == 0.0
