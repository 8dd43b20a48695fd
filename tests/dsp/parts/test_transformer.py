"""The ideal transformer: its laws in both solvers, also in networks that leave it undetermined."""

from __future__ import annotations

import numpy as np
import pytest
from small_wirings import read, wiring_text

from dsp.circuit.meter import OPEN_OHM, jack_reading_ohm
from dsp.circuit.netlist import netlist
from dsp.circuit.noise import weighted_noise_volt
from dsp.circuit.resonance import resonances
from dsp.circuit.response import knob_grid, respond
from dsp.circuit.state import _Builder, natural_modes, state_of
from dsp.errors import InputError
from dsp.facts.findings.check import check
from dsp.filters.design import design_bank
from dsp.parts.kinds import kind_of, new_part
from dsp.parts.transformer import Transformer
from dsp.wiring.model import Wiring
from dsp.wiring.network import build_network, set_pots

HZ = np.geomspace(20.0, 20e3, 60)
COIL = "kind: coil, resistance: 6 kΩ, inductance: 2.4 H, capacitance: 110 pF, at: 100 mm"
PARTS = f"""a: {{{COIL}}}
t: {{kind: transformer, ratio: 4}}
volume: {{kind: pot, resistance: 250 kΩ}}
output: {{kind: jack}}"""
PLAIN = "a.start, t.a\na.finish, t.b\nt.c, volume.3\nvolume.2, output.tip\nt.d, volume.1, output.sleeve"
DIRECT = "volume.2, output.tip\na.finish, volume.1, output.sleeve"
ACROSS = "a.finish, t.b, volume.1, output.sleeve\nvolume.2, output.tip"
ODD = {
    "plain": PLAIN,
    "beside the coil": "a.start, t.a, volume.3\nvolume.2, output.tip\na.finish, t.b, volume.1, output.sleeve",
    "unused": f"a.start, volume.3\n{DIRECT}",
    "by one lead": f"a.start, volume.3, t.a\n{DIRECT}",
    "by a lead of each winding": f"a.start, volume.3, t.a, t.c\n{DIRECT}",
    "across its own winding": f"a.start, t.a, t.c, volume.3\nt.d, {ACROSS}",
    "both windings shorted": f"a.start, t.a, t.b, volume.3\nt.c, t.d\n{DIRECT}",
    "one winding open": f"a.start, t.a, volume.3\n{ACROSS}",
    "one winding shorted": f"a.start, t.a, volume.3\nt.c, t.d\n{ACROSS}",
    "autotransformer": "a.start, t.a, t.d\na.finish, t.b, volume.1, output.sleeve\n"
    "t.c, volume.3\nvolume.2, output.tip",
    "across the output": "a.start, volume.3\nvolume.2, t.a, output.tip\n"
    "a.finish, volume.1, t.b, output.sleeve",
}


def wiring_of(joints: str, parts: str = PARTS) -> Wiring:
    return read(wiring_text(parts, joints))


def response_of(wiring: Wiring, knobs: dict[str, float] | None = None) -> np.ndarray:
    return respond(wiring, [wiring.setting("1", knobs)], HZ).coil[0]


def by_state(wiring: Wiring, knobs: dict[str, float] | None = None) -> np.ndarray:
    """Return H of every coil from the other solver's matrices: e in its voltage law, V at the output."""
    setting = wiring.setting("1", knobs)
    network = set_pots(build_network(wiring, setting), setting)
    state = state_of(network)
    row = _Builder(network).row(network.output)
    found = np.zeros((len(wiring.coils), len(HZ)), complex)
    for k, name in enumerate(wiring.coils):
        if name not in state.sources or row is None:
            continue
        emf = state.sources[name]
        for i, hz in enumerate(HZ):
            matrix = state.conductance + 2j * np.pi * hz * state.storage
            found[k, i] = np.linalg.lstsq(matrix, emf, rcond=1e-14)[0][row]
    return found


@pytest.mark.parametrize("volume", [10.0, 4.0, 0.0])
@pytest.mark.parametrize("joints", ODD.values(), ids=ODD)
def test_both_solvers_agree_whatever_it_is_soldered_to(joints: str, volume: float) -> None:
    wiring = wiring_of(joints)
    first, second = response_of(wiring, {"volume": volume}), by_state(wiring, {"volume": volume})
    assert first == pytest.approx(second, rel=1e-7, abs=1e-9)


@pytest.mark.parametrize("volume", [10.0, 4.0, 0.0])
@pytest.mark.parametrize("joints", ODD.values(), ids=ODD)
def test_every_analysis_has_a_result(joints: str, volume: float) -> None:
    """Modes, filters, meter, noise, netlist and findings work, however little it is joined to."""
    wiring = wiring_of(joints)
    setting = wiring.setting("1", {"volume": volume})
    modes = natural_modes(state_of(set_pots(build_network(wiring, setting), setting)))
    assert np.all(np.isfinite(modes))
    assert np.all(modes.real < 0.0)
    bank = design_bank(wiring, setting)
    assert all(abs(root) < 1.0 for row in bank.poles for root in np.roots([1.0, *row]))
    assert jack_reading_ohm(wiring, setting) >= 0.0
    assert np.isfinite(weighted_noise_volt(wiring, setting, n_frequencies=40))
    assert "E_t" in netlist(wiring, setting) or "* t is" in netlist(wiring, setting)
    resonances(wiring, setting)
    check(wiring)


