"""What an ohmmeter reads at the jack, cable out, against arithmetic done by hand.

Common practice: with the cable unplugged the meter sees the coils' resistances in series or in parallel, and
across them the track of the volume control; capacitors block its direct current.
"""

from __future__ import annotations

import math

import pytest
from small_wirings import wiring_of
from tolerances import EXACT

from dsp.circuit.meter import OPEN_OHM, jack_reading_ohm

PARTS = """
    a: {COIL, eddy: [{share: 40 %, corner: 3 kHz}]}
    b: {kind: coil, resistance: 6 kΩ, inductance: 3.3 H, capacitance: 70 pF}
    c: {kind: capacitor, capacitance: 22n}
    choke: {kind: inductor, inductance: 1.5 H, resistance: 90 Ω}
    wire: {kind: inductor, inductance: 1 H, resistance: 0}
    r: {kind: resistor, resistance: 10k}
    s: {kind: resistor, resistance: 10k}
    output: {kind: jack}
"""


def reading(joints: str, more: str = "", knobs: dict[str, float] | None = None, position: str = "1") -> float:
    wiring = wiring_of(PARTS + more, joints)
    return jack_reading_ohm(wiring, wiring.setting(position, knobs or {}))


@pytest.mark.parametrize(
    ("joints", "ohm"),
    [
        ("a.start, output.tip\na.finish, output.sleeve", 4000.0),
        ("a.finish, output.tip\na.start, output.sleeve", 4000.0),
        ("a.start, output.tip\na.finish, b.start\nb.finish, output.sleeve", 10_000.0),
        ("a.start, b.start, output.tip\na.finish, b.finish, output.sleeve", 2400.0),
        ("a.start, b.finish, output.tip\na.finish, b.start, output.sleeve", 2400.0),
        ("a.start, output.tip\na.finish, choke.a\nchoke.b, output.sleeve", 4090.0),
        ("a.start, output.tip\na.finish, wire.a\nwire.b, output.sleeve", 4000.0),
        ("a.start, wire.a, output.tip\na.finish, wire.b, output.sleeve", 0.0),
        ("a.start, output.tip\na.finish, c.a, r.a\nr.b, c.b, output.sleeve", 14_000.0),
        ("a.start, r.a, output.tip\na.finish, b.start\nb.finish, r.b, output.sleeve", 5000.0),
        (
            "r.a, s.a, output.tip\nr.b, a.start\ns.b, a.finish\na.start, output.sleeve",
            14_000 * 10_000 / 24_000,
        ),
        ("a.start, output.tip\na.finish, b.finish, output.sleeve", 4000.0),  # b hangs
        ("a.start, output.tip\na.finish, b.start, b.finish, output.sleeve", 4000.0),  # b shorted
        ("a.start, output.tip\na.finish, output.sleeve\nb.start, r.a\nb.finish, r.b", 4000.0),  # an island
    ],
)
def test_coils_and_parts(joints: str, ohm: float) -> None:
    assert reading(joints) == pytest.approx(ohm, rel=EXACT)


def test_a_bridge_of_five() -> None:
    """An unbalanced bridge, which series and parallel steps cannot reduce: a star replaces a delta."""
    joints = "a.start, r.a, output.tip\na.finish, b.start, s.a\nr.b, s.b, choke.a\n"
    joints += "b.finish, choke.b, output.sleeve"
    # delta of a 4 kΩ, r 10 kΩ (both at the tip) and s 10 kΩ (across) as a star, kΩ
    tip, left, right = 4 * 10 / 24, 4 * 10 / 24, 10 * 10 / 24
    lower = (left + 6.0) * (right + 0.09) / (left + 6.0 + right + 0.09)
    assert reading(joints) == pytest.approx(1000.0 * (tip + lower), rel=EXACT)


VOLUME = "volume: {kind: pot, resistance: 250 kΩ}"
CONTROLS = "a.start, volume.3\nvolume.2, output.tip\na.finish, volume.1, output.sleeve"


@pytest.mark.parametrize(
    ("knob", "ohm"),
    [
        (10.0, 4000 * 250_000 / 254_000),
        (5.0, 125_000 * 129_000 / 254_000),
        (2.0, 50_000 * 204_000 / 254_000),
        (0.0, 0.0),
    ],
)
def test_the_volume_control_lies_across(knob: float, ohm: float) -> None:
    assert reading(CONTROLS, VOLUME, {"volume": knob}) == pytest.approx(ohm, rel=EXACT)


def test_end_resistance_keeps_a_volume_at_zero_off_zero_ohms() -> None:
    volume = VOLUME.replace("250 kΩ", "250 kΩ, end_resistance: 30 Ω")
    want = 30.0 * (4000 + 250_030) / (4000 + 250_060)
    assert reading(CONTROLS, volume, {"volume": 0.0}) == pytest.approx(want, rel=EXACT)


def test_a_tone_control_behind_its_capacitor_is_not_seen() -> None:
    joints = "a.start, volume.3, output.tip\nvolume.2, c.a\na.finish, c.b, output.sleeve"
    for knob in (0.0, 3.0, 10.0):
        assert reading(joints, VOLUME, {"volume": knob}) == pytest.approx(4000.0, rel=EXACT)


@pytest.mark.parametrize(
    "joints",
    [
        "a.start, c.a\nc.b, output.tip\na.finish, output.sleeve",
        "a.start, output.tip\na.finish, c.a\nc.b, output.sleeve",
        "a.start, b.start, output.tip\nb.finish, r.a\ns.a, output.sleeve",
        "a.start, a.finish, s.a\ns.b, output.sleeve",
    ],
)
def test_nothing_for_direct_current_reads_open(joints: str) -> None:
    assert reading(joints) == OPEN_OHM
    assert math.isinf(OPEN_OHM)


def test_a_shorted_jack_reads_zero() -> None:
    assert reading("a.start, output.tip, output.sleeve") == 0.0


def test_coil_split() -> None:
    """Common practice: half the reading shows the technician that the split works."""
    joints = "a.start, output.tip\na.finish, b.start, selector.A0\nb.finish, selector.A2, output.sleeve"
    selector = "selector: {kind: switch, poles: 1, positions: 2}"
    assert reading(joints, selector) == pytest.approx(10_000.0, rel=EXACT)
    assert reading(joints, selector, position="2") == pytest.approx(4000.0, rel=EXACT)


def test_the_load_is_left_out() -> None:
    joints = "a.start, output.tip\na.finish, output.sleeve"
    heavy = "\nload: {amplifier: {resistance: 10 kΩ}}\n"
    wiring = wiring_of(PARTS, joints, heavy)
    assert jack_reading_ohm(wiring, wiring.setting("1")) == pytest.approx(4000.0, rel=EXACT)
