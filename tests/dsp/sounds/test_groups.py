"""Groups, pots and capacitors in sketches: searched, charted, and never soldered to anything else."""

from __future__ import annotations

import numpy as np
import pytest
from places import NETWORKS
from small_wirings import read, wiring_of

from dsp.circuit.meter import jack_reading_ohm
from dsp.circuit.response import hum_weights, respond
from dsp.errors import InputError
from dsp.facts.findings.check import check
from dsp.lugs.best_set import sketch_of
from dsp.lugs.make import make_chart
from dsp.lugs.rules import ChartRules
from dsp.lugs.targets import targets_of
from dsp.parts.switch import on_on
from dsp.sounds.candidates import find_candidates
from dsp.wiring.groups import coils_inside
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

SCREEN = "screening: {share: 60 %, corner: 150 Hz}"
PARTS = """
neck: {COIL, at: 160 mm}
bridge: {kind: coil, resistance: 6k, inductance: 3H, capacitance: 90p, at: 45 mm, winding: reverse, SCREEN}
neck_volume: {kind: pot, resistance: 500k, taper: audio}
neck_side: {kind: group}
bridge_tone: {kind: pot, resistance: 250k}
bridge_cap: {kind: capacitor, capacitance: 22n}
bridge_side: {kind: group}
selector: {kind: sketch, positions: {1: neck_side, 2: bridge_side}}
output: {kind: jack}
""".replace("SCREEN", SCREEN)
INSIDE = """
neck.start, neck_volume.3
neck_volume.2, neck_side.hot
neck.finish, neck_volume.1, neck_side.cold
bridge.start, bridge_tone.2, bridge_side.hot
bridge_tone.1, bridge_cap.a
bridge.finish, bridge_cap.b, bridge_side.cold
selector.hot, output.tip
selector.cold, output.sleeve
"""


def test_every_candidate_of_groups_is_the_wiring_that_its_expression_makes() -> None:
    """Hum and reading of the search against the whole circuit of each network, built from its text."""
    wiring = wiring_of(PARTS, INSIDE)
    found = find_candidates(wiring)
    texts = [found.expression_text(i) for i in range(len(found))]
    assert {"neck_side", "bridge_side", "neck_side + bridge_side", "neck_side | -bridge_side"} <= set(texts)
    assert len(texts) == 6
    sketched = sketch_of(wiring, texts)
    hz = np.array([50.0, 60.0, 100.0, 120.0, 150.0, 180.0, 250.0, 300.0])
    whole = respond(sketched, [sketched.setting(p) for p in sketched.positions], hz)
    weights = hum_weights(sketched)[:, None]
    for i, coil in enumerate(whole.coil):
        left = np.sum(np.abs(np.sum(weights * coil, axis=0)) ** 2)
        most = np.sum(np.sum(np.abs(weights * coil), axis=0) ** 2)
        setting = sketched.setting(sketched.positions[i])
        assert found.reading_ohm[i] == pytest.approx(jack_reading_ohm(sketched, setting), rel=1e-9)
        assert found.hum_db[i] == pytest.approx(10.0 * np.log10(left / most), abs=1e-6), texts[i]


def test_coils_stand_for_their_groups_and_phase_is_that_of_what_sounds() -> None:
    wiring = wiring_of(PARTS, INSIDE)
    found = find_candidates(wiring, coils=["neck", "bridge"])
    assert found.names == ("neck_side", "bridge_side")
    by_text = {found.expression_text(i): bool(found.opposed[i]) for i in range(len(found))}
    assert by_text["neck_side + -bridge_side"] is False
    assert by_text["neck_side + bridge_side"] is True


def test_a_group_is_charted_by_its_two_leads() -> None:
    wiring = wiring_of(PARTS, INSIDE)
    wanted = targets_of(wiring)
    assert wanted.leads == (
        ("neck_side", "hot"), ("neck_side", "cold"), ("bridge_side", "hot"), ("bridge_side", "cold"),
    )  # fmt: skip
    made = make_chart(wanted, on_on(2), ChartRules(), time_s=20.0)
    assert made.chart is not None
    assert made.chart.poles == 1
    assert not [one for one in check(wiring) if one.severity == "error"]


