"""Closed forms of the textbooks, through whole wirings; each check has a twin that must fail.

How each figure is known: "read" (its source was read), "quoted" (read where another quotes the source),
"calculated" (from the stated formula, for this project), "from memory".
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from tolerances import (
    FORMULA,
    PRINTED,
    PRINTED_DB,
    PRINTED_DEG,
    TWIN_FACTOR,
    TWO_COIL_UNIT,
)

from dsp.circuit.reduction import coil_impedance, laplace
from dsp.circuit.response import respond
from dsp.parts.capacitor import Capacitor
from dsp.parts.coil import Coil, Eddy
from dsp.parts.jack import Jack
from dsp.parts.kind import Part
from dsp.parts.load import Load
from dsp.parts.pot import Pot
from dsp.parts.resistor import Resistor
from dsp.wiring.model import Coupling, Joint, Wiring

pytestmark = pytest.mark.reference

DIVIDER_HZ = np.array([20.0])
TIP, SLEEVE = ("output", "tip"), ("output", "sleeve")


def soldered(
    parts: dict[str, Part], *points: str, load: Load, couplings: tuple[Coupling, ...] = ()
) -> Wiring:
    """Return a wiring from solder points written as ``coil.start volume.3``."""
    joints = tuple(
        Joint(tuple((name, lead) for name, _, lead in (word.partition(".") for word in point.split())))
        for point in points
    )
    return Wiring("closed form", "here", {**parts, "output": Jack()}, joints, couplings, load)


def level_db(value: complex) -> float:
    return 20.0 * math.log10(abs(value))


def source() -> Coil:
    """A voltage source as a coil: 0.01 Ω and 1 µH are shorts at 20 Hz beside 250 kΩ."""
    return Coil(0.01, 1e-6, 1e-14)


def divider_db(share: float, track_ohm: float, load_ohm: float) -> float:
    wiring = soldered(
        {"coil": source(), "volume": Pot(track_ohm)},
        "coil.start volume.3",
        "volume.2 output.tip",
        "coil.finish volume.1 output.sleeve",
        load=Load(0.0, 0.0, load_ohm, 0.0),
    )
    setting = wiring.setting("1", {"volume": 10.0 * share})
    return level_db(respond(wiring, [setting], DIVIDER_HZ).coil[0, 0, 0])


# Loaded divider, textbook; values calculated: share a, track R, load, level.
DIVIDERS = [(0.5, 250e3, 1e6, -6.5472), (0.5, 500e3, 1e6, -7.0437), (0.16, 250e3, 1e6, -16.2047)]


@pytest.mark.parametrize(("share", "track", "load", "want"), DIVIDERS)
def test_divider_loading(share: float, track: float, load: float, want: float) -> None:
    assert divider_db(share, track, load) == pytest.approx(want, abs=PRINTED_DB)
    low = share * track * load / (share * track + load)
    formula = low / (low + (1.0 - share) * track)
    assert 10 ** (divider_db(share, track, load) / 20) == pytest.approx(formula, rel=1e-6)


@pytest.mark.parametrize(("share", "track", "load", "want"), DIVIDERS)
def test_twin_a_divider_with_an_input_a_little_off(
    share: float, track: float, load: float, want: float
) -> None:
    assert divider_db(share, track, load * 1.0002) != pytest.approx(want, abs=PRINTED_DB)
    assert divider_db(share, track, load) + 2 * TWIN_FACTOR * PRINTED_DB != pytest.approx(
        want, abs=PRINTED_DB
    )


def test_output_resistance_of_a_divider_at_half() -> None:
    """a (1 - a) R, at most R/4 (textbook)."""
    wiring = soldered(
        {"coil": source(), "volume": Pot(250e3)},
        "coil.start volume.3",
        "volume.2 output.tip",
        "coil.finish volume.1 output.sleeve",
        load=Load(0.0, 0.0, 1e12, 0.0),
    )
    knobs = (2.0, 5.0, 9.0)
    found = respond(wiring, [wiring.setting("1", {"volume": k}) for k in knobs], DIVIDER_HZ)
    want = [k / 10 * (1 - k / 10) * 250e3 for k in knobs]
    np.testing.assert_allclose(found.output_impedance_ohm[:, 0].real, want, rtol=1e-6)
    assert max(want) == 62.5e3


FIRST, SECOND = Coil(4e3, 2.1, 80e-12, eddy=(Eddy(0.2, 2500.0),)), Coil(7e3, 3.4, 120e-12)
LOAD = Load(5.0, 100e-12, 1e6, 20e-12)
FREQS = np.geomspace(20.0, 20e3, 31)


def winding(coil: Coil) -> np.ndarray:
    """R + s L0 and, in series, every share of the inductance with its resistor across it."""
    s = 2j * np.pi * FREQS
    total = coil.resistance_ohm + s * coil.inductance_h * (1 - sum(e.share for e in coil.eddy))
    for e in coil.eddy:
        henry = e.share * coil.inductance_h
        total = total + 1 / (1 / (s * henry) + 1 / (2 * np.pi * e.corner_hz * henry))
    return np.asarray(total)


def norton(coil: Coil) -> tuple[np.ndarray, np.ndarray]:
    """Admittance of winding and capacitance, and what 1 V of EMF sends into a short."""
    return 1 / winding(coil) + 2j * np.pi * FREQS * coil.capacitance_f, 1 / winding(coil)


LOAD_SIEMENS = 1 / LOAD.amplifier_ohm + 2j * np.pi * FREQS * LOAD.capacitance_f


def both(*points: str, second: Coil = SECOND, couplings: tuple[Coupling, ...] = ()) -> np.ndarray:
    wiring = soldered({"a": FIRST, "b": second}, *points, load=LOAD, couplings=couplings)
    return np.asarray(respond(wiring, [wiring.setting("1")], FREQS).coil[0])


def test_mismatched_coils_in_parallel() -> None:
    """Norton sources side by side (textbook)."""
    (ya, ia), (yb, ib) = norton(FIRST), norton(SECOND)
    points = ("a.start b.start output.tip", "a.finish b.finish output.sleeve")
    want = np.array([ia, ib]) / (ya + yb + LOAD_SIEMENS)
    np.testing.assert_allclose(both(*points), want, rtol=FORMULA)
    twin = both(*points, second=Coil(7e3, 3.4 * (1 + 1e3 * FORMULA), 120e-12))
    assert not np.allclose(twin, want, rtol=FORMULA, atol=0)


def test_mismatched_coils_in_series() -> None:
    """Thevenin sources in a row, each behind its own resonance (textbook)."""
    (ya, ia), (yb, ib) = norton(FIRST), norton(SECOND)
    points = ("a.start output.tip", "a.finish b.start", "b.finish output.sleeve")
    want = np.array([ia / ya, ib / yb]) / (1 + LOAD_SIEMENS * (1 / ya + 1 / yb))
    np.testing.assert_allclose(both(*points), want, rtol=FORMULA)
    twin = both(*points, second=Coil(7e3, 3.4, 120e-12 * (1 + 1e3 * FORMULA)))
    assert not np.allclose(twin, want, rtol=FORMULA, atol=0)


@pytest.mark.parametrize(("k", "series", "parallel"), [(0.1, 2.2, 0.55), (0.2, 2.4, 0.60)])
def test_coupled_equal_coils(k: float, series: float, parallel: float) -> None:
    """Series aiding 2 L (1 + k), parallel aiding L (1 + k) / 2 (textbook; ratios calculated).

    Read off the output impedance at 1 kHz, the coils' own capacitance being far below notice.
    """
    henry, hz = 2.0, np.array([1000.0])
    coils: dict[str, Part] = {name: Coil(1e-2, henry, 1e-14) for name in "ab"}
    shapes = {
        series: ("a.start output.tip", "a.finish b.start", "b.finish output.sleeve"),
        parallel: ("a.start b.start output.tip", "a.finish b.finish output.sleeve"),
    }
    for ratio, points in shapes.items():
        found = {}
        for coefficient in (k, -k):
            pair = (Coupling("a", "b", coefficient),)
            wiring = soldered(coils, *points, load=Load(0.0, 0.0, 1e12, 0.0), couplings=pair)
            ohm = respond(wiring, [wiring.setting("1")], hz).output_impedance_ohm[0, 0]
            found[coefficient] = ohm.imag / (2 * np.pi * 1000.0) / henry
        assert found[k] == pytest.approx(ratio, rel=1e-5)
        assert found[-k] != pytest.approx(ratio, rel=1e-2)


# Check 1: C. E. LaForest, "Characterizing Magnetic Guitar Pickups (and Other Large Inductors)", read:
# 100 mH, 210 Ω, self-resonance 100 kHz, hence 25.33 pF and a series Q of 299.20.
KNOWN = Coil(210.0, 0.1, 25.3303e-12)


def test_known_inductor() -> None:
    hz = np.array([100e3])
    reactance = coil_impedance(KNOWN, hz)[0]
    assert reactance.imag / reactance.real == pytest.approx(299.20, rel=PRINTED)
    # At resonance the capacitance takes what the inductance gives, but for 1/Q^2.
    total = 1.0 / reactance + laplace(hz)[0] * KNOWN.capacitance_f
    assert abs(total.imag) <= 3e-5 * abs(1.0 / reactance)
    twin = coil_impedance(Coil(210.0 * (1 + TWIN_FACTOR * 2 * PRINTED), 0.1, 25.33e-12), hz)[0]
    assert twin.imag / twin.real != pytest.approx(299.20, rel=PRINTED)


# Check 2: a pickup winder's article on cables, read and paraphrased: 2.4 H with about 300 pF resonates
# "around 6000 Hz", with a 2400 pF lead "a little above 2000 Hz"; calculated 5931.4 and 2097.1 Hz.
@pytest.mark.parametrize(("farad", "want"), [(300e-12, 5931.4), (2400e-12, 2097.1)])
def test_resonance_against_cable(farad: float, want: float) -> None:
    coil = Coil(10.0, 2.4, 1e-14)

    def peak(load_f: float) -> float:
        wiring = soldered({"coil": coil}, "coil.start output.tip", "coil.finish output.sleeve",
                          load=Load(0.0, 0.0, 1e12, load_f))  # fmt: skip
        hz = want + np.arange(-3.0, 3.0, 0.01)
        levels = np.abs(respond(wiring, [wiring.setting("1")], hz).coil[0, 0])
        return float(hz[np.argmax(levels)])

    assert peak(farad - 1e-14) == pytest.approx(want, abs=0.1)
    assert peak((farad - 1e-14) * (1 + 3 * 0.1 / want)) != pytest.approx(want, abs=0.1)


def parallel(coil: Coil, hz: np.ndarray) -> np.ndarray:
    """Impedance at the coil's leads."""
    return np.asarray(1.0 / (1.0 / coil_impedance(coil, hz) + laplace(hz) * coil.capacitance_f))


