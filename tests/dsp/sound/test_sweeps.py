"""Moving knobs and switches: artefacts on a sine, and the plan of settings.

The measure: frames of 50 ms, Kaiser window (beta 20, side lobes below -150 dB); what stands above 1.5 kHz
in the worst frame, against the loudest frame. A sine of 110 Hz, slowly faded, has nothing there.

Choice of the step (straight fades end to end; dB re signal, worst of volume 10 to 0 to 10,
tone 10 to 0 to 10, both at once): difference to steps of 1 ms / what stands above 1.5 kHz

    a turn in      20 ms          10 ms          5 ms           2.5 ms
    0.25 s     -36.4 / -92.7  -42.6 / -96.6  -69.5 / -92.2  -80.8 / -92.1
    0.5 s      -41.1 / -102.6 -66.6 / -102.1 -80.0 / -101.4 -92.0 / -101.2
    1 s        -65.1 / -108.1 -77.4 / -107.5 -89.6 / -107.2 -102.8 / -107.0

The second figure is the movement itself, a knob that starts and stops at once: 1 ms steps have it too.
Fades of a raised cosine end to end ripple at the rate of the steps: -49, -54 and -59 dB at 5 ms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from places import NETWORKS
from small_wirings import wiring_of
from tolerances import ARTEFACT_DB, SAME_SAMPLES, STEADY_DB, STEPS_DB

from dsp.errors import InputError
from dsp.filters.bank import Bank
from dsp.filters.design import DELAY, design_bank
from dsp.filters.run import Runner
from dsp.sound import movement as plan
from dsp.sound import render
from dsp.sound.movement import FADE_S, Flip, Step, Sweep, steps_of
from dsp.sound.render import Renderer
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import load_tree

Floats = NDArray[np.float64]
RATE = 48_000
FRAME = 2400
ABOVE_HZ = 1500.0
WIRING_FILE = NETWORKS / "baritone_rotary.yaml"
FLIPS = (Flip(0.4, "5"), Flip(0.5, "2"), Flip(0.7103, "6"), Flip(0.9, "1"))


@cache
def wiring() -> Wiring:
    return read_wiring(load_tree(WIRING_FILE), "baritone.yaml")


@cache
def _bank(position: str, knobs: tuple[tuple[str, float], ...]) -> Bank:
    return design_bank(wiring(), Setting(position, dict(knobs)), RATE)


def bank_of(setting: Setting) -> Bank:
    return _bank(setting.position, tuple(setting.knobs.items()))


def sine(seconds: float) -> Floats:
    """Return 110 Hz in all four coils, at different levels and signs, so that positions differ."""
    wave = np.sin(2 * np.pi * 110.0 * np.arange(round(seconds * RATE)) / RATE)
    return np.outer([1.0, -0.8, 0.7, -0.9], wave)


def chain(seconds: float, sweeps: Sequence[Sweep] = (), flips: Sequence[Flip] = ()) -> tuple[Step, ...]:
    start = wiring().setting("4")
    return steps_of(wiring(), start, sweeps, flips, n_samples=round(seconds * RATE), rate_hz=RATE)


def rendered(steps: Sequence[Step], stems: Floats, block: int = 4096) -> Floats:
    parts = (stems[:, at : at + block] for at in range(0, stems.shape[1], block))
    return np.concatenate(list(Renderer(steps, bank_of, RATE).render(parts)))


def _frames(signal: Floats) -> Floats:
    starts = np.arange(0, len(signal) - FRAME + 1, FRAME // 2)
    return signal[starts[:, None] + np.arange(FRAME)] * np.kaiser(FRAME, 20.0)


def artefact_db(signal: Floats) -> float:
    """Return the worst frame above 1.5 kHz re the loudest, without the first 0.1 s: the sine starts."""
    power = np.abs(np.fft.rfft(_frames(signal[RATE // 10 :]), axis=1)) ** 2
    high = np.fft.rfftfreq(FRAME, 1.0 / RATE) > ABOVE_HZ
    return float(10.0 * np.log10(power[:, high].sum(axis=1).max() / power.sum(axis=1).max()))


def difference_db(one: Floats, other: Floats) -> float:
    power = [(_frames(signal) ** 2).sum(axis=1).max() for signal in (one - other, other)]
    return float(10.0 * np.log10(power[0] / power[1]))


def turn(knob: str, seconds: float) -> list[Sweep]:
    """Return a sweep from 10 to 0 to 10 after 0.2 s, each way in a given time."""
    return [Sweep(knob, 10, 0, 0.2, 0.2 + seconds), Sweep(knob, 0, 10, 0.2 + seconds, 0.2 + 2 * seconds)]


MOVES = {
    "volume": turn("volume", 0.5),
    "tone": turn("tone", 0.5),
    "both": turn("volume", 0.5) + turn("tone", 0.5),
}


def test_a_steady_sine_has_no_artefacts() -> None:
    assert artefact_db(rendered(chain(0.6), sine(0.6))) <= STEADY_DB


def test_flips() -> None:
    assert artefact_db(rendered(chain(1.2, flips=FLIPS), sine(1.2))) <= ARTEFACT_DB


def test_twin_flips_without_a_fade_are_heard() -> None:
    abrupt = [replace(stage, fade=min(stage.fade, 1)) for stage in chain(1.2, flips=FLIPS)]
    assert artefact_db(rendered(abrupt, sine(1.2))) > ARTEFACT_DB + 30.0


def test_twin_a_short_fade_is_heard() -> None:
    short = [replace(stage, fade=min(stage.fade, RATE // 1000)) for stage in chain(1.2, flips=FLIPS)]
    assert artefact_db(rendered(short, sine(1.2))) > ARTEFACT_DB


def test_twin_a_cold_start_is_worse(monkeypatch: pytest.MonkeyPatch) -> None:
    """Banks that start to run only as they start to sound."""
    warm = rendered(chain(1.2, flips=FLIPS), sine(1.2))
    monkeypatch.setattr(render, "warm_up_samples", lambda bank: 0)
    cold = rendered(chain(1.2, flips=FLIPS), sine(1.2))
    assert artefact_db(cold) > artefact_db(warm) + 3.0
    assert difference_db(cold, warm) > -75.0


def test_a_warm_bank_sounds_as_if_it_had_always_run() -> None:
    """Compare the bank after a flip with the same bank run from the clip's start."""
    stems = sine(1.0)
    flipped = rendered(chain(1.0, flips=[Flip(0.5, "5")]), stems)
    runner = Runner(bank_of(wiring().setting("5")))
    always, _ = runner.run(np.pad(stems, ((0, 0), (0, runner.bank.delay))), runner.initial_state())
    after = round((0.5 + FADE_S) * RATE)
    settled = always[runner.bank.delay :][after:]
    assert 20 * np.log10(np.max(np.abs(flipped[after:] - settled)) / np.max(np.abs(settled))) <= -120.0


