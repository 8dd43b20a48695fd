"""How coils are wound, by an exciter over a small guitar of plain formulas; truths are drawn here.

Parts, exciter and noise have the spreads that dsp states; the guitar is none of its own.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from exciter_rig import COILS, TEXT, drawn_guitar, transfer
from numpy.typing import NDArray
from small_wirings import read, wiring_of

from dsp.checking.exciter import EXCITER_HZ, ExciterRig
from dsp.errors import InputError
from dsp.verifying import windings
from dsp.verifying.windings import (
    ExpectedWindings,
    Laid,
    Windings,
    check_reach,
    choose_laid_reference,
    expect_windings,
    find_together,
    find_windings,
)
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]
GUITARS, SEED = 100, 4100
RIG = ExciterRig()
HZ = np.array(EXCITER_HZ)
POLES = (0, 2, 5)
LEAST, MOST_FALSE_ALARMS = 0.90, 0.05


@pytest.fixture(scope="module")
def wiring() -> Wiring:
    return read(TEXT)


@pytest.fixture(scope="module")
def laid(wiring: Wiring) -> list[Laid]:
    """The neck at both its positions, the bridge where the neck sounds too; three poles of each."""
    at = {name: wiring.setting(name) for name in "123"}
    found = [Laid("neck", None, at["1"]), Laid("neck", None, at["2"]), Laid("bridge", None, at["2"])]
    return [*found, *(Laid(coil, k, at["2"]) for coil in ("neck", "bridge") for k in POLES)]


@pytest.fixture(scope="module")
def expected(wiring: Wiring, laid: list[Laid]) -> ExpectedWindings:
    return expect_windings(wiring, laid, RIG)


def read_guitar(laid: list[Laid], seed: int) -> tuple[Floats, Floats, dict[str, Floats]]:
    """What an exciter reads of a drawn guitar, how the bridge is wound in dB, and balances at the poles."""
    rng = np.random.default_rng(seed)
    guitar, more_db = drawn_guitar(rng), {"neck": 0.0, "bridge": 3.0 * rng.standard_normal()}
    lies_db = dict(zip(COILS, 2.0 / np.sqrt(2.0) * rng.standard_normal(2), strict=True))
    balance = {name: 1.5 * rng.standard_normal(len(POLES)) for name in COILS}
    balance = {name: row - row.mean() for name, row in balance.items()}
    pole_db = {name: 0.5 * rng.standard_normal(len(POLES)) for name in COILS}
    way, strength_db = rng.choice([-1.0, 1.0]), rng.uniform(-60, -20, 2)
    rows = []
    for one in laid:
        db = more_db[one.coil] + lies_db[one.coil] + strength_db[int(one.string is not None)]
        if one.string is not None:
            at = POLES.index(one.string)
            db += balance[one.coil][at] + pole_db[one.coil][at]
        heard = transfer(one.coil, one.setting.position, HZ, guitar=guitar).real
        heard = heard * (1 + 0.015 * rng.standard_normal(len(HZ))) + 0.03 * rng.standard_normal()
        rows.append(way * 10 ** (db / 20) * heard)
    return np.array(rows), np.array(more_db["bridge"]), balance


def names_of(laid: list[Laid]) -> list[str]:
    return [f"{number}.wav" for number in range(len(laid))]


def tally(expected: ExpectedWindings, count: int = GUITARS) -> tuple[float, float, float, float]:
    """Share of levels and of balances within their intervals; guitars that disagree; the median interval."""
    laid = list(expected.laid)
    levels, balances, odd, within = [], [], [], []
    for k in range(count):
        heard, bridge_db, balance = read_guitar(laid, SEED + k)
        found = find_windings(expected, heard, names_of(laid), reference="neck")
        level = found.coils[1].found.level
        levels.append(abs(level.db - bridge_db) <= level.within_db)
        within.append(level.within_db)
        odd.append(not all(one.agrees for one in found.coils))
        for one in found.coils:
            for value, true_db in zip(one.found.balance, balance[one.found.coil], strict=True):
                balances.append(abs(value.db - true_db) <= value.within_db)
        assert odd[-1] or not any(one.turned for one in found.coils)
    return float(np.mean(levels)), float(np.mean(balances)), float(np.mean(odd)), float(np.median(within))


def test_truths_lie_within_their_intervals(expected: ExpectedWindings) -> None:
    levels, balances, odd, within = tally(expected)
    print(f"levels {levels:.0%}, balances {balances:.0%}, accused {odd:.0%}, interval ±{within:.1f} dB")
    assert levels >= LEAST
    assert balances >= LEAST
    assert odd <= MOST_FALSE_ALARMS
    assert within < 4.5, "an interval that says something"


def test_an_exciter_whose_place_is_taken_for_exact_misses(
    expected: ExpectedWindings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first twin."""
    monkeypatch.setattr(windings, "PLACE_SD_DB", 0.0)
    monkeypatch.setattr(windings, "POLE_SD_DB", 0.0)
    levels, balances, _, _ = tally(expected)
    print(f"place taken for exact: levels {levels:.0%}, balances {balances:.0%}")
    assert levels < LEAST
    assert balances < LEAST


