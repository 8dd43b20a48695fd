"""Instruments that keep limits, held to closed forms of one coil and to tables of the binomial."""

from __future__ import annotations

from math import log, pi, sqrt

import numpy as np
import pytest
from places import DEMO
from scipy.stats import norm
from small_wirings import wiring_of

from dsp.checking.directions import draw_steps, find_directions, make_copies
from dsp.checking.points import find_settings
from dsp.checking.spread import CURVE_HZ, find_curves, find_spread
from dsp.checking.yields import COUNT, SEED, Limit, find_yield, keep_limits, read_limit, share_interval
from dsp.circuit.response import respond
from dsp.errors import InputError
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

LOAD = """load:
  cable: {length: 5 m, capacitance: 100 pF/m}
  amplifier: {resistance: 1 MΩ, capacitance: 20 pF}
"""
OHM, HENRY, FARAD, CABLE_F, LOAD_OHM = 6e3, 2.5, 120e-12, 520e-12, 1e6


def one_coil(**spread: str) -> Wiring:
    """A coil at a cable whose values spread as said, and not at all otherwise."""
    told = {"resistance": "0 %", "inductance": "0 %", "capacitance": "0 %", "turns_area": "0 %", **spread}
    stated = ", ".join(f"{name}: {value}" for name, value in told.items())
    coil = f"kind: coil, resistance: 6 kΩ, inductance: 2.5 H, capacitance: 120 pF, tolerance: {{{stated}}}"
    parts = f"neck: {{{coil}}}\noutput: {{kind: jack}}\n"
    return wiring_of(parts, "neck.start, output.tip\nneck.finish, output.sleeve\n", LOAD)


def peak_hz(henry: np.ndarray, farad: np.ndarray) -> np.ndarray:
    """Peak of |H| of R, L in series, C and the load's resistance across: textbook, second order.

    1/H = 1 + R/Rl + s(RC + L/Rl) + s²LC; |1/H|² is least at w² = a/b - c²/(2b²).
    """
    whole = farad + CABLE_F
    a, b, c = 1 + OHM / LOAD_OHM, henry * whole, OHM * whole + henry / LOAD_OHM
    return np.sqrt(a / b - c**2 / (2 * b**2)) / (2 * pi)


def test_a_drawn_share_is_that_of_the_closed_form() -> None:
    """The inductance alone spreads: the share within two frequencies is that of the normal law."""
    wiring = one_coil(inductance="10 %")
    middle = float(peak_hz(np.array(HENRY), np.array(FARAD)))
    limit = Limit("resonance", wiring.positions[0], 0.98 * middle, 1.03 * middle)
    grid = np.linspace(-4, 4, 80_001)
    within = peak_hz(HENRY * np.exp(0.05 * grid), np.array(FARAD))
    inside = grid[(within >= limit.low) & (within <= limit.high)]
    truth = float(norm.cdf(inside[-1]) - norm.cdf(inside[0]))
    assert truth == pytest.approx(
        norm.cdf(-log(0.98) * 2 / 0.05) - norm.cdf(-log(1.03) * 2 / 0.05), abs=0.01
    ), "f goes as 1/sqrt(L)"
    found = find_yield(wiring, [limit], 1000)
    assert found.together.low <= truth <= found.together.high
    wide = find_yield(one_coil(inductance="20 %"), [limit], 1000)
    assert not wide.together.low <= truth <= wide.together.high, "the twin: twice the spread"


def test_every_instrument_is_judged_as_the_closed_form_judges_it() -> None:
    """Inductance and capacitance spread: an independent simulation of the same draws."""
    wiring = one_coil(inductance="10 %", capacitance="30 %")
    names = [one.field for one in find_directions(wiring, alike=True)]
    assert sorted(names) == ["capacitance", "inductance"]
    steps = dict(zip(names, draw_steps(COUNT, 2, SEED).T, strict=True))
    drawn = peak_hz(HENRY * np.exp(0.05 * steps["inductance"]), FARAD * np.exp(0.15 * steps["capacitance"]))
    low, high = np.quantile(drawn, (0.2, 0.9))
    told = keep_limits(wiring, [Limit("resonance", wiring.positions[0], low, high)], COUNT)[0]
    sure = (np.abs(drawn / low - 1) > 2e-3) & (np.abs(drawn / high - 1) > 2e-3)
    assert sure.mean() > 0.9, "the others lie within the error of the parabola"
    assert (told == ((drawn >= low) & (drawn <= high)))[sure].all()


