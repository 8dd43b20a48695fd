"""Sensitivities of simulated coils are found within their intervals, and hands must be divided out.

All is simulated, by the same string model that predicts; tests/README.md says what that leaves open.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from places import DEMO
from plucked_guitar import WINDOW_S, Player, Tally, Truth, draw_guitars, draw_truth, naive_error, with_strings

from dsp.errors import InputError
from dsp.verifying import sensitivity
from dsp.verifying.coil_levels import CoilLevels, Plucks, expect_levels, read_string
from dsp.verifying.sensitivity import LOOSE_DB, Sensitivities, find_sensitivities
from dsp.verifying.strums import Strums
from dsp.verifying.verdict import MOST_MISFIT
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

SEED, GUITARS = 800, 100
HAND = "finger"
NAMES = [f"{number}.wav" for number in range(1, 7)]


@pytest.fixture(scope="module")
def wiring() -> Wiring:
    """The twelve-string's wiring on two strings: plucks are rendered in little time."""
    return with_strings(load_wiring(DEMO / "twelve.yaml"), (0, 4))


@pytest.fixture(scope="module")
def player(wiring: Wiring) -> Player:
    settings = [wiring.setting(position) for position in wiring.positions]
    return Player(wiring, settings, 6, SEED, hand=HAND)


@pytest.fixture(scope="module")
def levels(wiring: Wiring, player: Player) -> CoilLevels:
    return expect_levels(wiring, player.plucks, window_s=WINDOW_S, hand=HAND)


@pytest.fixture(scope="module")
def guitars(wiring: Wiring, player: Player) -> list[list[Strums]]:
    """Plucks of guitars of drawn parts, sensitivities, balances and polarities."""
    responses = draw_guitars(wiring, player.settings, GUITARS, SEED)
    return [
        player.measure_all(draw_truth(2, 2, SEED + k), response, SEED + k)
        for k, response in enumerate(responses)
    ]


def tallied(wiring: Wiring, levels: CoilLevels, guitars: list[list[Strums]]) -> Tally:
    tally = Tally.empty()
    for k, strums in enumerate(guitars):
        found = find_sensitivities(levels, strums, NAMES, reference="neck")
        tally.add(wiring, draw_truth(2, 2, SEED + k), found)
    print(tally.text())
    return tally


def test_sensitivities_lie_within_their_intervals(
    wiring: Wiring, levels: CoilLevels, guitars: list[list[Strums]]
) -> None:
    tally = tallied(wiring, levels, guitars)
    assert len(tally.levels) >= 0.9 * GUITARS
    assert tally.share(tally.levels) >= 0.90
    assert tally.share(tally.balances) >= 0.90
    assert np.median([within for _, within in tally.levels]) < 3.5  # an interval that says something
    assert sum(right for _, right in tally.polarities) >= 0.90 * GUITARS


def test_without_dividing_out_the_hands_errors_exceed_the_intervals(
    levels: CoilLevels, guitars: list[list[Strums]]
) -> None:
    """The twin: the same recordings, their levels taken for the coils', with the plucks' own scatter."""
    errors = [naive_error(levels, strums, draw_truth(2, 2, SEED + k)) for k, strums in enumerate(guitars)]
    assert Tally.share(errors) < 0.80


def some(levels: CoilLevels, chosen: list[int]) -> CoilLevels:
    """Return the prediction of some of the recordings."""
    return replace(levels, points=levels.points[chosen])


def found_of(levels: CoilLevels, strums: list[Strums], chosen: list[int]) -> Sensitivities:
    names = [NAMES[i] for i in chosen]
    return find_sensitivities(some(levels, chosen), [strums[i] for i in chosen], names, reference="neck")


def test_a_coil_that_is_never_read_is_not_told(levels: CoilLevels, guitars: list[list[Strums]]) -> None:
    """Position 1 twice hears the neck's coil alone; a second point is needed for any comparison."""
    with pytest.raises(InputError, match="no string or chord in two positions"):
        found_of(levels, guitars[0], [0, 3])
    found = found_of(levels, guitars[0], [0, 1, 2, 3])
    assert found.lonely == (3,)


def test_polarity_needs_coils_that_sound_together(levels: CoilLevels, guitars: list[list[Strums]]) -> None:
    assert found_of(levels, guitars[0], [0, 2, 3, 5]).polarities == ()
    (pair,) = found_of(levels, guitars[0], [0, 1, 2, 3, 4, 5]).polarities
    assert (pair.first, pair.second, pair.recording) == ("neck", "bridge", 1)


def test_the_gain_and_the_string_do_not_matter(levels: CoilLevels, guitars: list[list[Strums]]) -> None:
    """One string louder in every position is the string; a coil is not more sensitive for it."""
    plain = find_sensitivities(levels, guitars[1], NAMES, reference="neck").coils[0]
    shifted = [
        Strums(one.levels_db + 5.0 * (i >= 3) + 2.0, one.noise_db + 5.0 * (i >= 3) + 2.0, one.over_noise_db)
        for i, one in enumerate(guitars[1])
    ]
    louder = find_sensitivities(levels, shifted, NAMES, reference="neck").coils[0]
    assert louder.level.db == pytest.approx(plain.level.db, abs=0.05)
    assert louder.balance[0].db == pytest.approx(plain.balance[0].db, abs=0.05)


def test_the_interval_narrows_with_more_recordings(
    wiring: Wiring, levels: CoilLevels, guitars: list[list[Strums]]
) -> None:
    one = found_of(levels, guitars[2], [0, 1, 2]).coils[0].level
    both = found_of(levels, guitars[2], [0, 1, 2, 3, 4, 5]).coils[0].level
    assert both.within_db < one.within_db
    loose = found_of(levels, guitars[2], [0, 2]).coils[0]  # force alone may differ by so much
    assert loose.level.within_db > both.within_db
    assert loose.level.told == (loose.level.within_db <= LOOSE_DB)
    assert loose.reason == "" or "leave it open" in loose.reason


