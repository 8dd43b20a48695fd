"""How coils are joined, read from networks, against the sketch behind each network."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from places import DEMO
from tolerances import SAME_NETWORK

from dsp.circuit.response import respond
from dsp.facts.connection import MESH, CoilLeaf, Connection, Tree, coil_connections, connection_text
from dsp.wiring.model import Wiring
from dsp.wiring.network import build_network
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.wirings.text import load_wiring

COILS = ("one", "two", "three", "four", "five")
HZ = np.geomspace(30.0, 15_000.0, 12)


def sketched(expression: str) -> Wiring:
    parts = "".join(
        f"  {name}: {{kind: coil, resistance: {4 + i} kΩ, inductance: {2 + i} H, capacitance: {90 + i} pF}}\n"
        for i, name in enumerate(COILS)
    )
    text = (
        f"format: 1\nname: t\nparts:\n{parts}"
        f"  selector: {{kind: sketch, positions: {{1: '{expression}'}}}}\n  output: {{kind: jack}}\n"
        "joints:\n  - [selector.hot, output.tip]\n  - [selector.cold, output.sleeve]\n"
    )
    return read_wiring(parse_tree(text, "t.yaml"), "t.yaml")


@st.composite
def expressions(draw: st.DrawFn) -> str:
    """Draw a sketch of some of the coils, each once."""
    names = list(draw(st.permutations(COILS)))[: draw(st.integers(1, len(COILS)))]

    def build(some: list[str]) -> str:
        turned = "-" if draw(st.booleans()) else ""
        if len(some) == 1:
            return turned + some[0]
        cut = draw(st.integers(1, len(some) - 1))
        sign = draw(st.sampled_from([" + ", " | "]))
        return f"{turned}({build(some[:cut])}{sign}{build(some[cut:])})"

    return build(names)


def as_expression(tree: Tree) -> str:
    if isinstance(tree, CoilLeaf):
        return f"-{tree.name}" if tree.turned else tree.name
    sign = " + " if tree.kind == "series" else " | "
    return f"({sign.join(map(as_expression, tree.members))})"


def coils_of(tree: Tree) -> list[str]:
    return [tree.name] if isinstance(tree, CoilLeaf) else [n for m in tree.members for n in coils_of(m)]


@settings(max_examples=60, deadline=None)
@given(expressions())
def test_what_was_sketched_is_read_back(expression: str) -> None:
    """The tree, written as a sketch again, is the same network to every coil."""
    wiring = sketched(expression)
    setting = wiring.setting("1")
    heard = [name for name in COILS if name in expression]
    (tree,) = coil_connections(build_network(wiring, setting), heard)
    assert sorted(coils_of(tree)) == sorted(heard)
    again = sketched(as_expression(tree))
    found, wanted = (respond(one, [one.setting("1")], HZ).coil for one in (again, wiring))
    np.testing.assert_allclose(found, wanted, atol=SAME_NETWORK * np.abs(wanted).max())


def test_trees_are_flat() -> None:
    wiring = sketched("one + (two + three) + (four | five)")
    (tree,) = coil_connections(build_network(wiring, wiring.setting("1")), COILS)
    assert isinstance(tree, Connection)
    assert [type(member) for member in tree.members] == [CoilLeaf, CoilLeaf, CoilLeaf, Connection]
    assert connection_text([tree], ["two"]) == "one + -two + three + (four | five)"


@pytest.mark.parametrize(
    ("position", "words"),
    [("1", "neck_a + neck_b"), ("2", "(neck_a + neck_b) | (bridge_a + bridge_b)"), ("6", "bridge_a")],
)
def test_positions_of_the_demo(position: str, words: str) -> None:
    wiring = load_wiring(DEMO / "baritone.yaml")
    network = build_network(wiring, wiring.setting(position))
    heard = {"1": {"neck_a", "neck_b"}, "2": set(wiring.coils), "6": {"bridge_a"}}[position]
    assert connection_text(coil_connections(network, heard)) == words


def test_coils_with_a_part_between_them_are_groups_of_their_own() -> None:
    wiring = sketched("one | two")
    network = build_network(wiring, wiring.setting("1"))
    first = next(coil for coil in network.coils if coil.name == "one")
    apart = replace(
        network,
        n_nodes=network.n_nodes + 1,
        branches=tuple(
            replace(branch, a=network.n_nodes) if branch is first else branch for branch in network.branches
        ),
    )
    groups = coil_connections(apart, ["one", "two"])
    assert connection_text(groups) == "one, two"


def test_a_bridge_of_coils_is_neither_series_nor_parallel() -> None:
    """Five coils as a bridge: no two share both nodes, and no node joins only two."""
    wiring = sketched("one | two | three | four | five")
    network = build_network(wiring, wiring.setting("1"))
    top, ground, left, right = network.output, 0, network.n_nodes, network.n_nodes + 1
    ends = [(top, left), (top, right), (left, right), (left, ground), (right, ground)]
    nodes = dict(zip(COILS, ends, strict=True))
    bridge = replace(
        network,
        n_nodes=network.n_nodes + 2,
        branches=tuple(replace(b, a=nodes[b.name][0], b=nodes[b.name][1]) for b in network.branches),
    )
    (tree,) = coil_connections(bridge, COILS)
    assert isinstance(tree, Connection)
    assert tree.kind == MESH
    assert sorted(coils_of(tree)) == sorted(COILS)


def test_silence_has_no_coils() -> None:
    wiring = sketched("one")
    assert coil_connections(build_network(wiring, wiring.setting("1")), []) == ()