def test_without_dividing_by_the_wiring_it_misses(expected: ExpectedWindings) -> None:
    """The second twin: what the jack reads is taken for the coil's."""
    raw = replace(expected, transfers=np.sign(expected.transfers))
    levels, _, odd, _ = tally(raw, 20)
    print(f"wiring not divided out: levels {levels:.0%}, disagree {odd:.0%}")
    assert levels < LEAST
    assert odd == 1.0, "a coil alone and beside another disagree then"


def find(expected: ExpectedWindings, heard: Floats, **how: object) -> Windings:
    return find_windings(expected, heard, names_of(list(expected.laid)), **how)  # type: ignore[arg-type]


def plain(laid: list[Laid], *, swapped: str = "") -> Floats:
    """What an exciter of 1 reads of the guitar as it is drawn."""
    return np.array([transfer(one.coil, one.setting.position, HZ, swapped=swapped).real for one in laid])


def test_without_noise_values_are_those_put_in(expected: ExpectedWindings, laid: list[Laid]) -> None:
    heard = -1e-3 * plain(laid)
    db = {("bridge", None): -4.0, ("bridge", 0): -3.0, ("bridge", 2): -4.0, ("bridge", 5): -5.0}
    heard *= np.array([[10 ** (db.get((one.coil, one.string), 0.0) / 20)] for one in laid])
    found = find(expected, heard)
    assert found.reference == "neck", "the most read"
    assert found.misfit < 1e-3
    neck, bridge = found.coils
    assert bridge.found.level.db == pytest.approx(-4.0, abs=0.02)
    assert bridge.ratio_db == pytest.approx(bridge.found.level.db), "the file has like coils"
    assert [one.db for one in bridge.found.balance] == pytest.approx([1.0, 0.0, -1.0], abs=0.02)
    assert [one.db for one in neck.found.balance] == pytest.approx([0.0, 0.0, 0.0], abs=0.01)
    assert (neck.turned, bridge.turned) == (False, False)
    assert all(one.told for one in (bridge.found.level, *bridge.found.balance, *neck.found.balance))


def test_values_count_from_those_of_the_file(laid: list[Laid]) -> None:
    text = TEXT.replace("magnet: south", "magnet: south, sensitivity: 0.11, turns_area: 1.7")
    text = text.replace("capacitance: 100 pF, ", "capacitance: 100 pF, string_balance: [2, 1, 1, 1, 1, 0], ")
    expected = expect_windings(read(text), laid, RIG)
    neck, bridge = find(expected, plain(laid)).coils
    assert bridge.ratio_db == pytest.approx(0.0, abs=0.02)
    assert bridge.found.level.db == pytest.approx(1.0 - 20 * np.log10(2), abs=0.02)
    assert [one.db for one in neck.found.balance] == pytest.approx([-1.0, 0.0, 1.0], abs=0.02)


def test_leads_exchanged_turn_a_coil(expected: ExpectedWindings, laid: list[Laid]) -> None:
    heard = plain(laid, swapped="bridge")
    assert [one.turned for one in find(expected, heard).coils] == [False, True]
    assert [one.turned for one in find(expected, -heard).coils] == [False, True]
    assert [one.turned for one in find(expected, heard, sides_kept=False).coils] == [None, None]


def test_recordings_that_disagree_are_told(expected: ExpectedWindings, laid: list[Laid]) -> None:
    wrong = plain(laid)
    wrong[1] = wrong[0]  # position 1 named 2
    neck, bridge = find(expected, wrong, reference="bridge").coils[::-1]
    assert not neck.agrees
    assert neck.found.reason == "its recordings do not agree"
    assert not neck.found.level.told
    assert not any(one.told for one in neck.found.balance)
    assert neck.turned is None
    assert bridge.agrees
    held = find(expected, wrong, reference="neck").coils[1]
    assert held.found.reason == "recordings of neck, which it is held to, do not agree"
    assert any(one.told for one in held.found.balance)
    turned = plain(laid)
    turned[1] *= -1.0
    assert not find(expected, turned).coils[0].agrees, "their signs differ"


