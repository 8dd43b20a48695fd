"""Filters that change between pieces: exact within each, smooth and complete across them."""

from __future__ import annotations

from collections.abc import Hashable

import numpy as np
import pytest
from tolerances import SAME_SAMPLES

from dsp.tracking.filtering import Line, Piece, Size, run_pieces, within_reach

SIZE = Size(8000, 4096)
N_BINS = SIZE.whole // 2 + 1
RNG = np.random.default_rng(7)


def gains(voice: Hashable) -> np.ndarray:
    """Return the gains of two coils: the voice's number, and minus half of it."""
    assert isinstance(voice, float)
    return np.outer([voice, -0.5 * voice], np.ones(N_BINS)).astype(complex)


def run(samples: np.ndarray, lines: list[Line], cut: int = 1000, frames: int = 512) -> np.ndarray:
    blocks = [samples[:, i : i + cut] for i in range(0, samples.shape[1], cut)]
    return np.concatenate(list(run_pieces(blocks, lines, 2, SIZE, frames)), axis=1)


PIECES = (Piece(0, 0, 1.0), Piece(900, 300, 1.0), Piece(5000, 24, 1.0), Piece(5100, 1, 1.0))


@pytest.mark.parametrize("n", [1, 511, 512, 4096, 20_011])
@pytest.mark.parametrize("cut", [1, 1000, 30_000])
def test_pieces_of_one_voice_add_up_to_the_whole(n: int, cut: int) -> None:
    if cut == 1 and n > 4096:
        cut = 37
    samples = RNG.standard_normal((1, n))
    got = run(samples, [Line(PIECES, gains)], cut)
    assert got.shape == (2, n)
    np.testing.assert_allclose(got[0], samples[0], atol=SAME_SAMPLES * 10)
    np.testing.assert_allclose(got[1], -0.5 * samples[0], atol=SAME_SAMPLES * 10)


@pytest.mark.parametrize("seed", range(12))
def test_pieces_of_any_lengths_add_up(seed: int) -> None:
    """Fades across a transform's end and pieces shorter than a fade lose nothing and double nothing."""
    chance = np.random.default_rng(seed)
    pieces, at = [Piece(0, 0, 1.0)], 0
    while at < 30_000:
        at += int(chance.integers(0, 5000))
        pieces.append(Piece(at, int(chance.integers(1, 900)), 1.0))
        at += pieces[-1].fade
    samples = chance.standard_normal((1, 26_000))
    got = run(samples, [Line(tuple(pieces), gains)], int(chance.integers(50, 9000)))
    np.testing.assert_allclose(got[0], samples[0], atol=1e-10)


def test_a_filter_is_exact_across_its_own_seams() -> None:
    """Delays of both signs, over many transforms, equal shifted samples."""
    freqs = np.arange(N_BINS) / SIZE.whole
    for shift in (-200, 137):
        filters = np.exp(-2j * np.pi * freqs * shift)[None] * np.ones((2, 1))
        line = Line((Piece(0, 0, "x"),), lambda _, filters=filters: filters)
        samples = RNG.standard_normal((1, 15_000))
        got = run(samples, [line])[0]
        inner = slice(300, -300)
        np.testing.assert_allclose(got[inner], np.roll(samples[0], shift)[inner], atol=1e-10)


def test_a_change_of_voice_is_a_raised_cosine_in_its_place() -> None:
    line = Line((Piece(0, 0, 1.0), Piece(3000, 400, 3.0)), gains)
    got = run(np.ones((1, 8000)), [line])[0]
    np.testing.assert_allclose(got[:3000], 1.0, atol=1e-10)
    np.testing.assert_allclose(got[3400:], 3.0, atol=1e-10)
    fade = np.diff(got[2999:3402])
    assert np.all(fade > -1e-12)
    assert np.max(fade) < 1.2 * np.pi / 2.0 * 2.0 / 400.0  # a raised cosine's steepest slope, not a step


def test_lines_add_up_and_silence_stays_silence() -> None:
    samples = RNG.standard_normal((2, 9000))
    samples[1, 2000:7000] = 0.0
    got = run(samples, [Line((Piece(0, 0, 1.0),), gains), Line(PIECES, gains)])
    np.testing.assert_allclose(got[0], samples.sum(axis=0), atol=1e-10)
    assert not run(np.zeros((1, 9000)), [Line(PIECES, gains)]).any()


def test_filters_end_within_their_reach() -> None:
    """A response that would ring for ever dies away within the reach; the rest stays as it is."""
    slow = 1.0 / (1.0 - 0.9999 * np.exp(-2j * np.pi * np.arange(N_BINS) / SIZE.whole))
    impulse = np.fft.irfft(within_reach(slow[None], SIZE)[0])
    assert np.max(np.abs(impulse[SIZE.reach : -SIZE.reach])) < 1e-12
    np.testing.assert_allclose(impulse[: SIZE.reach // 2], np.fft.irfft(slow)[: SIZE.reach // 2], rtol=1e-9)


@pytest.mark.parametrize("rate_hz", [8000, 44_100, 48_000, 192_000])
def test_sizes_hold_the_longest_echoes(rate_hz: int) -> None:
    size = Size.at(rate_hz)
    assert size.reach / rate_hz > 0.14  # eight periods of a low B
    assert size.longest + 2 * size.reach == size.whole
    assert np.all(size.frequencies_hz() > 0.0)
