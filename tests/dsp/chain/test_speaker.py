"""The loudspeaker: printed levels, and its filters at every rate."""

from __future__ import annotations

import numpy as np
import pytest
from tolerances import PRINTED_SPEAKER_DB, TWIN_FACTOR

from dsp.chain.speaker import AXES, OPEN_HZ, design_speaker, respond_speaker

FREQS_HZ = np.array([50.0, 100.0, 1e3, 2.5e3, 5e3, 8e3, 12e3])
PRINTED_DB = np.array([-15.12, -2.34, 1.01, 6.81, 0.47, -15.08, -27.84])


def level_db(**how: object) -> np.ndarray:
    return 20.0 * np.log10(np.abs(respond_speaker(FREQS_HZ, **how)))  # type: ignore[arg-type]


def test_levels_as_printed() -> None:
    missed = np.abs(level_db() - PRINTED_DB)
    assert np.max(missed) <= PRINTED_SPEAKER_DB + 0.001  # 100 Hz reads -2.3346, printed -2.34
    assert np.all(
        np.abs(level_db() - PRINTED_DB + 2.5 * TWIN_FACTOR * PRINTED_SPEAKER_DB) > PRINTED_SPEAKER_DB
    )


def test_corners_of_a_textbook() -> None:
    """+12 dB per octave below 130 Hz, -24 dB per octave far above 5 kHz (Smith, Physical Audio Signal
    Processing, a reading of one 12-inch driver).
    """
    low = 20.0 * np.log10(np.abs(respond_speaker(np.array([15.0, 30.0]))))
    high = 20.0 * np.log10(np.abs(respond_speaker(np.array([20e3, 40e3]))))
    assert low[1] - low[0] == pytest.approx(12.0, abs=1.0)
    assert high[0] - high[1] == pytest.approx(24.0, abs=2.0)


def test_an_open_back_falls_by_one_more_pole() -> None:
    lost = level_db(open_back=True) - level_db()
    want = -10.0 * np.log10(1.0 + (OPEN_HZ / FREQS_HZ) ** 2)
    np.testing.assert_allclose(lost, want, atol=1e-9)


@pytest.mark.parametrize(("degrees", "at_most_db"), [(30, -3.5), (45, -7.8)])
def test_off_axis_loses_treble(degrees: int, at_most_db: float) -> None:
    lost = level_db(axis_deg=degrees) - level_db()
    assert lost[-1] == pytest.approx(AXES[degrees][1], abs=0.1)
    assert lost[-1] <= at_most_db
    assert abs(lost[0]) < 0.05


@pytest.mark.parametrize("rate_hz", [44_100.0, 48_000.0, 96_000.0])
@pytest.mark.parametrize(("open_back", "axis_deg"), [(False, 0), (True, 0), (False, 30), (True, 45)])
def test_filters_of_the_loudspeaker_keep_the_contract(rate_hz: float, open_back: bool, axis_deg: int) -> None:
    bank = design_speaker(rate_hz, open_back=open_back, axis_deg=axis_deg)
    assert bank.error.meets_contract
    assert bank.radius() < 1.0
    freqs_hz = np.geomspace(30.0, 15e3, 200)
    want = respond_speaker(freqs_hz, open_back=open_back, axis_deg=axis_deg)
    got = bank.response(freqs_hz)[0] * np.exp(2j * np.pi * freqs_hz / rate_hz * bank.delay)
    assert np.max(np.abs(20.0 * np.log10(np.abs(got / want)))) <= 0.01
