"""Many settings at once equal the same settings one by one; ends of travel are joints."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from random_wirings import CASES, ODD_POTS, random_setting
from structure import reaches_the_jack
from tolerances import CONTINUOUS, MICROOHM, SAME_NETWORK, SOLVERS

from dsp.circuit import reduction
from dsp.circuit.reduction import Complex
from dsp.circuit.response import hum_weights, knob_grid, respond, respond_network
from dsp.errors import InputError
from dsp.parts.capacitor import Capacitor
from dsp.parts.coil import Coil
from dsp.parts.jack import Jack
from dsp.parts.resistor import Resistor
from dsp.wiring.model import Joint, Setting, Wiring
from dsp.wiring.network import build_network, set_pots
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree

Case = tuple[Wiring, Setting]
FREQS = np.geomspace(20.0, 20e3, 12)
some = settings(max_examples=40, derandomize=True, deadline=None)


@some
@given(CASES | ODD_POTS, st.integers(0, 1000))
def test_several_settings_equal_one_at_a_time(case: Case, seed: int) -> None:
    wiring, first = case
    rng = np.random.default_rng(seed)
    chosen = [first, *(random_setting(rng, wiring) for _ in range(5)), first]
    together = respond(wiring, chosen, FREQS)
    for i, setting in enumerate(chosen):
        alone = respond(wiring, [setting], FREQS)
        np.testing.assert_allclose(together.coil[i], alone.coil[0], rtol=SOLVERS, atol=SOLVERS)
        np.testing.assert_allclose(
            together.output_impedance_ohm[i], alone.output_impedance_ohm[0], rtol=SOLVERS, atol=MICROOHM
        )
    assert together.settings == tuple(chosen)
    assert together.coils == tuple(wiring.coils)


@some
@given(CASES | ODD_POTS)
def test_reduced_and_whole_networks_agree(case: Case) -> None:
    """Add the knobs to a reduced position, against a network with the knobs set first."""
    wiring, setting = case
    coil, impedance = respond_network(set_pots(build_network(wiring, setting), setting), FREQS)
    found = respond(wiring, [setting], FREQS)
    np.testing.assert_allclose(found.coil[0], coil, rtol=SAME_NETWORK, atol=SOLVERS)
    np.testing.assert_allclose(found.output_impedance_ohm[0], impedance, rtol=SAME_NETWORK, atol=MICROOHM)


@some
@given(CASES | ODD_POTS)
def test_a_knob_grid_equals_its_settings(case: Case) -> None:
    wiring, setting = case
    assume(wiring.pots)
    steps = [np.array([0.0, 3.0, 10.0]), np.array([10.0, 0.0, 0.5, 7.0]), np.array([5.0])]
    knobs = dict(zip(wiring.knobs, steps, strict=False))
    grid = knob_grid(wiring, setting, knobs, FREQS)
    assert grid.shape == (*(len(v) for v in knobs.values()), len(wiring.coils), len(FREQS))
    for index in np.ndindex(*grid.shape[:-2]):
        values = {name: float(v[i]) for (name, v), i in zip(knobs.items(), index, strict=True)}
        one = wiring.setting(setting.position, {**setting.knobs, **values}, setting.switches)
        want = respond(wiring, [one], FREQS).coil[0]
        np.testing.assert_allclose(grid[index], want, rtol=SAME_NETWORK, atol=SOLVERS)


@some
@given(CASES, st.sampled_from([0.0, 10.0]))
def test_an_end_of_travel_is_the_limit(case: Case, end: float) -> None:
    wiring, setting = case
    assume(wiring.pots)
    at_end = {**setting.knobs, **dict.fromkeys(wiring.pots, end)}
    near = dict.fromkeys(wiring.pots, end + (1e-8 if end == 0.0 else -1e-8))
    found = respond(
        wiring,
        [wiring.setting(setting.position, knobs, setting.switches) for knobs in (at_end, near)],
        FREQS,
    ).coil
    network = set_pots(
        build_network(wiring, setting), wiring.setting(setting.position, near, setting.switches)
    )
    heard = list(reaches_the_jack(network).values())  # the others are rounding errors of 4e-7 V/V at most
    limit = CONTINUOUS * max(1.0, np.abs(found).max())
    np.testing.assert_allclose(found[1, heard], found[0, heard], rtol=0, atol=limit)


@some
@given(CASES, st.sampled_from([0.0, 10.0]))
def test_an_end_of_travel_is_a_joint(case: Case, end: float) -> None:
    """Replace a pot at its end: solder the wiper's joint to the lug, make the track a resistor."""
    wiring, setting = case
    pots = [name for name, pot in wiring.pots.items() if pot.end_resistance_ohm == 0.0]
    assume(pots)
    name = pots[0]
    parts = dict(wiring.parts)
    parts["track"] = Resistor(wiring.pots[name].resistance_ohm)
    del parts[name]
    renamed = {(name, "1"): ("track", "a"), (name, "3"): ("track", "b")}
    renamed[name, "2"] = renamed[name, "1" if end == 0.0 else "3"]
    joints = [
        Joint(tuple(dict.fromkeys(renamed.get(t, t) for t in joint.terminals))) for joint in wiring.joints
    ]
    soldered = replace(wiring, parts=parts, joints=tuple(joints))
    knobs = {key: value for key, value in setting.knobs.items() if key != name}
    want = respond(soldered, [soldered.setting(setting.position, knobs, setting.switches)], FREQS)
    got = respond(wiring, [wiring.setting(setting.position, {**knobs, name: end}, setting.switches)], FREQS)
    np.testing.assert_allclose(got.coil, want.coil, rtol=SAME_NETWORK, atol=SOLVERS)
    np.testing.assert_allclose(
        got.output_impedance_ohm, want.output_impedance_ohm, rtol=SAME_NETWORK, atol=MICROOHM
    )