SLOW = """
    a: {COIL}
    b: {COIL, eddy: [{share: 9 %, corner: 2 kHz}]}
    c: {kind: capacitor, capacitance: 100 nF}
    selector: {kind: switch, poles: 1, positions: 2}
    output: {kind: jack}
"""
SLOW_JOINTS = """
    a.start, selector.A1
    b.start, selector.A2
    selector.A0, c.a
    c.b, output.tip
    a.finish, b.finish, output.sleeve
"""


def slow(ohm: str, seconds: float, at_s: float) -> tuple[Renderer, float]:
    """Return the error of a flip with a capacitor into a very light load, re a bank that always ran."""
    load = f"load:\n  amplifier: {{resistance: {ohm}}}\n"
    small = wiring_of(SLOW, SLOW_JOINTS, load)
    n = round(seconds * RATE)
    stems = np.full((2, n), 0.1) + 0.2 * np.sin(2 * np.pi * 41.0 / RATE * np.arange(n))
    steps = steps_of(small, small.setting("1"), [], [Flip(at_s, "2")], n_samples=n, rate_hz=RATE)
    renderer = Renderer(steps, lambda setting: design_bank(small, setting, RATE), RATE)
    flipped = np.concatenate(list(renderer.render([stems[:, i : i + 32_768] for i in range(0, n, 32_768)])))
    runner = Runner(renderer.banks[1])
    always, _ = runner.run(np.pad(stems, ((0, 0), (0, runner.bank.delay))), runner.initial_state())
    after = round((at_s + FADE_S) * RATE)
    settled = always[runner.bank.delay :][after:]
    error = np.max(np.abs(flipped[after:] - settled)) / np.max(np.abs(settled))
    return renderer, float(20.0 * np.log10(error))


