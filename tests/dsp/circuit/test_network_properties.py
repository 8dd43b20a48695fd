"""Properties of every network: passive, reciprocal, silent where nothing is joined."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from numpy.typing import NDArray
from random_wirings import CASES, seeded
from structure import reaches_the_jack, solve
from tolerances import MICROOHM, PASSIVE, SAME_NETWORK, SOLVERS

from dsp.circuit.reduction import coil_impedance
from dsp.circuit.response import respond, respond_network
from dsp.circuit.state import natural_modes, state_of
from dsp.parts.coil import Coil
from dsp.wiring.model import Coupling, Setting, Wiring
from dsp.wiring.network import Network, build_network, set_pots
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree

Case = tuple[Wiring, Setting]
Floats = NDArray[np.float64]
FREQS = np.geomspace(20.0, 20e3, 25)
FEW = np.array([31.0, 1000.0, 4400.0, 17e3])
some = settings(max_examples=60, derandomize=True, deadline=None)


def network_of(case: Case) -> Network:
    wiring, setting = case
    return set_pots(build_network(wiring, setting), setting)


@some
@given(CASES)
def test_the_output_takes_power_and_gives_none(case: Case) -> None:
    found = respond(case[0], [case[1]], FREQS)
    impedance = found.output_impedance_ohm[0]
    assert np.all(impedance.real >= -PASSIVE * np.abs(impedance))


@some
@given(CASES)
def test_no_coil_delivers_more_than_it_has(case: Case) -> None:
    """|H|^2 / R_load may not exceed 1 / (4 Re Z), what 1 V behind the winding's own Z can deliver.

    All coils at once, with every set of phases covered: H^H (...) is bounded by the windings' resistive
    parts, sum over coils of |H_k|^2 4 Re Z_k <= R_load, when none are coupled.
    """
    wiring, setting = case
    found = respond(replace(wiring, couplings=()), [setting], FREQS).coil[0]
    resistive = np.array([coil_impedance(coil, FREQS).real for coil in wiring.coils.values()])
    used = np.sum(np.abs(found) ** 2 * 4.0 * resistive, axis=0)
    assert np.all(used <= wiring.load.amplifier_ohm * (1.0 + PASSIVE))


@some
@given(CASES)
def test_state_matrices_store_and_lose(case: Case) -> None:
    """With the current rows negated, C and the symmetric part of G have no negative eigenvalue.

    Screening of the EMFs is left out: it acts on the sources, which are no part of the network.
    """
    wiring, setting = case
    coils = {name: replace(coil, screening=None) for name, coil in wiring.coils.items()}
    state = state_of(network_of((replace(wiring, parts={**wiring.parts, **coils}), setting)))
    rows = np.arange(len(state.storage))
    turned = np.where(rows < _node_rows(state.conductance), 1.0, -1.0)[:, None]
    for matrix in (turned * state.storage, turned * state.conductance):
        values = np.linalg.eigvalsh(0.5 * (matrix + matrix.T))
        assert values.min(initial=0.0) >= -PASSIVE * np.abs(values).max(initial=1.0)


def _node_rows(conductance: Floats) -> int:
    """Return the number of node rows: they come first, and only their diagonal is never negative."""
    negative = np.flatnonzero(np.diag(conductance) < 0.0)
    return int(negative[0]) if len(negative) else len(conductance)


@some
@given(CASES)
def test_natural_modes_die_away(case: Case) -> None:
    state = state_of(network_of(case))
    modes = natural_modes(state)
    assert np.all(modes.real < 0.0)
    for mode in modes:  # each makes the pencil singular: a real mode, not one of the shift's making
        moved = mode * state.storage
        scale = np.abs(state.conductance).max() + np.abs(moved).max()
        assert _smallest(state.conductance + moved) <= SAME_NETWORK * scale


def _smallest(matrix: NDArray[np.complex128]) -> float:
    return float(np.linalg.svd(matrix, compute_uv=False)[-1])


@some
@given(CASES)
def test_reciprocity_and_a_second_solver(case: Case) -> None:
    """H from the current of 1 A into the output equals H from 1 V in the coil, solved here."""
    network = network_of(case)
    coil, impedance = respond_network(network, FEW)
    for i, freq in enumerate(FEW):
        forward = [_output(solve(network, freq, emf=branch.name), network) for branch in network.coils]
        np.testing.assert_allclose(coil[:, i], forward, rtol=SAME_NETWORK, atol=SOLVERS)
        if network.output:
            own = _output(solve(network, freq, into=network.output), network)
            np.testing.assert_allclose(impedance[i], own, rtol=SAME_NETWORK)


def _output(volts: NDArray[np.complex128], network: Network) -> complex:
    return complex(volts[network.output] - volts[0])


@settings(max_examples=25, derandomize=True, deadline=None)
@given(CASES)
def test_transfer_impedances_are_symmetric(case: Case) -> None:
    """A check of the second solver: 1 A into a gives at b what 1 A into b gives at a."""
    network = network_of(case)
    reached = np.array([solve(network, 700.0, into=node) for node in range(network.n_nodes)])
    assert reached.shape == (network.n_nodes, network.n_nodes)
    np.testing.assert_allclose(
        reached, reached.T, rtol=SAME_NETWORK, atol=SAME_NETWORK * np.abs(reached).max()
    )


@some
@given(CASES)
def test_a_coil_that_reaches_nothing_is_not_heard(case: Case) -> None:
    network = network_of(case)
    coil, _ = respond_network(network, FREQS)
    for row, (_name, reaches) in zip(coil, reaches_the_jack(network).items(), strict=True):
        assert reaches or np.max(np.abs(row)) == 0.0


LOOP = """
format: 1
parts:
  a: {kind: coil, resistance: 4 kΩ, inductance: 2.3 H, capacitance: 70 pF}
  b: {kind: coil, resistance: 5 kΩ, inductance: 3 H, capacitance: 85 pF}
  trim: {kind: pot, resistance: 3.2 kΩ}
  output: {kind: jack}
