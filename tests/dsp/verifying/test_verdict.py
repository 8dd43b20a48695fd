"""Simulated guitars: sound ones pass, faults are seen and named, and hands must be divided out.

All is simulated, by the same string model that predicts; tests/README.md says what that leaves open.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from places import DEMO
from strummed import (
    Bench,
    measured,
    settings_of,
    with_coil_shorted,
    with_leads_turned,
    without_terminal,
)

from dsp.errors import InputError
from dsp.verifying.strums import Strums
from dsp.verifying.verdict import (
    AS_PROPOSED,
    NOT_AS_PROPOSED,
    UNSURE,
    WIDE,
    Hands,
    Prediction,
    Verdict,
    predict,
    verify,
)
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

Floats = NDArray[np.float64]
SEED = 300
"""The spreads of `Hands` and the limits were set with seeds below 100."""
NAMES = [f"{number}.wav" for number in range(1, 8)]


@pytest.fixture(scope="module")
def small() -> Wiring:
    """The twelve-string's wiring on three strings: strums are rendered in little time."""
    wiring = load_wiring(DEMO / "twelve.yaml")
    assert wiring.instrument is not None
    strings = wiring.instrument.strings
    return replace(
        wiring, instrument=replace(wiring.instrument, strings=(strings[0], strings[4], strings[10]))
    )


@pytest.fixture(scope="module")
def bench(small: Wiring) -> Bench:
    return Bench(small, settings_of(small), 6, SEED, hand="finger", strums=3)


@pytest.fixture(scope="module")
def prediction(small: Wiring, recordings: list[Floats]) -> Prediction:
    _, window_s = measured(recordings)
    return predict(small, settings_of(small), window_s=window_s)


@pytest.fixture(scope="module")
def recordings(small: Wiring, bench: Bench) -> list[Floats]:
    """Of a sound guitar."""
    return bench.record_all(small, SEED)


@pytest.fixture(scope="module")
def strums(recordings: list[Floats]) -> list[Strums]:
    return measured(recordings)[0]


def judged(bench: Bench, prediction: Prediction, wiring: Wiring, **given: object) -> Verdict:
    strums, _ = measured(bench.record_all(wiring, SEED, **given))  # type: ignore[arg-type]
    return verify(prediction, strums, NAMES)


def test_a_sound_guitar_is_as_proposed(strums: list[Strums], prediction: Prediction) -> None:
    found = verify(prediction, strums, NAMES)
    assert found.word == AS_PROPOSED
    assert found.sound > 0.5
    assert all(pair.agrees for pair in found.pairs)
    assert not found.silent
    assert all(one.words() == "" for one in found.standings)


def test_exchanged_positions_are_named(bench: Bench, prediction: Prediction) -> None:
    found = judged(bench, prediction, bench.wiring, order=[2, 1, 0, 3, 4])
    assert found.word == NOT_AS_PROPOSED
    assert found.named
    assert "positions 1 and 3 are exchanged" in found.causes[0].texts


def test_turned_leads_are_named(bench: Bench, prediction: Prediction) -> None:
    """With its other coil the position gets the sound of the phase switch, and the other way round."""
    found = judged(bench, prediction, with_leads_turned(bench.wiring, "neck"))
    assert found.word == NOT_AS_PROPOSED
    assert "start and finish of neck are exchanged" in found.causes[0].texts


def test_a_dead_coil_leaves_a_position_silent(bench: Bench, prediction: Prediction) -> None:
    found = judged(bench, prediction, with_coil_shorted(bench.wiring, "bridge"))
    assert found.word == NOT_AS_PROPOSED
    assert found.silent == (1, 2, 3)
    assert found.sound == 0.0
    assert "bridge.start touches bridge.finish" in found.causes[0].texts


def test_a_missing_capacitor_is_named_and_needs_the_knob_down(
    small: Wiring, bench: Bench, prediction: Prediction
) -> None:
    wrong = without_terminal(small, "tone_cap", "b")
    found = judged(bench, prediction, wrong)
    assert found.word == NOT_AS_PROPOSED
    assert any("tone_cap" in text for text in found.causes[0].texts)
    up = [i for i, one in enumerate(prediction.settings) if one.knobs.get("tone") != 0.0]
    without, _ = measured(bench.record_all(wrong, SEED))
    found = verify(_some(prediction, up), [without[i] for i in up], NAMES)
    assert found.word == AS_PROPOSED  # it is not heard there
    assert any("tone_cap" in text for text in found.unheard)
    assert "no fault" not in found.unheard


