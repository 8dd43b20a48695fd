"""Tapers against their definition and against three measured pots."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tolerances import PERCENT_PRINTED, TAPER_MAX, TAPER_RMS, TAPER_ROUNDING

from dsp.errors import InputError
from dsp.parts.taper import NAMES, Taper, audio, from_points, linear, measured_audio, named, reverse_audio

# B. Holmes and M. van Walstijn, DAFx-19, companion pages (read): three 100 kΩ audio pots, ohms
# between lug 1 and wiper every 15 degrees of 300, and each pot's own total.
# fmt: off
POTS_OHM = (
    ((1.2, 233.5, 993.7, 1685.9, 2395, 5129, 7681, 9786, 11667, 14119, 16500, 18798, 20880, 33850,
      47180, 62090, 78360, 92190, 97800, 98200, 98200), 98140),
    ((1.1, 49.4, 434.6, 1071.9, 1738.4, 2782, 5332, 7134, 9418, 11622, 13501, 15604, 17917, 23460,
      34670, 45530, 56360, 69560, 81510, 83380, 83410), 83400),
    ((1.0, 49.4, 579.3, 1215.7, 1973.7, 3090, 6271, 8978, 11003, 13121, 15156, 17836, 20160, 29820,
      44500, 58290, 73000, 89870, 99440, 100490, 100490), 100420),
)
# fmt: on
TRAVEL = np.linspace(0.0, 1.0, 21)


def measured_mean() -> np.ndarray:
    """The mean share of the three pots, shape (21,), each of its own total and at most 1."""
    return np.mean([np.minimum(np.array(ohms) / total, 1.0) for ohms, total in POTS_OHM], axis=0)


def errors(taper: Taper) -> tuple[float, float]:
    """Return the root mean square and largest distance from the measured mean, of full scale."""
    apart = taper.share(TRAVEL) - measured_mean()
    return float(np.sqrt(np.mean(apart**2))), float(np.max(np.abs(apart)))


@pytest.mark.reference
def test_measured_audio_is_the_mean_of_the_measured_pots() -> None:
    assert np.max(np.abs(measured_audio().share(TRAVEL) - measured_mean())) <= TAPER_ROUNDING


def test_the_tracks_of_a_blend_pot_are_flat_over_one_half_each() -> None:
    rising, later = named("blend"), named("reverse blend")
    np.testing.assert_array_equal(rising.share(np.array([0.0, 0.25, 0.5, 0.75, 1.0])), [0, 0.5, 1, 1, 1])
    np.testing.assert_array_equal(later.share(np.array([0.0, 0.25, 0.5, 0.75, 1.0])), [0, 0, 0, 0.5, 1])


@pytest.mark.reference
def test_the_measured_pots_as_summarised() -> None:
    summary = {0.25: 3.9, 0.5: 16.0, 0.75: 58.6}  # % of own total, mean of the three
    for a, percent in summary.items():
        assert abs(100 * measured_audio().share(a) - percent) <= PERCENT_PRINTED


@pytest.mark.reference
@pytest.mark.parametrize(
    "taper",
    [measured_audio(), from_points([[0, 0], [0.159, 0], [0.621, 0.219], [0.890, 1], [1, 1]])],
    ids=["measured audio", "three lines fitted to it"],
)
def test_within_the_tolerance_of_the_measured_pots(taper: Taper) -> None:
    rms, largest = errors(taper)
    assert rms <= TAPER_RMS
    assert largest <= TAPER_MAX


@pytest.mark.reference
def test_the_check_fails_on_a_slightly_wrong_curve() -> None:
    # The same curve 2 % of the travel late.
    late = Taper(((0.0, 0.0), *((x + 0.02, y) for x, y in measured_audio().points[:19]), (1.0, 1.0)))
    assert errors(late)[1] > TAPER_MAX


@pytest.mark.reference
def test_two_straight_lines_miss_real_pots() -> None:
    """The usual model misses real pots by up to 16 % of full scale near 9."""
    rms, largest = errors(audio())
    assert rms == pytest.approx(0.0654, abs=5e-5)
    assert largest == pytest.approx(0.158, abs=5e-4)
    assert TRAVEL[np.argmax(np.abs(audio().share(TRAVEL) - measured_mean()))] == pytest.approx(0.9)
    assert rms > TAPER_RMS  # so nothing may call it measured


@pytest.mark.reference
def test_audio_against_the_specified_fifteen_percent_curve() -> None:
    # Same source: the makers' specified 15 % curve. Two lines meet it near the middle only.
    specified = {0.05: 0.003, 0.30: 0.063, 0.51: 0.162, 0.70: 0.410, 0.92: 0.958, 0.97: 1.0}
    apart = {a: audio(0.15).share(a) - y for a, y in specified.items()}
    assert abs(apart[0.51]) <= 0.006
    assert max(map(abs, apart.values())) == pytest.approx(0.094, abs=5e-4)


@pytest.mark.parametrize(
    ("taper", "a", "share"),
    [
        (linear(), 0.3, 0.3),
        (audio(), 0.25, 0.075),
        (audio(), 0.5, 0.15),
        (audio(), 0.75, 0.575),
        (audio(0.1), 0.5, 0.1),
        (reverse_audio(), 0.5, 0.85),
        (reverse_audio(), 0.75, 0.925),
        (from_points([[0, 0], [0.62, 0.22], [1, 1]]), 0.31, 0.11),
        (from_points([[0, 0], [0.62, 0.22], [1, 1]]), 0.81, 0.61),
    ],
)
def test_share_by_hand(taper: Taper, a: float, share: float) -> None:
    assert taper.share(a) == pytest.approx(share, rel=1e-14)


@pytest.mark.parametrize("name", NAMES)
def test_ends_are_exact_and_the_share_never_falls(name: str) -> None:
    taper = named(name)
    assert taper.share(0.0) == 0.0
    assert taper.share(1.0) == 1.0
    assert np.all(np.diff(taper.share(np.linspace(0, 1, 1001))) >= 0)


def test_share_of_an_array_has_its_shape() -> None:
    grid = np.linspace(0, 1, 6).reshape(2, 3)
    shares = audio().share(grid)
    assert shares.shape == (2, 3)
    assert [audio().share(float(a)) for a in grid.flat] == list(shares.flat)
    assert type(audio().share(0.5)) is float


@pytest.mark.parametrize("a", [-1e-9, 1.0000001, math.nan, math.inf])
def test_settings_outside_the_travel(a: float) -> None:
    with pytest.raises(InputError, match="0 to 1"):
        linear().share(a)
    with pytest.raises(InputError, match="0 to 1"):
        linear().share(np.array([0.5, a]))


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([], "2 to 1000"),
        ([[0, 0]], "2 to 1000"),
        ([[0, 0]] * 1001, "2 to 1000"),
        ("linear", "list of points"),
        (7, "list of points"),
        ([[0, 0], [1]], "point 2"),
        ([[0, 0], "ab"], "point 2"),
        ([[0, 0], [True, 1]], "point 1|point 2"),
        ([[0, 0], [0.5, math.nan], [1, 1]], "point 2"),
        ([[0, 0], [0.5, 1.5], [1, 1]], "point 2"),
        ([[0, 0], ["0.5", 0.2], [1, 1]], "point 2"),
        ([[0, 0.1], [1, 1]], "first point"),
        ([[0, 0], [1, 0.9]], "last point"),
        ([[0, 0], [0.5, 0.2], [0.5, 0.4], [1, 1]], "setting above 0.5"),
        ([[0, 0], [0.5, 0.4], [0.6, 0.3], [1, 1]], "share of 0.4"),
    ],
)
def test_points_that_are_not_a_taper(points: object, message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        from_points(points, where="volume.taper")
    assert caught.value.problems[0].where.startswith("volume.taper")


def test_every_problem_of_a_list_at_once() -> None:
    with pytest.raises(InputError) as caught:
        Taper(((0.1, 0.0), (0.5, 0.4), (0.5, 0.3), (1.0, 0.9)))
    assert len(caught.value.problems) == 4


@pytest.mark.parametrize("midpoint", [-0.1, 1.1, math.nan])
def test_midpoint_out_of_range(midpoint: float) -> None:
    with pytest.raises(InputError, match="midpoint"):
        audio(midpoint)


def test_named_tapers() -> None:
    assert named("audio", 0.1) == audio(0.1)
    assert named("reverse audio") == reverse_audio(0.85)
    assert named("measured audio") == measured_audio()
    with pytest.raises(InputError, match="did you mean 'linear'"):
        named("linaer", where="tone")
    with pytest.raises(InputError, match="midpoint"):
        named("linear", 0.2)


@given(st.lists(st.tuples(st.floats(0.001, 0.999), st.floats(0, 1)), max_size=20, unique_by=lambda p: p[0]))
def test_any_rising_chain_is_met_at_its_points(inner: list[tuple[float, float]]) -> None:
    xs = sorted(x for x, _ in inner)
    ys = sorted(y for _, y in inner)
    taper = from_points([(0, 0), *zip(xs, ys, strict=True), (1, 1)])
    for x, y in zip(xs, ys, strict=True):
        assert taper.share(x) == pytest.approx(y, abs=1e-12)