def with_loss(ohm: float, henry: float, farad: float, across_ohm: float) -> Coil:
    """A resistor across the whole inductance: a share of 100 % with its corner at R / (2 pi L)."""
    return Coil(ohm, henry, farad, eddy=(Eddy(1.0, across_ohm / (2 * np.pi * henry)),))


# Models A and B, calculated: |Z| and phase at 100 Hz, 1 and 5 kHz; highest |Z| and where.
MODEL_A = Coil(6e3, 2.4, 110e-12)
MODEL_B = with_loss(6e3, 2.4, 110e-12, 1e6)
MODELS = [
    (MODEL_A, [(6187.24, 14.084), (16400.26, 68.063), (102248.47, 83.844)], 3.639e6, 9795.3),
    (MODEL_B, [(6189.44, 14.079), (16483.32, 67.307), (102252.42, 78.054)], 789.7e3, 9765.9),
]


@pytest.mark.parametrize(("coil", "want", "top_ohm", "top_hz"), MODELS)
def test_impedance_models(coil: Coil, want: list[tuple[float, float]], top_ohm: float, top_hz: float) -> None:
    ohm = parallel(coil, np.array([100.0, 1e3, 5e3]))
    for value, (size, degrees) in zip(ohm, want, strict=True):
        assert abs(value) == pytest.approx(size, abs=0.006)
        assert np.degrees(np.angle(value)) == pytest.approx(degrees, abs=PRINTED_DEG)
        assert abs(value) * (1 + TWIN_FACTOR * 0.012 / size) != pytest.approx(size, abs=0.006)
    hz = top_hz + np.arange(-20.0, 20.0, 0.05)
    sizes = np.abs(parallel(coil, hz))
    assert hz[np.argmax(sizes)] == pytest.approx(top_hz, abs=0.1)
    assert np.max(sizes) == pytest.approx(top_ohm, rel=2 * PRINTED + 1e-4)