@pytest.mark.parametrize(
    ("inside", "strange"),
    [
        (INSIDE.replace("neck_side.cold", "neck_side.cold, output.sleeve"), "output"),
        (INSIDE.replace("bridge_side.cold", "bridge_side.cold, selector.cold"), "selector"),
    ],
    ids=["the jack", "the sketch"],
)
def test_a_group_soldered_to_something_else_is_refused(inside: str, strange: str) -> None:
    wiring = wiring_of(PARTS, inside)
    for ask in (targets_of, find_candidates):
        with pytest.raises(InputError, match=f"soldered to .*{strange}.*parts of its own"):
            ask(wiring)


def test_a_group_without_a_coil_is_no_element() -> None:
    bare = INSIDE.replace("neck.start, neck_volume.3\n", "").replace("neck.finish, ", "")
    found = find_candidates(wiring_of(PARTS, bare))
    assert found.names == ("neck", "bridge_side")


def test_a_coil_coupled_out_of_its_group_is_refused() -> None:
    wiring = wiring_of(PARTS, INSIDE, "couplings: [{coils: [neck, bridge], coefficient: 0.1}]\n")
    with pytest.raises(InputError, match="both coils in one group"):
        find_candidates(wiring)


def two_sketches() -> Wiring:
    return load_wiring(NETWORKS / "twelve_groups.yaml")


def test_the_other_sketch_is_a_switch() -> None:
    wiring = two_sketches()
    assert wiring.selector == "selector"
    assert wiring.stands == {"fat": ("1", "2")}
    assert wiring.setting("1", {}, {"fat": "2"}).switches == {"fat": "2"}
    assert coils_inside(wiring, ["neck_side"]) == {"neck_side": ("neck",)}
    assert "pot lug never joined" not in {one.finding for one in check(wiring)}


def test_a_pot_in_an_expression_is_a_variable_resistor_whole_at_ten() -> None:
    direct = wiring_of(
        "a: {COIL}\nr: {kind: resistor, resistance: 125k}\ncap: {kind: capacitor, capacitance: 22n}\n"
        "output: {kind: jack}",
        "a.start, r.a, output.tip\nr.b, cap.a\na.finish, cap.b, output.sleeve",
    )
    sketched = wiring_of(
        "a: {COIL}\ntone: {kind: pot, resistance: 250k}\ncap: {kind: capacitor, capacitance: 22n}\n"
        "selector: {kind: sketch, positions: {1: a | (tone + cap)}}\noutput: {kind: jack}",
        "selector.hot, output.tip\nselector.cold, output.sleeve",
    )
    hz = np.geomspace(20.0, 20e3, 15)
    want = respond(direct, [direct.setting("1")], hz).coil
    got = respond(sketched, [sketched.setting("1", {"tone": 5.0})], hz).coil
    np.testing.assert_allclose(got, want, rtol=1e-9)
    assert not [one for one in check(sketched) if one.finding == "pot lug never joined"]


def test_a_part_stands_in_one_sketch_only() -> None:
    text = (NETWORKS / "twelve_groups.yaml").read_text(encoding="utf-8")
    assert read(text).sketches.keys() == {"selector", "fat"}
    with pytest.raises(
        InputError, match="bridge_cap', which selector places; allowed: each part in one sketch"
    ):
        read(text.replace("{1: drain, 2: fat_cap}", "{1: drain, 2: bridge_cap}"))


def test_a_sketch_cannot_place_a_switch_or_a_transformer() -> None:
    sketch = "selector: {kind: sketch, positions: {1: a + x}}"
    for part in ("{kind: transformer, ratio: 0.2}", "{kind: switch, poles: 1, positions: 2}"):
        with pytest.raises(InputError, match="'x'"):
            wiring_of(f"a: {{COIL}}\nx: {part}\n{sketch}\noutput: {{kind: jack}}")
