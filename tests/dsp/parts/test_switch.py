"""Switch tables against contacts written out by hand (common practice of the trade)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dsp.errors import InputError
from dsp.parts.switch import (
    Switch,
    bridging,
    neighbours,
    on_off_on,
    on_on,
    on_on_on,
    push,
    push_pull,
    push_to_make,
    shorthand,
    validate,
)


def table(text: str) -> dict[str, tuple[tuple[str, ...], ...]]:
    """Read contacts from lines such as ``1: A0-A1 B0-B1``."""
    rows = (line.strip().partition(":") for line in text.strip().splitlines())
    return {name: tuple(tuple(group.split("-")) for group in groups.split()) for name, _, groups in rows}


BY_HAND = [
    (
        shorthand(2, 3),
        "A0 A1 A2 A3 B0 B1 B2 B3",
        """1: A0-A1 B0-B1
           2: A0-A2 B0-B2
           3: A0-A3 B0-B3""",
    ),
    (
        bridging(2, 5),
        "A0 A1 A2 A3 B0 B1 B2 B3",
        """1: A0-A1 B0-B1
           2: A0-A1-A2 B0-B1-B2
           3: A0-A2 B0-B2
           4: A0-A2-A3 B0-B2-B3
           5: A0-A3 B0-B3""",
    ),
    (
        bridging(1, 3),
        "A0 A1 A2",
        """1: A0-A1
           2: A0-A1-A2
           3: A0-A2""",
    ),
    (
        on_on(2),
        "A0 A1 A2 B0 B1 B2",
        """1: A0-A1 B0-B1
           2: A0-A2 B0-B2""",
    ),
    (
        on_off_on(2),
        "A0 A1 A2 B0 B1 B2",
        """1: A0-A1 B0-B1
           2:
           3: A0-A2 B0-B2""",
    ),
    (
        on_on_on(),
        "A0 A1 A2 B0 B1 B2",
        """1: A0-A1 B0-B1
           2: A0-A1 B0-B2
           3: A0-A2 B0-B2""",
    ),
    (
        on_on_on(centre="A2 B1"),
        "A0 A1 A2 B0 B1 B2",
        """1: A0-A1 B0-B1
           2: A0-A2 B0-B1
           3: A0-A2 B0-B2""",
    ),
    (
        on_on_on(4),
        "A0 A1 A2 B0 B1 B2 C0 C1 C2 D0 D1 D2",
        """1: A0-A1 B0-B1 C0-C1 D0-D1
           2: A0-A1 B0-B2 C0-C1 D0-D2
           3: A0-A2 B0-B2 C0-C2 D0-D2""",
    ),
    (
        on_on_on(3),
        "A0 A1 A2 B0 B1 B2 C0 C1 C2",
        """1: A0-A1 B0-B1 C0-C1
           2: A0-A1 B0-B2 C0-C1
           3: A0-A2 B0-B2 C0-C2""",
    ),
    (
        neighbours(2, 3),
        "A1 A2 A3 A4 B1 B2 B3 B4",
        """1: A1-A2 B1-B2
           2: A2-A3 B2-B3
           3: A3-A4 B3-B4""",
    ),
    (
        push_pull(),
        "A0 A1 A2 B0 B1 B2",
        """down: A0-A1 B0-B1
           up: A0-A2 B0-B2""",
    ),
    (
        push(1),
        "A0 A1 A2",
        """out: A0-A1
           in: A0-A2""",
    ),
    (
        push_to_make(),
        "A0 A1",
        """out:
           in: A0-A1""",
    ),
]


@pytest.mark.parametrize(("switch", "lugs", "contacts"), BY_HAND)
def test_tables_by_hand(switch: Switch, lugs: str, contacts: str) -> None:
    assert switch.lugs == tuple(lugs.split())
    assert dict(switch.contacts) == table(contacts)
    assert switch.positions == tuple(table(contacts))


@given(st.integers(1, 24), st.integers(1, 24))
def test_shorthand_of_any_size(poles: int, positions: int) -> None:
    if poles * (positions + 1) > 256:
        with pytest.raises(InputError, match="256 lugs"):
            shorthand(poles, positions)
        return
    switch = shorthand(poles, positions)
    assert len(switch.lugs) == poles * (positions + 1)
    assert switch.positions == tuple(str(n) for n in range(1, positions + 1))
    for n, groups in switch.contacts.items():
        assert [group[1][1:] for group in groups] == [n] * poles
        assert all(group[0][0] == group[1][0] and group[0][1:] == "0" for group in groups)


@given(st.integers(1, 8), st.integers(2, 12))
def test_an_in_between_position_joins_all_that_its_neighbours_join(poles: int, throws: int) -> None:
    switch = bridging(poles, 2 * throws - 1)
    sets = [[set(group) for group in groups] for groups in switch.contacts.values()]
    for before, between, after in zip(sets[::2], sets[1::2], sets[2::2], strict=False):
        assert [a | b for a, b in zip(before, after, strict=True)] == between


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: shorthand(0, 3), "poles"),
        (lambda: shorthand(25, 3), "poles"),
        (lambda: shorthand(2, 0), "positions"),
        (lambda: shorthand(2, 25), "positions"),
        (lambda: shorthand(2, 10**9), "positions"),
        (lambda: shorthand(24, 24), "256 lugs"),
        (lambda: bridging(2, 4), "odd"),
        (lambda: bridging(2, 1), "odd"),
        (lambda: bridging(2, 10**9 + 1), "odd"),
        (lambda: bridging(0, 5), "poles"),
        (lambda: on_on_on(1), "2 to 24"),
        (lambda: on_on_on(25), "2 to 24"),
        (lambda: neighbours(1, 1), "2 to 24"),
        (lambda: neighbours(25, 3), "poles"),
        (lambda: neighbours(24, 24), "256 lugs"),
        (lambda: on_on_on(2, "A1 B1"), "A1 B2"),  # type: ignore[arg-type]
    ],
)
def test_impossible_sizes_are_refused(make: object, message: str) -> None:
    with pytest.raises(InputError, match=message):
        make()  # type: ignore[operator]


SOUND = {"1": [["A0", "A1"]], "2": [["A0", "A2"]]}


@pytest.mark.parametrize(
    ("lugs", "contacts", "message"),
    [
        (["A0", "A1", "A2"], {"1": [["A0", "a1"]]}, "did you mean 'A1'"),
        (["A0", "A1", "A2"], {"1": [["A0", "A1"], ["A2", "A1"]]}, "A1 2 times"),
        (["A0", "A1", "A2"], {"1": [["A0", "A0"]]}, "A0 2 times"),
        (["A0", "A1", "A2"], {"1": [["A0"]]}, "two or more"),
        (["A0", "A1", "A2"], {"1": [[]]}, "two or more"),
        (["A0", "A1", "A2", "A1"], SOUND, "A1 more than once"),
        (["A0", "A1", "A2"], {}, "0 positions"),
        (["A0", "A1", "A2"], {str(n): [] for n in range(25)}, "25 positions"),
        (["A0", "A1", "A2"], {"up.1": []}, "up.1"),
        (["A0", "A1", "A2"], {"": []}, "1 to 16"),
        (["A0", "A1", "A.2"], {"1": [["A0", "A1"]]}, r"A\.2"),
        (["A0", "A1", "A" * 17], {"1": [["A0", "A1"]]}, "1 to 16"),
        (["A0", "A1", "Å2"], {"1": [["A0", "A1"]]}, "Å2"),
        (["A0"], {"1": []}, "1 lugs"),
        ([f"L{n}" for n in range(257)], {"1": []}, "257 lugs"),
    ],
)
def test_impossible_tables_are_refused(
    lugs: list[str], contacts: dict[str, list[list[str]]], message: str
) -> None:
    found = validate(lugs, contacts, where="selector")
    assert len(found) == 1
    assert found[0].where.startswith("selector")
    with pytest.raises(InputError, match=message):
        Switch(tuple(lugs), {k: tuple(map(tuple, v)) for k, v in contacts.items()})  # type: ignore[misc]


def test_all_problems_of_a_table_at_once() -> None:
    contacts = {"1": [["A0", "A1"], ["A1", "A2"]], "2": [["A0"]], "3": [["A0", "Z9"]]}
    found = validate(["A0", "A1", "A1", "A2"], contacts)
    assert len(found) == 4
    assert [p.where.rpartition(" ")[2] for p in found[1:]] == ["1", "2", "3"]


def test_a_valid_table_has_no_problem() -> None:
    assert validate(["A0", "A1", "A2"], SOUND) == []
    assert Switch(("x", "y"), {"off": ()}).positions == ("off",)