def test_a_flip_of_a_circuit_that_settles_in_seconds() -> None:
    """100 nF into 10 MΩ, a time constant of one second; an offset is the worst case."""
    renderer, error_db = slow("10 MΩ", 4.0, 3.5)
    assert error_db <= -120.0
    assert renderer.settled_db == -np.inf  # it ran from the first sample


def test_a_bank_that_cannot_settle_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """With 1.5 s of warm-up the same flip starts wrong, and the renderer reports by how much."""
    monkeypatch.setattr(render, "LONGEST_WARM_S", 1.5)
    renderer, error_db = slow("10 MΩ", 4.0, 3.5)
    assert error_db > -60.0
    assert renderer.settled_db == pytest.approx(20.0 * np.log10(np.exp(-1.5 / 1.0)), abs=0.2)


@pytest.mark.parametrize("what", MOVES)
def test_sweeps(what: str) -> None:
    assert artefact_db(rendered(chain(1.4, MOVES[what]), sine(1.4))) <= ARTEFACT_DB


# A flip in the middle of a sweep, just before one, and as one ends.
AMONG_SWEEPS = {
    "during": [Flip(0.4, "5"), Flip(0.8, "2")],
    "before": [Flip(0.195, "5")],
    "at the end": [Flip(1.195, "5")],
}


@pytest.mark.parametrize("what", AMONG_SWEEPS)
def test_sweeps_and_flips_together(what: str) -> None:
    steps = chain(1.4, MOVES["both"], AMONG_SWEEPS[what])
    assert all(a.at + a.fade <= b.at for a, b in pairwise(steps))
    assert artefact_db(rendered(steps, sine(1.4))) <= ARTEFACT_DB


