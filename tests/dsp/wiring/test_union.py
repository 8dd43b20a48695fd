"""Joining terminals: the order of the joins and of the names changes nothing."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_wirings import CASES

from dsp.wiring.model import Joint, Setting, Wiring
from dsp.wiring.network import build_network, merge_terminals
from dsp.wiring.union import Merge

Groups = list[list[int]]
MEMBERS = range(20)
GROUPS = st.lists(st.lists(st.sampled_from(MEMBERS), min_size=1, max_size=5), max_size=12)


def partition(groups: Groups) -> set[frozenset[int]]:
    merge = Merge(MEMBERS)
    for group in groups:
        merge.join(group)
    return {frozenset(one) for one in merge.classes()}


def by_spreading(groups: Groups) -> set[frozenset[int]]:
    """Return the same by painting colours until nothing changes."""
    colour = list(MEMBERS)
    for _ in MEMBERS:
        for group in groups:
            least = min(colour[i] for i in group)
            for i in group:
                colour[i] = least
    return {frozenset(i for i in MEMBERS if colour[i] == c) for c in colour}


@settings(max_examples=100, derandomize=True)
@given(GROUPS, st.randoms())
def test_order_does_not_matter(groups: Groups, random: object) -> None:
    want = by_spreading(groups)
    assert partition(groups) == want
    shuffled = [list(group) for group in groups]
    for group in shuffled:
        random.shuffle(group)  # type: ignore[attr-defined]
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert partition(shuffled) == want


def test_classes_come_in_the_order_of_the_members() -> None:
    merge = Merge("abcde")
    merge.join("db")
    assert merge.classes() == [["a"], ["b", "d"], ["c"], ["e"]]
    assert merge.same("b", "d")
    assert not merge.same("a", "e")


def test_a_stranger_is_an_error() -> None:
    with pytest.raises(KeyError):
        Merge("ab").join("ax")


def _shuffled(wiring: Wiring, seed: int) -> Wiring:
    rng = np.random.default_rng(seed)
    joints = []
    for i in rng.permutation(len(wiring.joints)):
        terminals = wiring.joints[i].terminals
        order = rng.permutation(len(terminals))
        if len(terminals) > 2 and rng.random() < 0.5:  # one joint written as a chain of pairs
            chain = [terminals[j] for j in order]
            joints += [Joint(pair) for pair in pairwise(chain)]
        else:
            joints.append(Joint(tuple(terminals[j] for j in order)))
    names = [list(wiring.parts)[i] for i in rng.permutation(len(wiring.parts))]
    return replace(wiring, joints=tuple(joints), parts={name: wiring.parts[name] for name in names})


@settings(max_examples=40, derandomize=True)
@given(CASES, st.integers(0, 1000))
def test_a_wiring_written_in_another_order_has_the_same_nodes(
    case: tuple[Wiring, Setting], seed: int
) -> None:
    wiring, setting = case
    twin = _shuffled(wiring, seed)

    def classes(one: Wiring) -> set[frozenset[tuple[str, str]]]:
        groups = merge_terminals(one, setting).classes()
        real = ({terminal for terminal in group if terminal[0] in one.parts} for group in groups)
        return {frozenset(group) for group in real if group}

    assert classes(twin) == classes(wiring)
    assert build_network(twin, setting).n_nodes == build_network(wiring, setting).n_nodes


@settings(max_examples=20, derandomize=True)
@given(CASES)
def test_a_lead_unsoldered_is_noticed(case: tuple[Wiring, Setting]) -> None:
    """The twin that must differ: the first joint loses one terminal."""
    wiring, _ = case
    first, *rest = wiring.joints
    fewer = replace(wiring, joints=(Joint(first.terminals[1:]), *rest), selector=None)
    before = merge_terminals(replace(wiring, selector=None), Setting())
    after = merge_terminals(fewer, Setting())
    assert len(after.classes()) >= len(before.classes())
    lonely, other = first.terminals[0], first.terminals[1]
    assert before.same(lonely, other)
