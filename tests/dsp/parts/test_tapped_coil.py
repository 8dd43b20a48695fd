"""A tapped coil against the whole one and against its own sections, and what a dummy coil does."""

from __future__ import annotations

import numpy as np
import pytest
from small_wirings import read, wiring_text

from dsp.circuit.meter import jack_reading_ohm
from dsp.circuit.response import respond
from dsp.circuit.state import state_of
from dsp.facts.findings.check import check
from dsp.facts.position import position_facts
from dsp.parts.coil import Coil
from dsp.sounds.candidates import find_candidates
from dsp.takes.player import check_places
from dsp.tracking.sensor import same_places
from dsp.wiring.model import Wiring
from dsp.wiring.network import build_network, set_pots

HZ = np.geomspace(20.0, 20e3, 25)
COIL = "kind: coil, resistance: 8k, inductance: 4H, capacitance: 100p, eddy: [{share: 20 %, corner: 3 kHz}]"
OTHER = "b: {kind: coil, resistance: 5k, inductance: 2H, capacitance: 90p}"
SAME = 1e-9


def coil(more: str, joints: str, couplings: str = "") -> Wiring:
    parts = f"a: {{{COIL}{more}}}\n{OTHER}\noutput: {{kind: jack}}"
    return read(wiring_text(parts, joints) + couplings)


WHOLE = "a.start, output.tip\na.finish, b.start\nb.finish, output.sleeve"
COUPLED = "couplings: [{coils: [a, b], coefficient: 0.2}]\n"


@pytest.mark.parametrize("more", [", tap: 60 %", ", tap_resistance: 3k", ", tap: 60 %, tap_resistance: 4.9k"])
@pytest.mark.parametrize("couplings", ["", COUPLED], ids=["alone", "coupled"])
def test_with_nothing_at_its_tap_it_is_the_whole_coil(more: str, couplings: str) -> None:
    """Exactly so where the resistance is shared as the turns, else within its part in the impedance."""
    plain, tapped = (coil(one, WHOLE, couplings) for one in ("", more))
    want, got = (respond(one, [one.setting("1")], HZ) for one in (plain, tapped))
    unlike = 1e-3 if "%, tap_r" in more else SAME
    np.testing.assert_allclose(got.coil, want.coil, rtol=unlike)
    assert jack_reading_ohm(tapped, tapped.setting("1")) == pytest.approx(13e3)
    assert position_facts(tapped, [tapped.setting("1")])[0].joined == "a + b"


@pytest.mark.parametrize(
    "joints",
    [
        WHOLE,
        "a.tap, output.tip\na.finish, b.start\nb.finish, output.sleeve",
        "a.start, output.tip\na.tap, b.start\nb.finish, output.sleeve, a.finish",
        "a.start, output.tip\na.tap, a.finish, b.start\nb.finish, output.sleeve",
    ],
    ids=["whole", "from the tap", "ring", "shorted"],
)
@pytest.mark.parametrize("couplings", ["", COUPLED], ids=["alone", "coupled"])
def test_both_solvers_agree_on_a_tapped_coil(joints: str, couplings: str) -> None:
    wiring = coil(", tap: 60 %, tap_resistance: 4.6k", joints, couplings)
    setting = wiring.setting("1")
    network = set_pots(build_network(wiring, setting), setting)
    state = state_of(network)
    found = respond(wiring, [setting], HZ).coil[0]
    for i, hz in enumerate(HZ):
        matrix = state.conductance + 2j * np.pi * hz * state.storage
        for k, name in enumerate(wiring.coils):
            assert np.linalg.solve(matrix, state.sources[name])[0] == pytest.approx(
                found[k, i], rel=SAME, abs=SAME
            )


def test_a_section_alone_has_its_turns_share_of_the_signal_and_of_its_square_of_the_inductance() -> None:
    """Far below resonance the EMF of 60 % of the turns is 60 %; its inductance 36 % (textbook)."""
    wiring = read(
        wiring_text(
            "a: {kind: coil, resistance: 8k, inductance: 4H, capacitance: 0.01p, tap: 60 %}\n"
            "r: {kind: resistor, resistance: 1k}\noutput: {kind: jack}",
            "a.start, output.tip, r.a\na.tap, output.sleeve, r.b",
            "load: {cable: {length: 0 m, capacitance: 100 pF/m}, amplifier: {resistance: 1e12}}\n",
        )
    )
    found = respond(wiring, [wiring.setting("1")], HZ).coil[0, 0]
    want = 0.6 * 1e3 / (1e3 + 0.6 * 8e3 + 2j * np.pi * HZ * 0.36 * 4.0)
    np.testing.assert_allclose(found, want, rtol=1e-4)
    assert jack_reading_ohm(wiring, wiring.setting("1")) == pytest.approx(1.0 / (1 / 1e3 + 1 / 4.8e3))


DUMMY = "b: {kind: coil, resistance: 5k, inductance: 2H, capacitance: 90p, winding: reverse, sensitivity: 0}"
HUMLESS = f"a: {{{COIL}, at: 100 mm}}\n{DUMMY}\noutput: {{kind: jack}}"


def test_a_dummy_coil_is_told_nothing_and_asked_for_no_place() -> None:
    wiring = read(wiring_text(HUMLESS, WHOLE))
    told = {lug for one in check(wiring) if one.finding == "sensitivity assumed" for lug in one.lugs}
    assert told == {"a"}
    assert not [one for one in check(wiring) if one.finding == "out of phase"]
    check_places(wiring.coils, "w", {})
    (facts,) = position_facts(wiring, [wiring.setting("1")])
    assert facts.coils == ("a", "b")
    assert np.isfinite(facts.level_db)


def test_a_dummy_coil_is_not_divided_by() -> None:
    dummy = Coil(5e3, 2.0, 90e-12, at_m=0.1, sensitivity=0.0)
    sensing = Coil(5e3, 2.0, 90e-12, at_m=0.1)
    with np.errstate(all="raise"):
        np.testing.assert_array_equal(same_places([sensing, dummy], [dummy, sensing]), [[0, 1], [0, 0]])


def test_a_search_offers_no_sound_of_a_dummy_alone() -> None:
    sketch = HUMLESS + "\nselector: {kind: sketch, positions: {1: a}}"
    wiring = read(wiring_text(sketch, "selector.hot, output.tip\nselector.cold, output.sleeve"))
    found = find_candidates(wiring)
    texts = {found.expression_text(i) for i in range(len(found))}
    assert "b" not in texts
    assert {"a", "a + b"} <= texts