def test_a_share_and_its_interval() -> None:
    """Clopper and Pearson 1934: 0 of 10 to 0.3085, 10 of 20 from 0.2720 to 0.7280 (tables, from memory)."""
    assert share_interval(0, 10) == pytest.approx((0.0, 0.3085), abs=5e-5)
    assert share_interval(10, 20) == pytest.approx((0.2720, 0.7280), abs=5e-5)
    assert share_interval(10, 10)[1] == 1.0


def test_each_limit_all_of_them_and_what_one_costs() -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    peak = find_spread(wiring, [wiring.setting("1")], 40).settings[0].resonance_hz
    words = [
        f"resonance of 1 between {0.97 * peak:.0f} Hz and {1.03 * peak:.0f} Hz",
        "level at most 20 dB below the loudest",
        "timbre of 2 at most 0.25 dB from nominal",
    ]
    limits = [read_limit(wiring, one, "limit") for one in words]
    shares: list[float] = []
    found = find_yield(wiring, limits, 100, cable=0.2, progress=shares.append)
    assert shares == [0.25, 0.5, 0.75, 1.0]
    kept = keep_limits(wiring, limits, 100, cable=0.2)
    assert [one.alone.passed for one in found.limits] == kept.sum(axis=1).tolist()
    assert found.together.passed == kept.all(axis=0).sum()
    assert found.limits[1].alone.share == 1.0
    assert found.limits[1].cost == 0.0
    assert found.dearest is not None
    assert found.dearest.cost == max(
        (np.delete(kept, i, axis=0).all(axis=0).mean() - kept.all(axis=0).mean()) for i in range(3)
    )
    steady = find_yield(wiring, limits, 100)
    assert steady.together.share > found.together.share, "with one cable more keep them"
    assert find_yield(wiring, limits[1:2], 50).dearest is None


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("resonance of 1 between 2.5 and 3.1 kHz", Limit("resonance", "1", 2500.0, 3100.0)),
        ("Level at most 3 dB  below the loudest", Limit("level", "", 0.0, 3.0)),
        ("timbre of 2 at most 0.5 dB from nominal", Limit("timbre", "2", 0.0, 0.5)),
    ],
)
def test_a_limit_in_words(text: str, want: Limit) -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    found = read_limit(wiring, text, "limit")
    assert found == want
    assert read_limit(wiring, found.text(), "limit") == want


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("resonance of 9 between 2.5 and 3.1 kHz", "position '9'"),
        ("resonance of 1 between 3.1 and 2.5 kHz", "the lower frequency first"),
        ("resonance of 1 between 1 H and 2 H", "frequency"),
        ("loud enough", "level at most 3 dB below the loudest"),
    ],
)
def test_words_that_are_no_limit(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_limit(load_wiring(DEMO / "twelve.yaml"), text, "limit")


def test_bands_of_responses_hold_the_drawn_instruments() -> None:
    """The nominal curve is the solver's; of other draws about 95 % lie within the band."""
    wiring = load_wiring(DEMO / "twelve.yaml")
    settings = find_settings(wiring)[:2]
    spread = find_spread(wiring, settings, 4, cable=0.2)
    found = find_curves(wiring, settings, spread, cable=0.2)
    signs = np.array([one.string_sign for one in wiring.coils.values()])
    own = np.einsum("k,skf->sf", signs, respond(wiring, settings, CURVE_HZ).coil)
    assert found.nominal_db == pytest.approx(20 * np.log10(np.abs(own)), abs=1e-5)  # a floor at -160 dB
    assert (found.low_db <= found.nominal_db + 1e-9).all()
    other = find_curves(wiring, settings, spread, cable=0.2, seed=99)
    assert found.high_db == pytest.approx(other.high_db, abs=1.5)
    assert (found.high_db - found.low_db).max() > 2.0, "the resonance moves with the cable"
    copies = make_copies(wiring, spread.directions, spread.ends)
    assert copies.count == len(found.ends_db) == 2
    assert sqrt(np.mean((found.ends_db[0] - found.ends_db[1]) ** 2)) > 0.1
