"""Hum at the loaded output: what the trade knows of pairs of coils, and closed forms.

Facts marked "common practice" are known throughout the trade and rest on no source here. The signs are
those of the encyclopedia article on two-coil pickups and US RE20070 (read): the hum a coil picks up follows
its winding alone, the string's signal winding times magnet.
"""

from __future__ import annotations

import numpy as np
import pytest
from small_wirings import wiring_of
from tolerances import CANCELS_DB, EXACT

from dsp.circuit.hum import HUM_HZ, NOTHING_DB, hum_residual_db
from dsp.circuit.hum_limits import CANCELLING_DB, FULLY_DB
from dsp.circuit.reduction import coil_impedance
from dsp.circuit.response import hum_weights, respond
from dsp.facts.findings.check import check
from dsp.wiring.model import Wiring

REVERSE = "winding: reverse, magnet: south"


def pair(expression: str, second: str = REVERSE) -> Wiring:
    """Two equal coils, except for what `second` changes, in a sketch of one position."""
    parts = f"""
        a: {{COIL}}
        b: {{COIL, {second}}}
        selector: {{kind: sketch, positions: {{1: {expression}}}}}
        volume: {{kind: pot, resistance: 500k}}
        output: {{kind: jack}}
    """
    joints = "selector.hot, volume.3\nvolume.2, output.tip\nselector.cold, volume.1, output.sleeve"
    return wiring_of(parts, joints)


def residual_db(wiring: Wiring) -> float:
    found = respond(wiring, [wiring.setting("1", {"volume": 7.0})], HUM_HZ)
    return hum_residual_db(found.coil[0], hum_weights(wiring))


def string_residual(wiring: Wiring) -> float:
    """The string's signal of both coils together, against both adding up; 1 kHz."""
    coil = respond(wiring, [wiring.setting("1")], np.array([1000.0])).coil[0, :, 0]
    signs = np.array([one.string_sign for one in wiring.coils.values()])
    return float(abs(signs @ coil) / np.sum(np.abs(coil)))


@pytest.mark.parametrize("expression", ["a + b", "a | b"])
def test_reverse_winding_and_magnet_cancel_hum_and_add_strings(expression: str) -> None:
    """Common practice: a two-coil pickup is quiet, in series and in parallel."""
    wiring = pair(expression)
    assert residual_db(wiring) < CANCELS_DB
    assert string_residual(wiring) == pytest.approx(1.0, rel=EXACT)


@pytest.mark.parametrize("expression", ["a + b", "a | b"])
def test_the_same_winding_does_not_cancel(expression: str) -> None:
    """Common practice: two equal single coils together hum like one."""
    wiring = pair(expression, "winding: forward")
    assert residual_db(wiring) == pytest.approx(0.0, abs=EXACT)
    assert string_residual(wiring) == pytest.approx(1.0, rel=EXACT)


@pytest.mark.parametrize("expression", ["a + -b", "a | -b"])
def test_out_of_phase_keeps_the_hum_of_a_reverse_pair(expression: str) -> None:
    """Common practice: turning one coil of a hum-cancelling pair brings its hum back."""
    wiring = pair(expression)
    assert residual_db(wiring) == pytest.approx(0.0, abs=EXACT)
    assert string_residual(wiring) < 1e-9


@pytest.mark.parametrize("expression", ["a + -b", "a | -b"])
def test_out_of_phase_like_coils_cancel_hum(expression: str) -> None:
    """Common practice: two like coils out of phase are quiet, their strings cancel as well."""
    assert residual_db(pair(expression, "winding: forward")) < CANCELS_DB


@pytest.mark.parametrize("expression", ["a + b", "a | b", "a + -b"])
def test_the_magnet_plays_no_part(expression: str) -> None:
    poles = [
        residual_db(pair(expression, f"winding: reverse, magnet: {pole}")) for pole in ("north", "south")
    ]
    assert poles[0] == poles[1]


def test_a_matched_reverse_pair_has_no_hum() -> None:
    """Published physics, "also run always": hum of a matched reverse pair = 0 to 1e-12 (calculated there)."""
    for expression in ("a + b", "a | b"):
        wiring = pair(expression)
        hum = respond(wiring, [wiring.setting("1")], HUM_HZ).hum
        assert np.max(np.abs(hum)) <= 1e-12
        twin = pair(expression, f"{REVERSE}, turns_area: 1.00000001")
        assert np.max(np.abs(respond(twin, [twin.setting("1")], HUM_HZ).hum)) > 1e-12


