"""Lug charts in tests: sounds from texts, rules, and every chart of a tiny switch by brute force."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache

from dsp.lugs.rules import ChartRules
from dsp.lugs.targets import Target, TargetPart, Targets
from dsp.parts.expression import parse_expression
from dsp.parts.switch import Switch

Lead = tuple[str, str]


def wanted(texts: Sequence[str], *, coils: str, others: str = "", coupled: Iterable[str] = ()) -> Targets:
    """Return sounds "1", "2", … of parts named by single letters; "ab" couples a and b."""
    partners: dict[str, set[str]] = {name: set() for name in coils}
    for pair in coupled:
        for name in pair:
            partners[name] |= set(pair) - {name}
    parts = [TargetPart(name, ("start", "finish"), True, frozenset(partners[name])) for name in coils]
    parts += [TargetPart(name, ("a", "b"), False) for name in others]
    targets = (Target(str(i), parse_expression(text)) for i, text in enumerate(texts, 1))
    return Targets(tuple(parts), tuple(targets))


# --- every possible chart for two coils on a tiny switch

SOUNDS = ("a", "b", "a + b", "a + -b", "a | b", "a | -b")
"""Sounds of coils a and b, each upright; turned round they are six more."""
LEADS: tuple[Lead, ...] = (("a", "start"), ("a", "finish"), ("b", "start"), ("b", "finish"))

Cost = tuple[int, int]
Given = tuple[str, bool]
"""A sound, and whether it is turned round."""


def cheapest_charts(
    switch: Switch, rules: ChartRules, keeps: Callable[[Sequence[int]], bool] = lambda block: True
) -> dict[tuple[Given, ...], Cost]:
    """Return, for every row of sounds that some chart gives, the fewest poles and then wires.

    This tries all ways to divide the leads, lugs and ends of the circuit into joints. It uses no code of
    the search or of the verifiers. ``keeps`` may reject a chart by the joint numbers of hot, cold, both
    leads of a and of b, and the lugs.
    """
    poles = _poles(switch)
    members: list[object] = ["hot", "cold", *LEADS, *switch.lugs]
    closed = [
        [[members.index(lug) for lug in group] for group in groups] for groups in switch.contacts.values()
    ]
    best: dict[tuple[Given, ...], Cost] = {}
    for block in filter(keeps, _divisions(len(members))):
        given = []
        for groups in closed:
            sound = _sound(_classes(block, groups), rules)
            if sound is None:
                break
            given.append(sound)
        if len(given) == len(closed):
            cost = _cost(block, members, poles)
            key = tuple(given)
            best[key] = min(best.get(key, cost), cost)
    return best


def _divisions(n: int) -> Iterator[list[int]]:
    """Yield every partition of n items as block numbers: 0 and 1 apart, no part's leads together."""
    block = [0] * n
    apart = {(0, 1), (2, 3), (4, 5)}

    def descend(i: int, count: int) -> Iterator[list[int]]:
        if i == n:
            yield block
            return
        for k in range(count + 1):
            if any(block[j] == k for j in range(i) if (j, i) in apart):
                continue
            block[i] = k
            yield from descend(i + 1, max(count, k + 1))

    yield from descend(0, 0)


def _classes(block: list[int], groups: list[list[int]]) -> tuple[int, ...]:
    """Return the joint numbers of the ends and leads, hot first, with the contacts closed."""
    name = {k: k for k in block}
    for group in groups:
        old = {name[block[i]] for i in group}
        low = min(old)
        name = {k: low if v in old else v for k, v in name.items()}
    numbers: dict[int, int] = {}
    return tuple(numbers.setdefault(name[block[i]], len(numbers)) for i in range(6))


@cache
def _sound(classes: tuple[int, ...], rules: ChartRules) -> Given | None:
    """Return the sound of a position by inspection, or None if it has none or breaks a rule."""
    hot, cold, *ends = classes
    a, b = (ends[0], ends[1]), (ends[2], ends[3])
    if hot == cold:
        return None
    across = {(hot, cold): False, (cold, hot): True}
    if a in across and b in across:
        return ("a | b" if across[a] == across[b] else "a | -b"), across[a]
    for first, second in ((a, b), (b, a)):
        for turned_first, (top, middle) in ((False, first), (True, first[::-1])):
            for turned_second, (upper, bottom) in ((False, second), (True, second[::-1])):
                if (top, bottom) == (hot, cold) and middle == upper and middle not in (hot, cold):
                    turned_a = turned_first if first is a else turned_second
                    same = turned_first == turned_second
                    return ("a + b" if same else "a + -b"), turned_a
    for name, used, unused in (("a", a, b), ("b", b, a)):
        if used in across and _harmless(unused, hot, cold, rules):
            return name, across[used]
    return None


def _harmless(unused: tuple[int, int], hot: int, cold: int, rules: ChartRules) -> bool:
    if unused[0] == unused[1]:
        return rules.shorted
    touched = {hot, cold} & set(unused)
    return len(touched) < 2 and (rules.hanging or hot not in touched)


def _cost(block: list[int], members: list[object], poles: list[set[str]]) -> Cost:
    joints: dict[int, list[object]] = {}
    for member, k in zip(members, block, strict=True):
        joints.setdefault(k, []).append(member)
    wires, used = 0, set()
    for joint in joints.values():
        if len(joint) > 1:
            points = [one for one in joint if isinstance(one, str)]
            wires += max(len(points) - 1, 0)
            used |= {i for i, pole in enumerate(poles) if pole & set(points)}
    return len(used), wires


def _poles(switch: Switch) -> list[set[str]]:
    poles: list[set[str]] = []
    for groups in switch.contacts.values():
        for group in groups:
            touching = [pole for pole in poles if pole & set(group)]
            poles = [pole for pole in poles if pole not in touching]
            poles.append(set(group).union(*touching))
    return poles