@pytest.mark.parametrize("knobs", [("volume",), ("tone",), ("volume", "tone")])
def test_steps_are_fine_enough(knobs: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    """The fastest turns, against steps of 1 ms; the twin in steps of 40 ms fails the same measure."""
    moves = [sweep for knob in knobs for sweep in turn(knob, 0.25)]
    ours = rendered(chain(0.75, moves), sine(0.75))
    found = {}
    for step_s in (0.001, 0.04):
        monkeypatch.setattr(plan, "SWEEP_STEP_S", step_s)
        found[step_s] = rendered(chain(0.75, moves), sine(0.75))
    assert difference_db(ours, found[0.001]) <= STEPS_DB
    assert difference_db(found[0.04], found[0.001]) > STEPS_DB


def test_twin_a_sweep_in_abrupt_steps_is_heard() -> None:
    abrupt = [replace(stage, fade=min(stage.fade, 1)) for stage in chain(1.4, MOVES["volume"])]
    assert artefact_db(rendered(abrupt, sine(1.4))) > ARTEFACT_DB


@pytest.mark.parametrize("block", [100, 1024, 5000, 10**6])
def test_the_size_of_blocks_does_not_matter(block: int) -> None:
    stems = sine(0.6)
    steps = chain(0.6, [Sweep("tone", 10, 0, 0.1, 0.3)], [Flip(0.35, "2")])
    want = rendered(steps, stems, 4096)
    got = rendered(steps, stems, block)
    assert len(got) == stems.shape[1]
    np.testing.assert_allclose(got, want, rtol=0, atol=SAME_SAMPLES * np.max(np.abs(want)))


def test_a_clip_is_aligned_to_its_stems() -> None:
    """An impulse comes out where the circuit puts it, not a filter's delay later."""
    stems = np.zeros((4, 4800))
    stems[:, 2000] = 1.0
    clip = rendered(chain(0.1), stems)
    runner = Runner(bank_of(wiring().setting("4")))
    padded = np.pad(stems, ((0, 0), (0, runner.bank.delay)))
    want = runner.run(padded, runner.initial_state())[0][runner.bank.delay :]
    np.testing.assert_allclose(clip, want, rtol=0, atol=SAME_SAMPLES * np.max(np.abs(want)))
    assert np.max(np.abs(clip[:1980])) == 0.0
    # Group delay of the circuit near 0 Hz is a few samples: the first moment sits at the impulse.
    spectrum = np.fft.rfft(clip)[1:12]
    slope = -np.gradient(np.unwrap(np.angle(spectrum))) / (2 * np.pi / len(clip))
    assert 1990.0 < np.median(slope) < 2015.0


@pytest.mark.parametrize("position", "123456")
def test_what_the_start_of_a_clip_cuts_off(position: str) -> None:
    """The README's figures: energy that the filters answer ahead of an impulse, before the clip's start."""
    setting = wiring().setting(position)
    steps = steps_of(wiring(), setting, (), (), n_samples=9600, rate_hz=RATE)

    def clip(at: int) -> Floats:
        stems = np.zeros((4, 9600))
        stems[:, at] = 1.0
        return rendered(steps, stems)

    whole = clip(100)[100 - DELAY : 9000]

    def lost_db(at: int) -> float:
        missing = whole[: DELAY - at]
        np.testing.assert_allclose(clip(at)[:8000], whole[DELAY - at :][:8000], rtol=0, atol=1e-9)
        return float(10.0 * np.log10(np.sum(missing**2) / np.sum(whole**2)))

    assert -50.0 < lost_db(0) <= -39.0
    assert -75.0 < lost_db(4) <= -64.0
    assert np.sum(clip(DELAY)[:9000] ** 2) == pytest.approx(np.sum(whole**2), rel=1e-9)


def test_the_shortest_clips() -> None:
    for n in (1, 5, 11, 12, 13):
        stems = np.ones((4, n))
        assert (
            len(rendered(steps_of(wiring(), wiring().setting("1"), (), (), n_samples=n, rate_hz=RATE), stems))
            == n
        )


# The plan


def test_a_clip_without_moves_is_one_setting() -> None:
    assert chain(1.0) == (Step(0, 0, wiring().setting("4")),)


def test_flips_come_at_their_times() -> None:
    found = chain(1.2, flips=tuple(reversed(FLIPS)))
    fade = round(FADE_S * RATE)
    assert [(s.at, s.fade, s.setting.position) for s in found] == [
        (0, 0, "4"), (19_200, fade, "5"), (24_000, fade, "2"), (34_094, fade, "6"), (43_200, fade, "1"),
    ]  # fmt: skip
    assert not any(stage.straight for stage in found)


def test_a_flip_to_the_present_position_is_dropped() -> None:
    assert len(chain(1.0, flips=[Flip(0.5, "4")])) == 1


def test_a_sweep_runs_from_its_start_to_its_end() -> None:
    found = chain(1.0, [Sweep("tone", 8, 2, 0.25, 0.75)])
    assert found[0].setting.knobs["tone"] == 8.0
    assert (found[1].at, found[-1].at + found[-1].fade) == (12_000, 36_000)
    assert found[-1].setting.knobs["tone"] == pytest.approx(2.0)
    for before, after in pairwise(found[1:]):
        assert before.at + before.fade == after.at
        share = (after.at + after.fade - 12_000) / 24_000
        assert after.setting.knobs["tone"] == pytest.approx(8.0 - 6.0 * share)
    assert all(stage.setting.knobs["volume"] == 10.0 for stage in found)


def test_a_sweep_without_times_takes_the_clip() -> None:
    found = chain(1.0, [Sweep("volume", 0, 10)])
    assert found[0].setting.knobs["volume"] == 0.0
    assert found[1].at == 0
    assert found[-1].at + found[-1].fade == RATE


def test_a_long_sweep_takes_longer_steps() -> None:
    found = chain(600.0, [Sweep("volume", 0, 10)])
    assert len(found) <= plan.MOST_STEPS + 1


def test_a_flip_during_a_sweep_keeps_to_its_steps() -> None:
    found = chain(1.0, [Sweep("tone", 10, 0, 0.2, 0.8)], [Flip(0.5012, "2")])
    changed = next(stage for stage in found if stage.setting.position == "2")
    assert abs(changed.at - 0.5012 * RATE) <= 0.01 * RATE
    for before, after in pairwise(found):
        assert before.at + before.fade <= after.at


@pytest.mark.parametrize(
    ("sweeps", "flips", "message"),
    [
        ([Sweep("tine", 0, 1)], [], "tone"),
        ([Sweep("tone", -1, 1)], [], "0 to 10"),
        ([Sweep("tone", 0, 10.1)], [], "0 to 10"),
        ([Sweep("tone", float("nan"), 1)], [], "0 to 10"),
        ([Sweep("tone", 0, 1, 0.6, 0.5)], [], "times in order"),
        ([Sweep("tone", 0, 1, -0.1, 0.5)], [], "times in order"),
        ([Sweep("tone", 0, 1, 2.0, 3.0)], [], "times in order"),
        ([Sweep("tone", 0, 1, 0.5, 1.2)], [], "times in order within 0 to 1 s"),
        ([Sweep("tone", 0, 1, 0.5, 0.519)], [], "at least 20 ms"),
        ([Sweep("tone", 0, 6, 0.1, 0.3), Sweep("tone", 4, 0, 0.5, 0.6)], [], "where the one before ended"),
        ([Sweep("tone", 4, 0, 0.5, 0.6), Sweep("tone", 0, 6, 0.1, 0.5)], [], "where the one before ended"),
        ([Sweep("tone", 0, 1, float("nan"), 0.5)], [], "times in order"),
        ([Sweep("tone", 0, 1, 0.1, 0.5), Sweep("tone", 1, 0, 0.4, 0.6)], [], "one after the other"),
        ([Sweep("tone", 0, 1), Sweep("tone", 1, 0)], [], "one after the other"),
        ([], [Flip(0.5, "9")], "1, 2, 3, 4, 5, 6"),
        ([], [Flip(0.5, "1", "split")], "none here"),
        ([], [Flip(1.0, "1")], "clip's length"),
        ([], [Flip(-0.1, "1")], "clip's length"),
        ([], [Flip(float("nan"), "1")], "clip's length"),
        ([], [Flip(0.5, "1"), Flip(0.51, "2")], "one fade apart"),
    ],
)
def test_impossible_plans_are_refused(sweeps: list[Sweep], flips: list[Flip], message: str) -> None:
    with pytest.raises(InputError, match=message):
        chain(1.0, sweeps, flips)


def test_a_sweep_may_end_with_the_clip_and_last_one_fade() -> None:
    """The twins of the plans refused: the very end, and 20 ms."""
    assert chain(1.0, [Sweep("tone", 0, 1, 0.5, 1.0)])[-1].setting.knobs["tone"] == pytest.approx(1.0)
    assert chain(1.0, [Sweep("tone", 0, 1, 0.5, 0.52)])[-1].setting.knobs["tone"] == pytest.approx(1.0)


def test_a_knob_waits_between_its_sweeps() -> None:
    """A knob set elsewhere still starts where its first sweep does, whatever their order in the plan."""
    sweeps = [Sweep("tone", 6, 2, 0.5, 0.7), Sweep("tone", 3, 6, 0.1, 0.3)]
    setting = wiring().setting("1", {"tone": 9.0})
    assert plan.initial_setting(setting, sweeps).knobs == {"volume": 10.0, "tone": 3.0}
    found = steps_of(wiring(), setting, sweeps, [], n_samples=RATE, rate_hz=RATE)
    assert found[0].setting.knobs["tone"] == 3.0
    waiting = [stage.setting.knobs["tone"] for stage in found if 0.3 * RATE <= stage.at < 0.5 * RATE]
    assert waiting == []  # nothing moves: the last step of the first sweep stands
    assert found[-1].setting.knobs["tone"] == pytest.approx(2.0)


def test_two_sweeps_of_one_knob_end_to_start_are_allowed() -> None:
    found = chain(1.0, turn("tone", 0.3))
    lowest = min(stage.setting.knobs["tone"] for stage in found)
    assert lowest == pytest.approx(0.0, abs=1e-9)
    assert found[-1].setting.knobs["tone"] == pytest.approx(10.0)
