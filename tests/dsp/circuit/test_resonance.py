"""Resonances read off the curve: the worked loaded circuits, and the closed form of R, L and C.

The loaded circuits 1, 2 and 4 and their printed peaks were calculated for this project in python and in
ngspice, independently of the product (tests/reference/test_loaded_references.py repeats them in ngspice).
"""

from __future__ import annotations

import numpy as np
import pytest
from places import NETWORKS
from small_wirings import wiring_of
from tolerances import (
    BANDWIDTH,
    EXACT,
    RESONANCE_DB,
    RESONANCE_GRID_HZ,
    RESONANCE_HZ,
    TWIN_FACTOR,
)

from dsp.circuit.resonance import Resonance, resonances
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

UNLOADED = "\nload:\n  cable: {length: 0 m, capacitance: 0 F/m}\n  amplifier: {resistance: 1e12 Ω}\n"


def only(wiring: Wiring, position: str = "1") -> Resonance:
    (found,) = resonances(wiring, wiring.setting(position))
    return found


@pytest.mark.parametrize(
    ("name", "peak_db", "peak_hz", "level_100_db", "within_hz"),
    [
        ("loaded_1", 3.7198, 3877.7, -0.4255, RESONANCE_HZ),
        ("loaded_2", 5.6448, 3012.4, None, RESONANCE_GRID_HZ),
        ("loaded_4", 3.0335, 3758.8, None, RESONANCE_HZ),
    ],
)
def test_worked_circuits(
    name: str, peak_db: float, peak_hz: float, level_100_db: float | None, within_hz: float
) -> None:
    found = only(load_wiring(NETWORKS / f"{name}.yaml"))
    assert found.coil == "bridge"
    assert found.frequency_hz == pytest.approx(peak_hz, abs=within_hz)
    assert found.level_db == pytest.approx(peak_db, abs=RESONANCE_DB)
    if level_100_db is not None:
        assert found.height_db == pytest.approx(peak_db - level_100_db, abs=2 * RESONANCE_DB)
    for sign in (-1, 1):  # twins, off by a little more than the tolerance
        assert found.level_db + 2 * TWIN_FACTOR * RESONANCE_DB * sign != pytest.approx(
            peak_db, abs=RESONANCE_DB
        )
        assert found.frequency_hz + 2 * TWIN_FACTOR * within_hz * sign != pytest.approx(
            peak_hz, abs=within_hz
        )


def plain_rlc(quality: float, resonance_hz: float = 4000.0, inductance_h: float = 2.0) -> Wiring:
    """One coil on an almost infinite load: R = w0 L / Q, C = 1 / (w0^2 L)."""
    omega = 2 * np.pi * resonance_hz
    ohm, farad = omega * inductance_h / quality, 1.0 / (omega**2 * inductance_h)
    parts = f"""
        a: {{kind: coil, resistance: {ohm!r} Ω, inductance: {inductance_h!r} H, capacitance: {farad!r} F}}
        output: {{kind: jack}}
    """
    return wiring_of(parts, "a.start, output.tip\na.finish, output.sleeve", UNLOADED)


@pytest.mark.parametrize("resonance_hz", [4000.0, 4011.0, 4023.0, 4035.0])
@pytest.mark.parametrize("quality", [2.0, 5.0, 20.0, 60.0, 100.0, 400.0])
def test_closed_form_of_a_plain_circuit(quality: float, resonance_hz: float) -> None:
    """|H|^-2 = (x^2 - a)^2 + 1 - a^2, a = 1 - 1/(2 Q^2), x = f/f0 (textbook, from memory).

    The frequencies lie at different places between two points of the grid, which sharp peaks miss.
    """
    found = only(plain_rlc(quality, resonance_hz, inductance_h=0.1))  # 1 TΩ is then almost infinite
    a = 1.0 - 0.5 / quality**2
    depth = 1.0 - a * a
    assert found.frequency_hz == pytest.approx(resonance_hz * np.sqrt(a), rel=BANDWIDTH)
    assert found.level_db == pytest.approx(-10 * np.log10(depth), abs=RESONANCE_DB)
    want = resonance_hz * (np.sqrt(a + np.sqrt(depth)) - np.sqrt(a - np.sqrt(depth)))
    assert found.bandwidth_hz == pytest.approx(want, rel=BANDWIDTH)


@pytest.mark.parametrize("quality", [20.0, 100.0])
def test_a_narrow_peak_is_f0_over_q_wide(quality: float) -> None:
    """The handbook's f0/Q is the limit for high Q; it is off by about 3/(8 Q^2), 0.1 % at 20."""
    width = only(plain_rlc(quality)).bandwidth_hz
    assert width == pytest.approx(4000.0 / quality, rel=0.5 / quality**2)
    assert width != pytest.approx(1.01 * 4000.0 / quality, rel=0.5 / quality**2)


def test_a_shoulder_has_no_bandwidth() -> None:
    """Below Q = 1.31 the peak stands less than 3 dB over the lows: no lower half-power point."""
    shoulder = only(plain_rlc(1.2))
    assert 0.0 < shoulder.height_db < 3.0
    assert shoulder.bandwidth_hz is None
    assert only(plain_rlc(1.4)).bandwidth_hz is not None


def test_a_response_that_only_falls_has_no_resonance() -> None:
    """Q below 1/sqrt(2): the highest point is at the low end."""
    wiring = plain_rlc(0.7)
    assert resonances(wiring, wiring.setting("1")) == ()
    assert only(plain_rlc(0.75)).height_db > 0.0


def test_coils_that_are_not_heard_are_left_out() -> None:
    parts = """
        a: {COIL}
        b: {COIL}
        c: {COIL}
        selector: {kind: switch, poles: 1, positions: 2}
        output: {kind: jack}
    """
    joints = "a.start, selector.A1\nb.start, selector.A2\nselector.A0, output.tip\n"
    joints += "a.finish, b.finish, output.sleeve"
    wiring = wiring_of(parts, joints)
    assert only(wiring, "1").coil == "a"
    assert only(wiring, "2").coil == "b"


def test_nothing_is_heard_from_a_shorted_jack() -> None:
    wiring = wiring_of("a: {COIL}\noutput: {kind: jack}", "a.start, output.tip, output.sleeve")
    assert resonances(wiring, wiring.setting("1")) == ()


def test_the_peak_follows_the_cable() -> None:
    """Check 2: 2.4 H with 300 pF "around 6000 Hz", with 2400 pF "a little above 2000 Hz".

    A pickup winder's article on cables (read, paraphrased); 1/(2 pi sqrt(LC)) gives 5931 and 2097 Hz. Here
    the coil has only 1 pF and hardly any loss, so that the peak is that frequency; 3 % as the check allows.
    """
    for pico, words_hz, formula_hz in ((300, 6000.0, 5931.4), (2400, 2050.0, 2097.1)):
        cable = f"cable: {{length: 1 m, capacitance: {pico - 1} pF/m}}"
        load = f"\nload:\n  {cable}\n  amplifier: {{resistance: 1e10 Ω}}\n"
        parts = (
            "a: {kind: coil, resistance: 10 Ω, inductance: 2.4 H, capacitance: 1 pF}\noutput: {kind: jack}"
        )
        found = only(wiring_of(parts, "a.start, output.tip\na.finish, output.sleeve", load))
        assert found.frequency_hz == pytest.approx(words_hz, rel=0.03)
        assert found.frequency_hz == pytest.approx(formula_hz, abs=0.1)
        assert found.frequency_hz == pytest.approx(
            1 / (2 * np.pi * np.sqrt(2.4 * pico * 1e-12)), rel=1e3 * EXACT
        )
