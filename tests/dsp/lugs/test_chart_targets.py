"""Sounds and their layouts: forms drop what does not matter to a sound, and keep what does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import count, permutations
from math import factorial

import pytest
from charts import wanted
from hypothesis import given
from hypothesis import strategies as st
from small_wirings import wiring_of

from dsp.errors import InputError
from dsp.lugs.chart import are_positions_equal, count_wires, equal_poles, is_mirrored, poles_of
from dsp.lugs.targets import assign_positions, layouts_of, sound_of, targets_of
from dsp.parts.expression import Expression, Group, Leaf, format_expression, parse_expression
from dsp.parts.switch import Switch, bridging, on_on, on_on_on, shorthand

POLAR = {"a": True, "b": True, "c": True, "d": True, "k": False}


def sound(text: str, *, turned: bool = False) -> object:
    return sound_of(parse_expression(text), POLAR, turned=turned)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("a + b", "b + a"),
        ("a | b", "b | a"),
        ("a + (b + c)", "(c + a) + b"),
        ("-(a + b)", "-a + -b"),
        ("-(a | -b)", "b | -a"),
        ("k + a", "a + -k"),
        ("-k", "k"),
        ("(a | b) + c", "c + (b | a)"),
    ],
)
def test_equal_sounds_have_one_form(one: str, other: str) -> None:
    assert sound(one) == sound(other)


@pytest.mark.parametrize(
    ("one", "other"), [("a", "-a"), ("a + b", "a | b"), ("a + b", "a + -b"), ("a + (b | c)", "(a + b) | c")]
)
def test_different_sounds_have_different_forms(one: str, other: str) -> None:
    assert sound(one) != sound(other)


def test_turning_the_whole_turns_every_coil() -> None:
    assert sound("a + -b", turned=True) == sound("-a + b")
    assert sound("k + (a | b)", turned=True) == sound("k + (-a | -b)")


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("a", 1),
        ("a | b", 1),
        ("a + b", 2),
        ("a + b + c", 6),
        ("a + b + c + d", 24),
        ("(a + b) | (c + d)", 4),
        ("a + k", 4),
        ("(a | b) + (c | d)", 2),
    ],
)
def test_layouts_are_counted(text: str, count: int) -> None:
    """Orders of a chain, times two for a part without polarity."""
    target = wanted([text], coils="abcd", others="k")
    found = layouts_of(target.targets[0], target.parts)
    assert (len(found.upright), len(found.turned), found.complete) == (count, count, True)
    assert len(set(found.upright)) == count


def test_too_many_layouts_are_refused() -> None:
    target = wanted([" + ".join("abcdefgh")], coils="abcdefgh")
    found = layouts_of(target.targets[0], target.parts)
    assert not found.complete
    assert len(found.upright) < factorial(8)


EXPRESSIONS = st.recursive(
    st.booleans().map(lambda turned: Leaf("x", turned)),
    lambda inner: st.builds(
        Group, st.lists(inner, min_size=2, max_size=3).map(tuple), st.booleans(), st.booleans()
    ),
    max_leaves=8,
)


def named(expression: Expression, names: Iterator[str]) -> Expression:
    """Give every leaf of an expression its own name, as the parts of a position have."""
    if isinstance(expression, Leaf):
        return Leaf(next(names), expression.reversed)
    return replace(expression, members=tuple(named(one, names) for one in expression.members))


@given(EXPRESSIONS)
def test_written_is_read_back_the_same(shape: Expression) -> None:
    expression = named(shape, (f"p{i}" for i in count()))
    polar = {f"p{i}": True for i in range(40)}
    assert sound_of(parse_expression(format_expression(expression)), polar) == sound_of(expression, polar)


def test_written_has_brackets_around_inner_groups_alone() -> None:
    for text in ("(a + b) | c", "(a | b) + c", "-(a + b) | c", "a", "-a", "a | b | c", "-(a | b)"):
        assert format_expression(parse_expression(text)) == text
    assert format_expression(parse_expression("a + b | c")) == "(a + b) | c"


# --- from a file

PARTS = "a: {COIL}\nb: {COIL}\nselector: {kind: sketch, positions: {1: a, 2: a | b}}\noutput: {kind: jack}"
JOINTS = "selector.hot, output.tip\nselector.cold, output.sleeve"


def test_a_sketch_names_what_is_wanted() -> None:
    rest = "couplings: [{coils: [a, b], coefficient: 0.1}]\n"
    found = targets_of(wiring_of(PARTS, JOINTS, rest))
    assert [target.name for target in found.targets] == ["1", "2"]
    assert [(part.name, set(part.coupled)) for part in found.parts] == [("a", {"b"}), ("b", {"a"})]


def test_without_a_sketch_it_is_refused() -> None:
    switch = PARTS.replace(
        "{kind: sketch, positions: {1: a, 2: a | b}}", "{kind: switch, poles: 1, positions: 2}"
    )
    with pytest.raises(InputError, match=r"selector: got 'selector', a switch; allowed: a sketch"):
        targets_of(wiring_of(switch))


def test_a_part_that_is_soldered_elsewhere_is_refused() -> None:
    with pytest.raises(InputError, match=r"small\.yaml:\d+: joints: got a\.start; allowed: no joint of a"):
        targets_of(wiring_of(PARTS, f"{JOINTS}, a.start"))


def test_places_are_by_name_or_in_order() -> None:
    named = assign_positions(wanted(("a", "b"), coils="ab"), shorthand(1, 3))
    assert [target.at for target in named.targets] == ["1", "2"]
    toggled = assign_positions(wanted(("a", "b"), coils="ab"), on_on_on())
    assert [target.at for target in toggled.targets] == ["1", "2"]
    with pytest.raises(InputError, match="got 3 sounds; allowed: 1 to 2 sounds, as the switch has positions"):
        assign_positions(wanted(("a", "b", "a | b"), coils="ab"), on_on(1))


# --- switches


def test_poles_are_what_positions_join() -> None:
    assert poles_of(on_on(2)) == (("A0", "A1", "A2"), ("B0", "B1", "B2"))
    assert equal_poles(on_on(2)) == ((0, 1),)
    assert equal_poles(on_on_on(4)) == ((0, 2), (1, 3))


def test_positions_that_could_change_places() -> None:
    assert are_positions_equal(shorthand(3, 5))
    assert are_positions_equal(on_on(2))
    assert not are_positions_equal(bridging(1, 3))
    assert not are_positions_equal(on_on_on())
    assert is_mirrored(bridging(2, 5))
    lopsided = Switch(("A0", "A1", "A2"), {"1": (("A0", "A1"),), "2": (("A0", "A1", "A2"),)})
    assert not is_mirrored(lopsided)


def test_wires_are_counted_by_points() -> None:
    lugs = [("*switch", name) for name in ("A1", "B1", "C1")]
    leads = [("a", "start"), ("b", "start")]
    assert count_wires((*leads,)) == 0
    assert count_wires((*leads, lugs[0])) == 0
    assert count_wires((*leads, *lugs)) == 2
    assert count_wires((("*end", "hot"), *leads, lugs[0])) == 1
    assert all(count_wires(tuple(order)) == 2 for order in permutations((*lugs, leads[0])))