def test_a_load_is_seen_through_the_square_of_the_ratio() -> None:
    """4 : 1 down: the coil sees sixteen times the load, and a quarter of its voltage arrives."""
    wiring = wiring_of(
        PLAIN.replace("volume.3", "output.tip")
        .replace("volume.2, output.tip\n", "")
        .replace(", volume.1", "")
    )
    load = wiring.load
    s = 2j * np.pi * HZ
    coil = wiring.coils["a"]
    winding = coil.resistance_ohm + s * coil.inductance_h
    across = s * coil.capacitance_f + (1.0 / load.amplifier_ohm + s * load.capacitance_f) / 16.0
    assert response_of(wiring)[0] == pytest.approx(0.25 / (1.0 + winding * across), rel=1e-9)


def test_turned_round_it_steps_up_and_dots_set_the_sign() -> None:
    down = response_of(wiring_of(PLAIN))
    turned = PLAIN.replace("t.c", "x").replace("t.d", "t.c").replace("x", "t.d")
    assert response_of(wiring_of(turned)) == pytest.approx(-down, rel=1e-9)
    same = PLAIN.replace("t.a", "x").replace("t.c", "t.a").replace("x", "t.c")
    same = same.replace("t.b", "x").replace("t.d", "t.b").replace("x", "t.d")
    inverse = PARTS.replace("ratio: 4", "ratio: 0.25")
    assert response_of(wiring_of(same, inverse)) == pytest.approx(down, rel=1e-9)


def test_the_grid_is_the_same_as_settings_one_by_one() -> None:
    wiring = wiring_of(ODD["autotransformer"])
    values = np.array([0.0, 0.5, 5.0, 10.0])
    grid = knob_grid(wiring, wiring.setting("1"), {"volume": values}, HZ)
    for i, value in enumerate(values):
        assert grid[i] == pytest.approx(response_of(wiring, {"volume": float(value)}), rel=1e-9, abs=1e-15)


def test_two_that_differ_in_parallel_short_what_they_are_across() -> None:
    """v = 4 w and v = 5 w leave only v = w = 0."""
    parts = PARTS + "\nu: {kind: transformer, ratio: 5}"
    joints = (
        PLAIN.replace("t.a", "t.a, u.a")
        .replace("t.b", "t.b, u.b")
        .replace("t.c", "t.c, u.c")
        .replace("t.d", "t.d, u.d")
    )
    assert not np.any(response_of(wiring_of(joints, parts)))
    alike = parts.replace("ratio: 5", "ratio: 4")
    assert response_of(wiring_of(joints, alike)) == pytest.approx(response_of(wiring_of(PLAIN)), rel=1e-9)


def test_a_meter_reads_the_winding_and_nothing_beyond_it() -> None:
    """Direct current does not pass between windings; a winding is a wire to it."""
    bare = "a.start, t.a\na.finish, t.b\nt.c, output.tip\nt.d, output.sleeve"
    parts = PARTS.replace("volume: {kind: pot, resistance: 250 kΩ}\n", "")
    wiring = wiring_of(bare, parts)
    assert jack_reading_ohm(wiring, wiring.setting("1")) == 0.0
    series = wiring_of("a.start, t.a\nt.b, output.tip\na.finish, output.sleeve", parts)
    assert jack_reading_ohm(series, series.setting("1")) == pytest.approx(6000.0)
    apart = wiring_of("a.start, t.a\na.finish, t.b\nt.c, output.tip\nt.a, output.sleeve", parts)
    assert jack_reading_ohm(apart, apart.setting("1")) == OPEN_OHM


def test_a_lead_that_hangs_is_found() -> None:
    found = {(one.finding, one.lugs) for one in check(wiring_of(ODD["by one lead"]))}
    assert ("part lead never joined", ("t.b",)) in found
    assert ("part lead never joined", ("t.c",)) in found


def test_its_words_and_what_it_refuses() -> None:
    part = new_part("transformer", ratio=0.16)
    assert part == Transformer(0.16)
    assert kind_of(part).value_text(part) == "0.16 : 1"
    assert kind_of(part).file_fields(part) == {"kind": "transformer", "ratio": "0.16"}
    with pytest.raises(InputError, match="ratio"):
        wiring_of(PLAIN, PARTS.replace("ratio: 4", "ratio: 0"))
    with pytest.raises(InputError, match="no ratio"):
        wiring_of(PLAIN, PARTS.replace(", ratio: 4", ""))