def test_a_coil_is_not_held_to_poles_of_another(wiring: Wiring, laid: list[Laid]) -> None:
    some = [laid[0], *(one for one in laid if one.coil == "bridge" and one.string is not None)]
    found = find(expect_windings(wiring, some, RIG), plain(some), reference="neck").coils[1]
    assert not found.found.level.told
    assert "over both whole coils" in found.found.reason
    assert all(one.told for one in found.found.balance)


def test_one_pole_alone_has_no_balance(wiring: Wiring, laid: list[Laid]) -> None:
    some = [replace(laid[0], string=0), replace(laid[2], string=0)]
    found = find(expect_windings(wiring, some, RIG), plain(some))
    assert found.coils[1].found.level.told
    assert not any(one.told for each in found.coils for one in each.found.balance)
    assert choose_laid_reference(some) == "neck"


def test_what_cannot_be_compared_is_refused(
    wiring: Wiring, expected: ExpectedWindings, laid: list[Laid]
) -> None:
    silent = plain(laid)
    silent[2] = 0.0
    with pytest.raises(InputError, match=r"2\.wav: got channel 2: nothing of the exciter.*over bridge"):
        find(expected, silent)
    with pytest.raises(InputError, match="no exciter lay over"):
        find(expected, plain(laid), reference="middle")
    check_reach(wiring, laid, names_of(laid), RIG)
    with pytest.raises(InputError, match=r"a\.wav: got bridge at 1, where it does not.*allowed: 2 or 3"):
        check_reach(wiring, [laid[0], Laid("bridge", None, wiring.setting("1"))], ["0.wav", "a.wav"], RIG)


def test_strings_over_two_coils_that_sound_together(wiring: Wiring) -> None:
    found = find_together(wiring, "neck", "bridge", RIG)
    assert found is not None
    setting, in_phase = found
    assert setting.position == "2"
    assert in_phase, "winding and magnet are both turned in the bridge"
    north = find_together(read(TEXT.replace("magnet: south", "magnet: north")), "neck", "bridge", RIG)
    assert north is not None
    assert not north[1]


HOUSED = """
a: {COIL, winding: forward}
b: {COIL, winding: reverse, magnet: south}
output: {kind: jack}
"""
JOINTS = "a.start, output.tip\na.finish, b.start\nb.finish, output.sleeve"
COUPLED = "couplings:\n  - {coils: [a, b], coefficient: 0.16}\n"


def test_what_the_other_coil_of_a_housing_hears_is_taken_off() -> None:
    """Two coils in series by hand, 4 kΩ and 2.3 H each: both EMFs on one divider, capacitances left out."""
    wiring = wiring_of(HOUSED, JOINTS, COUPLED)
    one = wiring.setting(wiring.positions[0])
    laid = [Laid("a", None, one), Laid("b", None, one)]
    expected = expect_windings(wiring, laid, RIG)
    s = 2j * np.pi * HZ
    load = 1 / (1 / 1e6 + s * 500e-12)
    whole = load / (load + 8e3 + s * 2 * 2.3 * 1.16)
    rng = np.random.default_rng(SEED + 500)
    within, alone = [], []
    for _ in range(GUITARS):
        share = 0.2 + 0.1 * rng.standard_normal(2)
        lies_db = 2.0 / np.sqrt(2.0) * rng.standard_normal(2)
        true_db = 3.0 * rng.standard_normal()
        size = 10 ** ((lies_db + np.array([0.0, true_db])) / 20) * (1 + share) * [1.0, -1.0]
        noise = 0.015 * rng.standard_normal((2, len(HZ))) + 0.03 * rng.standard_normal((2, 1))
        level = find(expected, size[:, None] * (whole.real + noise), reference="a").coils[1].found.level
        within.append(abs(level.db - true_db) <= level.within_db)
        alone.append(level.within_db)
    assert np.mean(within) >= LEAST
    assert expected.transfers == pytest.approx(1.2 * np.outer([1.0, -1.0], whole.real), rel=0.01)
    assert expected.transfers != pytest.approx(np.outer([1.0, -1.0], whole.real), rel=0.1), "the twin"
    print(f"two coils of one housing: levels {np.mean(within):.0%}, interval ±{np.median(alone):.1f} dB")
    assert np.median(alone) > 3.9, "the share widens the interval"