def test_models_tell_each_other_apart() -> None:
    a, b = (abs(parallel(coil, np.array([1e3]))[0]) for coil in (MODEL_A, MODEL_B))
    assert a != pytest.approx(b, rel=1e-3)


# Check 3: a teaching example of a circuit library, quoted: L 4.4 H, f0 7.715 kHz, 319 kΩ at resonance, so
# 96.72 pF. With R 8 kΩ and 330 kΩ across L the highest |Z| is 319.6 kΩ at 7610.9 Hz (calculated).
def test_two_coil_unit() -> None:
    assert 1.0 / ((2 * np.pi * 7715.0) ** 2 * 4.4) == pytest.approx(96.72e-12, rel=PRINTED)
    hz = np.arange(7400.0, 7800.0, 0.1)

    def top(across_ohm: float) -> tuple[float, float]:
        sizes = np.abs(parallel(with_loss(8e3, 4.4, 97e-12, across_ohm), hz))
        return float(np.max(sizes)), float(hz[np.argmax(sizes)])

    assert top(330e3)[0] == pytest.approx(319e3, rel=TWO_COIL_UNIT)
    assert top(330e3)[0] == pytest.approx(319.6e3, abs=60.0)
    assert top(330e3)[1] == pytest.approx(7610.9, abs=0.15)
    for off in (1 / (1 + 2 * TWO_COIL_UNIT), 1 + 2 * TWO_COIL_UNIT):
        assert top(330e3 * off)[0] != pytest.approx(319e3, rel=TWO_COIL_UNIT)