def _some(prediction: Prediction, chosen: list[int]) -> Prediction:
    guesses = (
        replace(one, levels_db=one.levels_db[chosen], fallen=one.fallen[chosen], faint=one.faint[chosen])
        for one in prediction.guesses
        if one.fault is not None
    )
    return Prediction(
        tuple(prediction.settings[i] for i in chosen),
        prediction.levels_db[chosen],
        prediction.played_db[:, chosen],
        prediction.drawn_db[:, chosen],
        tuple(guesses),
    )


def test_the_gain_does_not_matter(recordings: list[Floats], prediction: Prediction) -> None:
    first, second = (verify(prediction, measured([k * x for x in recordings])[0], NAMES) for k in (1.0, 7.0))
    assert first.sound == pytest.approx(second.sound, abs=1e-6)
    assert first.pairs[0].level_db == pytest.approx(second.pairs[0].level_db, abs=1e-6)


def test_what_is_told_of_a_pair_is_its_difference(strums: list[Strums], prediction: Prediction) -> None:
    pair = verify(prediction, strums, NAMES).pairs[0]
    heard = strums[0].levels_db.mean(axis=0) - strums[1].levels_db.mean(axis=0)
    counts = np.isfinite(pair.heard_db)
    assert counts.sum() > 15
    assert pair.heard_db[counts] == pytest.approx(heard[counts])
    assert pair.level_db == pytest.approx(heard[counts].mean())
    assert (pair.sd_db[counts] > 0.5).all()
    assert WIDE * pair.level_sd_db < 8.0


def test_recordings_under_noise_are_refused(strums: list[Strums], prediction: Prediction) -> None:
    noisy = [Strums(one.levels_db, one.noise_db + 70.0, one.over_noise_db) for one in strums]
    with pytest.raises(InputError, match="bands stand 6 dB over its noise"):
        verify(prediction, noisy, NAMES)


def test_one_position_alone_that_sounds_tells_by_silence(
    strums: list[Strums], prediction: Prediction
) -> None:
    gone = [replace(one, over_noise_db=0.0) for one in strums]
    found = verify(prediction, [*gone[:2], strums[2], *gone[3:]], NAMES)  # the neck coil is shorted
    assert found.word == NOT_AS_PROPOSED
    assert "neck.start touches neck.finish" in found.causes[0].texts
    assert found.pairs == ()
    with pytest.raises(InputError, match="no strum over the noise in any"):
        verify(prediction, gone, NAMES)


def test_a_setting_that_is_silent_as_proposed_is_no_fault(
    small: Wiring, strums: list[Strums], prediction: Prediction
) -> None:
    """A kill switch, or a volume at 0: it was recorded, and nothing is heard, as it should be."""
    off = small.setting("1", {"volume": 0.0})
    with_off = predict(small, [*prediction.settings[:3], off], window_s=0.8)
    gone = replace(strums[0], over_noise_db=0.0)
    found = verify(with_off, [*strums[:3], gone], NAMES)
    assert found.silent == (3,)
    assert found.word == AS_PROPOSED
    sounds = verify(with_off, strums[:4], NAMES)
    assert sounds.word == NOT_AS_PROPOSED
    alone = replace(with_off.guesses[0], faint=np.array([False, True, True, True]))
    one = verify(
        replace(with_off, guesses=(alone, *with_off.guesses[1:])), [strums[0], gone, gone, gone], NAMES
    )
    assert one.word == UNSURE  # nothing was compared
    assert one.sound > 0.5


NO_HANDS = Hands(common_db=0.01, level_db=0.01, tilt_db=0.01, played=0.0, ripple_db=0.01)
"""A finder that takes what it hears for the guitar alone."""


def test_without_dividing_out_the_hands_sound_guitars_fail(bench: Bench, prediction: Prediction) -> None:
    """The twin: the same recordings, judged by absolute spectra and parts' spread."""
    failed = 0
    for seed in range(SEED + 1, SEED + 3):
        strums, _ = measured(bench.record_all(bench.wiring, seed))
        assert verify(prediction, strums, NAMES).word == AS_PROPOSED
        failed += verify(prediction, strums, NAMES, NO_HANDS).word == NOT_AS_PROPOSED
    assert failed == 2