@pytest.mark.parametrize("area", [0.5, 0.9, 1.3])
def test_unequal_areas_leave_their_difference(area: float) -> None:
    """N1 A1 - N2 A2 is left (common physics): equal coils, so both weigh alike at the output."""
    want = 20 * np.log10(abs(1 - area) / (1 + area))
    for expression in ("a + b", "a | b"):
        assert residual_db(pair(expression, f"{REVERSE}, turns_area: {area}")) == pytest.approx(
            want, abs=1e-8
        )


def test_unequal_coils_in_parallel_are_weighted_by_their_admittances() -> None:
    """H_k is proportional to 1/Z_k, R + j w L, for coils in parallel (nodal analysis, closed form)."""
    unlike = REVERSE.replace("winding", "resistance: 6k, inductance: 4 H, capacitance: 90p, winding")
    parts = "{kind: coil, " + unlike + "}"
    wiring = wiring_of(
        f"a: {{COIL}}\nb: {parts}\noutput: {{kind: jack}}",
        "a.start, b.start, output.tip\na.finish, b.finish, output.sleeve",
    )
    found = respond(wiring, [wiring.setting("1")], HUM_HZ)
    first, second = (1.0 / coil_impedance(coil, HUM_HZ) for coil in wiring.coils.values())
    want = np.abs(first - second) / (np.abs(first) + np.abs(second))
    got = np.abs(found.hum[0]) / np.sum(np.abs(found.coil[0]), axis=0)
    np.testing.assert_allclose(got, want, rtol=EXACT)
    assert np.all(want > 0.1), "or the check says nothing"


def test_a_dummy_coil_without_turns_does_not_hum() -> None:
    wiring = pair("a + b", f"{REVERSE}, turns_area: 0")
    assert residual_db(wiring) == pytest.approx(0.0, abs=EXACT)


@pytest.mark.parametrize(
    ("weights", "coil", "want_db"),
    [
        ([1, -1], [[1, 1], [1, 1]], NOTHING_DB),
        ([1, -1], [[1, 1], [0.5, 0.5]], 20 * np.log10(0.5 / 1.5)),
        ([1, 1], [[1, 1], [0.5, 0.5]], 0.0),
        ([1, 1], [[1, 1], [1j, 1j]], 20 * np.log10(np.sqrt(2) / 2)),
        ([1], [[0, 0]], NOTHING_DB),
        ([1, -1, 1], [[1, 2], [1, 2], [1, 2]], 20 * np.log10(1 / 3)),
        ([1, -1], [[1, 3], [1, 1]], 20 * np.log10(np.sqrt(4 / 2) / np.sqrt((4 + 16) / 2))),
    ],
)
def test_the_residual(weights: list[float], coil: list[list[complex]], want_db: float) -> None:
    got = hum_residual_db(np.array(coil, complex), np.array(weights, float))
    assert got == pytest.approx(want_db, abs=1e-9)


def test_the_line_between_cancelling_and_not() -> None:
    """The finding follows the residual at the output, and prints it."""
    near = 10 ** (CANCELLING_DB / 20)
    area = (1 - near) / (1 + near)  # leaves exactly the limit
    for off, name in ((1.001, "mostly hum-cancelling"), (0.999, "not hum-cancelling")):
        wiring = pair("a + b", f"{REVERSE}, turns_area: {area * off}")
        (found,) = [one for one in check(wiring) if one.finding.endswith("hum-cancelling")]
        assert found.finding == name
        assert found.detail == "-15.0 dB left of the coils' hum"


def test_the_line_between_mostly_and_fully() -> None:
    near = 10 ** (FULLY_DB / 20)
    area = (1 - near) / (1 + near)
    for off, name in ((1.0001, "hum-cancelling"), (0.9999, "mostly hum-cancelling")):
        wiring = pair("a + b", f"{REVERSE}, turns_area: {area * off}")
        (found,) = [one for one in check(wiring) if one.finding.endswith("hum-cancelling")]
        assert found.finding == name
        assert found.detail == "-40.0 dB left of the coils' hum"