def test_two_coil_unit_at_the_jack() -> None:
    """The same |Z| as the output impedance of a wiring, amplifier and cable as good as absent."""
    coil = with_loss(8e3, 4.4, 97e-12, 330e3)
    wiring = soldered({"coil": coil}, "coil.start output.tip", "coil.finish output.sleeve",
                      load=Load(0.0, 0.0, 1e12, 0.0))  # fmt: skip
    ohm = respond(wiring, [wiring.setting("1")], FREQS).output_impedance_ohm[0]
    np.testing.assert_allclose(ohm, parallel(coil, FREQS), rtol=1e-6)


def test_a_tone_control_turned_down_is_a_capacitor_across() -> None:
    """H = 1 / (1 + Z Y) with everything across the winding in Y (textbook divider)."""
    wiring = soldered(
        {"coil": FIRST, "tone": Pot(250e3), "cap": Capacitor(22e-9), "drain": Resistor(1e6)},
        "coil.start tone.3 drain.a output.tip",
        "tone.2 cap.a",
        "coil.finish cap.b drain.b output.sleeve",
        load=LOAD,
    )
    s = 2j * np.pi * FREQS
    for knob in (0.0, 3.0, 10.0):
        series = (1 - knob / 10) * 250e3 + 1 / (s * 22e-9)
        across = s * FIRST.capacitance_f + 1 / series + 1e-6 + LOAD_SIEMENS
        got = respond(wiring, [wiring.setting("1", {"tone": knob})], FREQS).coil[0, 0]
        np.testing.assert_allclose(got, 1 / (1 + winding(FIRST) * across), rtol=FORMULA)
        assert not np.allclose(
            got, 1 / (1 + winding(FIRST) * across * (1 + 1e3 * FORMULA)), rtol=FORMULA, atol=0
        )