joints:
  - [a.finish, b.start, output.tip]
  - [a.start, trim.3]
  - [b.finish, trim.1]
"""


@pytest.mark.parametrize("knob", [0.01, 0.04])
def test_a_loop_that_hangs_from_the_tip_gives_no_signal(knob: float) -> None:
    wiring = read_wiring(parse_tree(LOOP, "loop.yaml"), "loop.yaml")
    freqs = np.concatenate([[1.0, 5.0, 10.0], np.geomspace(20.0, 24e3, 300)])
    assert np.max(np.abs(respond(wiring, [wiring.setting("1", {"trim": knob})], freqs).coil)) == 0.0


@pytest.mark.parametrize("lead", ["start", "finish"])
def test_a_hanging_coil_gives_no_signal(lead: str) -> None:
    text = LOOP.replace("  - [a.start, trim.3]\n  - [b.finish, trim.1]\n", "  - [b.finish, output.sleeve]\n")
    wiring = read_wiring(parse_tree(text.replace("a.finish", f"a.{lead}"), "hanging.yaml"), "hanging.yaml")
    a, b = respond(wiring, [wiring.setting("1")], FREQS).coil[0]
    assert np.max(np.abs(a)) == 0.0
    assert np.max(np.abs(b)) > 0.1
    coupled = replace(wiring, couplings=(Coupling("a", "b", 0.1),))
    assert np.max(np.abs(respond(coupled, [coupled.setting("1")], FREQS).coil[0, 0])) > 1e-4


@settings(max_examples=30, derandomize=True, deadline=None)
@given(CASES)
def test_a_coil_turned_round_changes_signs_only(case: Case) -> None:
    """Exchange both leads and the signs of the couplings: only the coil's own response changes sign."""
    wiring, _ = case
    name = next(iter(wiring.coils))
    network = network_of(case)
    branches = tuple(replace(b, a=b.b, b=b.a) if b.name == name else b for b in network.branches)
    pairs = [
        replace(pair, coefficient=-pair.coefficient) if name in (pair.first, pair.second) else pair
        for pair in network.couplings
    ]
    turned = replace(network, branches=branches, couplings=tuple(pairs))
    coil, impedance = respond_network(network, FREQS)
    other, same = respond_network(turned, FREQS)
    sign = np.array([-1.0 if one == name else 1.0 for one in wiring.coils])[:, None]
    np.testing.assert_allclose(other * sign, coil, rtol=SAME_NETWORK, atol=SOLVERS)
    np.testing.assert_allclose(same, impedance, rtol=SAME_NETWORK, atol=MICROOHM)


def test_a_turned_coil_without_its_couplings_turned_is_another_circuit() -> None:
    """The twin: reversing leads only moves the response by far more than the tolerance."""
    coils = {"a": Coil(4e3, 2.3, 70e-12), "b": Coil(5e3, 3.0, 85e-12)}
    found = []
    for lead in ("start", "finish"):
        other = "finish" if lead == "start" else "start"
        text = LOOP.split("joints:")[0] + f"joints:\n  - [a.{lead}, output.tip]\n"
        text += f"  - [a.{other}, b.start]\n  - [b.finish, output.sleeve]\n"
        wiring = replace(
            read_wiring(parse_tree(text, "pair.yaml"), "pair.yaml"), couplings=(Coupling("a", "b", 0.2),)
        )
        assert set(wiring.coils) == set(coils)
        found.append(np.abs(respond(wiring, [wiring.setting("1")], FREQS).coil[0, 1]))
    assert np.max(np.abs(found[0] - found[1])) > 1e-2


def test_the_random_wirings_are_of_every_kind() -> None:
    """A generator that draws one kind only would prove little."""
    drawn = [seeded(seed) for seed in range(200)]
    reached = [reaches_the_jack(network_of(case)) for case in drawn]
    assert any(all(one.values()) for one in reached)
    assert any(not any(one.values()) for one in reached)
    assert any(case[0].couplings for case in drawn)
    assert any(len(case[0].switches) for case in drawn)
    assert {len(case[0].coils) for case in drawn} == {1, 2, 3, 4}