@some
@given(CASES)
def test_hum_is_the_sum_of_the_coils(case: Case) -> None:
    wiring, setting = case
    found = respond(wiring, [setting], FREQS)
    want = sum(
        coil.winding * coil.turns_area * row
        for coil, row in zip(wiring.coils.values(), found.coil[0], strict=True)
    )
    np.testing.assert_allclose(found.hum[0], want, rtol=SOLVERS, atol=SOLVERS)
    np.testing.assert_array_equal(
        hum_weights(wiring), [coil.winding * coil.turns_area for coil in wiring.coils.values()]
    )


PAIR = """
format: 1
parts:
  a: {kind: coil, resistance: 4 kΩ, inductance: 2.3 H, capacitance: 70 pF}
  b: {kind: coil, resistance: 4 kΩ, inductance: 2.3 H, capacitance: 70 pF, winding: reverse, magnet: south}
  output: {kind: jack}
joints:
  - [a.start, output.tip]
  - [a.finish, b.start]
  - [b.finish, output.sleeve]
"""


def test_a_matched_reverse_pair_cancels_hum() -> None:
    """Published physics, section 10: hum of a matched reverse pair = 0 to 1e-12 (calculated there)."""
    wiring = read_wiring(parse_tree(PAIR, "pair.yaml"), "pair.yaml")
    found = respond(wiring, [wiring.setting("1")], FREQS)
    assert np.max(np.abs(found.hum)) <= 1e-12
    assert np.min(np.abs(found.coil.sum(axis=1))) > 1e-3
    unlike = read_wiring(parse_tree(PAIR.replace("2.3 H", "2.31 H", 1), "pair.yaml"), "pair.yaml")
    assert np.max(np.abs(respond(unlike, [unlike.setting("1")], FREQS).hum)) > 1e-6


@pytest.mark.parametrize("bad", [[0.0], [-20.0], [float("nan")], [float("inf")], [1e12], []])
def test_frequencies_out_of_reason_are_refused(bad: list[float]) -> None:
    wiring = read_wiring(parse_tree(PAIR, "pair.yaml"), "pair.yaml")
    with pytest.raises(InputError, match="frequency"):
        respond(wiring, [wiring.setting("1")], np.array(bad))


@some
@given(CASES)
def test_stretches_of_frequencies_change_nothing(case: Case) -> None:
    """Set a limit so small that each frequency is solved alone; compare with all at once."""
    wiring, setting = case
    network = set_pots(build_network(wiring, setting), setting)
    knobs = {name: np.array([0.0, 3.0, 10.0]) for name in list(wiring.pots)[:2]}

    def everything() -> tuple[Complex, ...]:
        found = respond(wiring, [setting], FREQS)
        grid = knob_grid(wiring, setting, knobs, FREQS)
        return (found.coil, found.output_impedance_ohm, grid, *respond_network(network, FREQS))

    whole = everything()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reduction, "MOST_BYTES", 1)
        assert len(list(reduction.bands(network, len(FREQS)))) == len(FREQS)
        apart = everything()
    for one, other in zip(whole, apart, strict=True):
        np.testing.assert_allclose(one, other, rtol=SAME_NETWORK, atol=SOLVERS)


def test_a_network_far_beyond_any_guitar_takes_little_memory() -> None:
    """A ladder of 240 sections at 721 frequencies: its matrices at once would be 680 MB."""
    parts = {f"r{i}": Resistor(1e3) for i in range(240)} | {f"c{i}": Capacitor(1e-12) for i in range(240)}
    joints = [Joint((("a", "start"), ("r0", "a"))), Joint((("r239", "b"), ("c239", "a"), ("out", "tip")))]
    joints += [Joint(((f"r{i}", "b"), (f"c{i}", "a"), (f"r{i + 1}", "a"))) for i in range(239)]
    joints.append(Joint((("a", "finish"), ("out", "sleeve"), *((f"c{i}", "b") for i in range(240)))))
    ladder = Wiring("", "ladder", {"a": Coil(4e3, 2.3, 70e-12), **parts, "out": Jack()}, tuple(joints))
    frequencies_hz = np.geomspace(20.0, 20e3, 721)
    tracemalloc.start()
    try:
        found = respond(ladder, [ladder.setting("1")], frequencies_hz)
        assert tracemalloc.get_traced_memory()[1] < 400e6
    finally:
        tracemalloc.stop()
    assert np.all(np.abs(found.coil) > 0.0)
