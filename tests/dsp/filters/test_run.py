"""Running a bank, against scipy's lfilter section by section and a plain convolution."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from random_wirings import seeded
from scipy.signal import lfilter
from tolerances import SAME_SAMPLES, TWIN_FACTOR

from dsp.errors import InputError
from dsp.filters.bank import Bank, Deviation
from dsp.filters.design import design_bank
from dsp.filters.run import Runner

Floats = NDArray[np.float64]
SEEDS = (1, 4, 5, 10, 13, 16)
LENGTH = 5000


@cache
def bank(seed: int) -> Bank:
    return design_bank(*seeded(seed))


def noise(n_coils: int, length: int = LENGTH) -> Floats:
    return np.random.default_rng(3).standard_normal((n_coils, length))


def plainly(one: Bank, stems: Floats) -> Floats:
    """Run the definition: every section of every coil on its own, the FIR part by convolution."""
    total = np.zeros(stems.shape[1])
    for numerators, taps, stem in zip(one.numerators, one.taps, stems, strict=True):
        for numerator, (a1, a2) in zip(numerators, one.poles, strict=True):
            total += lfilter(numerator, [1.0, a1, a2], stem)
        total += np.convolve(stem, taps)[: len(stem)]
    return total


def same(got: Floats, want: Floats) -> bool:
    return bool(np.max(np.abs(got - want)) <= SAME_SAMPLES * np.max(np.abs(want)))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_run_is_the_plain_recursion(seed: int) -> None:
    stems = noise(len(bank(seed).taps))
    runner = Runner(bank(seed))
    got, _ = runner.run(stems, runner.initial_state())
    assert np.max(np.abs(got)) > 1e-3
    assert same(got, plainly(bank(seed), stems))


def test_a_last_bit_too_many_is_refused() -> None:
    want = plainly(bank(1), noise(len(bank(1).taps)))
    off = want.copy()
    off[17] += TWIN_FACTOR * SAME_SAMPLES * np.max(np.abs(want))
    assert not same(off, want)


@pytest.mark.parametrize("sizes", [(1,), (7, 1, 500), (31, 32, 33), (64,), (1024, 3), (LENGTH,)])
def test_any_chunks_give_the_same(sizes: tuple[int, ...]) -> None:
    stems = noise(len(bank(1).taps))
    runner = Runner(bank(1))
    whole, _ = runner.run(stems, runner.initial_state())
    state, parts, at, turn = runner.initial_state(), [], 0, 0
    while at < LENGTH:
        part, state = runner.run(stems[:, at : at + sizes[turn % len(sizes)]], state)
        parts.append(part)
        at, turn = at + len(part), turn + 1
    assert same(np.concatenate(parts), whole)


def test_the_state_carries() -> None:
    """The second half starts wrong without the state, and right with it."""
    stems = noise(len(bank(4).taps))
    runner = Runner(bank(4))
    whole, _ = runner.run(stems, runner.initial_state())
    _, state = runner.run(stems[:, :2049], runner.initial_state())
    assert same(runner.run(stems[:, 2049:], state)[0], whole[2049:])
    assert not same(runner.run(stems[:, 2049:], runner.initial_state())[0], whole[2049:])


def test_running_does_not_touch_what_it_is_given() -> None:
    stems = noise(len(bank(1).taps))
    runner = Runner(bank(1))
    _, state = runner.run(stems[:, :100], runner.initial_state())
    before = stems.copy(), state.sections.copy(), state.history.copy()
    first, _ = runner.run(stems, state)
    second, _ = runner.run(stems, state)
    np.testing.assert_array_equal(first, second)
    for got, want in zip((stems, state.sections, state.history), before, strict=True):
        np.testing.assert_array_equal(got, want)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_impulse_response_has_the_banks_own_spectrum(seed: int) -> None:
    runner, length = Runner(bank(seed)), 1 << 17
    bins = np.array([0, 1, 40, 999, 10_007, 50_021, length // 2])
    response = bank(seed).response(bins * 48_000.0 / length)
    for k in range(len(response)):
        stems = np.zeros((len(response), length))
        stems[k, 0] = 1.0
        spectrum = np.fft.rfft(runner.run(stems, runner.initial_state())[0])[bins]
        np.testing.assert_allclose(spectrum, response[k], rtol=0, atol=1e-9 * np.max(np.abs(response)))


@pytest.mark.parametrize("n_taps", [1, 2, 32, 33, 64, 100])
def test_any_number_of_taps(n_taps: int) -> None:
    taps = np.random.default_rng(4).standard_normal((2, n_taps))
    one = Bank(
        48_000.0, 0, np.array([[-1.2, 0.7]]), np.array([[[1.0, 0.3]], [[0.2, 0.0]]]), taps, Deviation()
    )
    runner, stems = Runner(one), noise(2)
    assert same(runner.run(stems, runner.initial_state())[0], plainly(one, stems))


@pytest.mark.parametrize("length", [1, 40, 3000])
def test_a_bank_without_sections(length: int) -> None:
    """The bank of a shorted jack has no modes at all."""
    one = Bank(
        48_000.0, 0, np.zeros((0, 2)), np.zeros((2, 0, 2)), np.array([[0.0, 1.0], [2.0, 0.0]]), Deviation()
    )
    runner, stems = Runner(one), noise(2, length)
    assert same(runner.run(stems, runner.initial_state())[0], plainly(one, stems))


def test_no_samples_at_all() -> None:
    runner = Runner(bank(1))
    state = runner.initial_state()
    output, after = runner.run(noise(len(bank(1).taps), 0), state)
    assert output.shape == (0,)
    np.testing.assert_array_equal(after.sections, state.sections)


def test_a_wrong_number_of_stems_is_refused() -> None:
    runner = Runner(replace(bank(1)))
    for bad in (np.zeros((len(bank(1).taps) + 1, 10)), np.zeros(10)):
        with pytest.raises(InputError, match="stems"):
            runner.run(bad, runner.initial_state())