def test_recordings_that_nothing_explains_tell_nothing(
    levels: CoilLevels, guitars: list[list[Strums]]
) -> None:
    """Every second band of a position is louder: no sensitivity does that."""
    comb = 4.0 * np.arange(guitars[3][0].levels_db.shape[1]) % 8.0 - 2.0
    wrong = [replace(one, levels_db=one.levels_db + comb * (i % 3 - 1)) for i, one in enumerate(guitars[3])]
    assert find_sensitivities(levels, guitars[3], NAMES, reference="neck").fits
    found = find_sensitivities(levels, wrong, NAMES, reference="neck")
    assert found.misfit > MOST_MISFIT
    assert not found.fits
    assert not found.coils[0].level.told
    assert "no sensitivities explain" in found.coils[0].reason
    assert not any(pair.told for pair in found.polarities)


def test_silence_and_noise_are_refused_by_name(levels: CoilLevels, guitars: list[list[Strums]]) -> None:
    quiet = [replace(one, over_noise_db=3.0 if i == 2 else 60.0) for i, one in enumerate(guitars[0])]
    with pytest.raises(InputError, match=r"3\.wav.*no pluck over the noise"):
        find_sensitivities(levels, quiet, NAMES)
    noisy = [replace(one, noise_db=one.noise_db + 70.0 * (i == 1)) for i, one in enumerate(guitars[0])]
    with pytest.raises(InputError, match=r"2\.wav.*bands stand 6 dB over its noise"):
        find_sensitivities(levels, noisy, NAMES)


def test_the_energy_is_that_of_an_own_sum(wiring: Wiring, levels: CoilLevels) -> None:
    """Gains of two coils, put into the quadratic form term by term."""
    gains = Truth(np.array([[1.0, -2.0], [3.0, 0.5]]), np.array([1.0, -1.0])).gains
    energy = levels.energy(gains)
    point, strum, band = 1, 4, 12
    own = sum(
        levels.forms[point, strum, s, band, k, m] * gains[k, s] * gains[m, s]
        for s in range(2)
        for k in range(2)
        for m in range(2)
    )
    assert energy[point, strum, band] == pytest.approx(own)
    moved = gains.copy()
    moved[1, 0] *= 10.0 ** (0.001 / 20.0)
    before, slopes = levels.slopes(gains)
    after, _ = levels.slopes(moved)
    assert slopes[1, :, 1, 0] == pytest.approx((after - before)[1] / 0.001, abs=1e-3)


def test_a_chord_is_the_sum_of_its_strings(wiring: Wiring) -> None:
    settings = [wiring.setting(position) for position in wiring.positions[:2]]
    plucks = [Plucks(one, string) for one in settings for string in (0, 1, None)]
    found = expect_levels(wiring, plucks, window_s=0.3)
    energy = found.energy(np.ones((2, 2)))
    for at in (0, 3):
        assert energy[at + 2] == pytest.approx(energy[at] + energy[at + 1])
    assert found.groups.tolist() == [0, 1, 2, 0, 1, 2]
    assert found.sounds[:, 1].tolist() == [False] * 3 + [True] * 3  # the bridge's coil, from position 2 on


@pytest.mark.parametrize("text", ["0", "3", "x", "", "-1", "1.0"])
def test_a_string_is_one_of_the_instrument(wiring: Wiring, text: str) -> None:
    assert read_string(wiring, "1", "a.wav") == 1
    with pytest.raises(InputError, match="1, the highest, to 2, the lowest"):
        read_string(wiring, text, "a.wav")


@pytest.fixture(scope="module")
def four() -> CoilLevels:
    """The baritone's four coils, one string alone in every position."""
    baritone = with_strings(load_wiring(DEMO / "baritone.yaml"), (2,))
    settings = [baritone.setting(position) for position in baritone.positions]
    return expect_levels(baritone, [Plucks(one, 0) for one in settings], window_s=WINDOW_S)


VALLEY = 33
"""Seed of coils that nearly cancel in a position: a fit that starts at equal coils rests far away."""


def error_in_a_valley(four: CoilLevels, seed: int) -> float:
    """Largest error of the levels of three coils, in halves of their intervals."""
    truth = draw_truth(4, 1, seed)
    scatter = np.array([[-0.5], [0.5], [0.0]])
    strums = [
        Strums(level + scatter, np.full(len(level), level.max() - 70.0), 60.0)
        for level in four.levels(truth.gains)[0]
    ]
    found = find_sensitivities(four, strums, NAMES, reference="neck_a")
    true, _ = truth.against(0)
    return max(abs(one.level.db - true[four.coils.index(one.coil)]) / one.level.within_db
               for one in found.coils)  # fmt: skip


def test_coils_that_nearly_cancel_are_found(four: CoilLevels, monkeypatch: pytest.MonkeyPatch) -> None:
    assert error_in_a_valley(four, VALLEY) < 0.5
    monkeypatch.setattr(sensitivity, "MOVES_DB", (0.0,))  # the twin: the first rest is believed
    assert error_in_a_valley(four, VALLEY) > 1.0


def test_the_points_of_one_group_stand_alone(levels: CoilLevels) -> None:
    gains = Truth(np.array([[1.0, -2.0], [3.0, 0.5]]), np.array([1.0, -1.0])).gains
    second = levels.of_group(1)
    assert second.points.tolist() == [0, 1, 2]
    assert second.levels(gains)[0] == pytest.approx(levels.levels(gains)[0][levels.groups == 1])
