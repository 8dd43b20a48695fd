"""Coils soldered together for good: a pickup of two coils that has two leads, or three.

A joint of coil leads alone is such a link. A link buried in its pickup takes no other wire: its coils are
one element with two leads and cannot sound apart. A link that comes out as a lead can go to the switch,
which may split the pickup there.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import permutations, product

from dsp.errors import InputError
from dsp.parts.expression import Expression, Leaf
from dsp.parts.kind import Terminal
from dsp.wiring.model import Wiring
from dsp.wiring.union import Merge

LEADS = ("start", "finish")
ENDS = ("hot", "cold")


@dataclass(frozen=True)
class Link:
    """Leads soldered together for good.

    Attributes
    ----------
    leads : tuple of Terminal
        Of different coils.
    out : bool
        Whether it comes out as a lead.
    line : int
        Line of the file; 0 if there is none.
    """

    leads: tuple[Terminal, ...]
    out: bool
    line: int = 0

    @property
    def text(self) -> str:
        """Its leads as a file writes them."""
        return " – ".join(f"{name}.{lead}" for name, lead in self.leads)


def links_of(wiring: Wiring, names: Collection[str], out: Collection[Terminal] = ()) -> tuple[Link, ...]:
    """Find the links of some coils and of the coils linked to them.

    Parameters
    ----------
    names : collection of str
        Names of other parts are ignored.
    out : collection of Terminal
        Leads whose link comes out of the pickup.

    Returns
    -------
    tuple of Link
        Two coils joined at both ends are in parallel for good; both joints are leads.

    Raises
    ------
    InputError
        If a lead is in no link, or coils form a ring or leave no lead to solder to.
    """
    merge: Merge[Terminal] = Merge((name, lead) for name in wiring.coils for lead in LEADS)
    lines: dict[Terminal, int] = {}
    apart: set[Terminal] = set()
    for joint in wiring.joints:
        inside = [t for t in joint.terminals if t[0] in wiring.coils]
        lines |= dict.fromkeys(inside, joint.line)
        merge.join(inside)
        if len(inside) < len(joint.terminals):
            apart.update(inside)
    roots = {merge.root(t) for t in apart}  # soldered to another kind of part too: no link
    groups = [tuple(g) for g in merge.classes() if len(g) > 1 and merge.root(g[0]) not in roots]
    for terminal in out:
        if not any(terminal in group for group in groups):
            known = ", ".join(f"{n}.{lead}" for group in groups for n, lead in group)
            raise InputError("link lead", ".".join(terminal), known or "none: no coils are linked", "")
    whole: Merge[str] = Merge(wiring.coils)
    for one in groups:
        whole.join(name for name, _ in one)
    wanted = {whole.root(name) for name in names if name in wiring.coils}
    groups = [one for one in groups if whole.root(one[0][0]) in wanted]
    return tuple(
        Link(group, _comes_out(wiring, whole, group, groups, out), lines.get(group[0], 0)) for group in groups
    )


def _comes_out(
    wiring: Wiring,
    whole: Merge[str],
    group: tuple[Terminal, ...],
    groups: Iterable[tuple[Terminal, ...]],
    out: Collection[Terminal],
) -> bool:
    where = f"{wiring.file}: joints"
    names = [name for name, _ in group]
    text = ", ".join(f"{name}.{lead}" for name, lead in group)
    if len(set(names)) < len(names):
        raise InputError(where, text, "leads of different coils: this coil is shorted for good")
    pickup = {name for name in wiring.coils if whole.same(name, names[0])}
    mine = [one for one in groups if one[0][0] in pickup]
    linked = {t for one in mine for t in one}
    free = [(name, lead) for name in sorted(pickup) for lead in LEADS if (name, lead) not in linked]
    if len(free) >= 2:
        return any(terminal in out for terminal in group)
    if not free and len(mine) == 2:
        return True
    raise InputError(where, text, f"at least two leads of {', '.join(sorted(pickup))} left to be soldered")


@dataclass(frozen=True)
class Unit:
    """Coils that are one element with two leads.

    Attributes
    ----------
    coils : tuple of str
        In series from one lead to the other, or in parallel.
    signs : tuple of int
        1, or -1 for a coil whose finish comes first.
    """

    coils: tuple[str, ...]
    signs: tuple[int, ...]
    series: bool = True


def units_of(names: Collection[str], links: Iterable[Link], wiring: Wiring) -> tuple[Unit, ...]:
    """Group coils into elements by their buried links.

    Parameters
    ----------
    names : collection of str
        Coils of the search.

    Raises
    ------
    InputError
        If a coil of a searched pickup is left out, or a pickup is more than a plain chain.
    """
    links = [one for one in links if any(name in names for name, _ in one.leads)]
    found: list[Unit] = []
    for name in names:
        if any(name in unit.coils for unit in found):
            continue
        side = _side_by_side(name, links)
        unit = side or _chain(name, [one for one in links if not one.out], wiring)
        if missing := [one for one in unit.coils if one not in names]:
            got = f"{name} without {', '.join(missing)}"
            raise InputError(f"{wiring.file}: coils", got, "both: they are soldered to one another")
        found.append(unit)
    return tuple(found)


def _side_by_side(name: str, links: list[Link]) -> Unit | None:
    """Two coils joined at both ends."""
    mine = [one for one in links if any(n == name for n, _ in one.leads)]
    if len(mine) != 2 or not all(one.out for one in mine):
        return None
    coils = [tuple(n for n, _ in one.leads) for one in mine]
    if set(coils[0]) != set(coils[1]):
        return None
    at = dict(mine[0].leads)
    return Unit(coils[0], tuple(1 if at[n] == at[coils[0][0]] else -1 for n in coils[0]), series=False)


def _chain(name: str, links: list[Link], wiring: Wiring) -> Unit:
    """Coils in series, from the lead of the first coil in the file."""
    beside = {t: [other for other in one.leads if other != t] for one in links for t in one.leads}
    if any(len(others) > 1 for others in beside.values()):
        one = next(one for one in links if len(one.leads) > 2)
        raise InputError(f"{wiring.file}:{one.line}: joints", one.text, "two leads to a link, to be searched")
    at: Terminal = (name, "start")
    seen = set[str]()
    while at in beside and at[0] not in seen:  # to the end of the line
        seen.add(at[0])
        at = _other(beside[at][0])
    coils, signs = [], []
    while True:
        coils.append(at[0])
        signs.append(1 if at[1] == "start" else -1)
        onward = beside.get(_other(at))
        if not onward:
            break
        at = onward[0]
    turn = signs[coils.index(name)]
    order = 1 if turn > 0 else -1
    return Unit(tuple(coils[::order]), tuple(turn * sign for sign in signs[::order]))


def _other(terminal: Terminal) -> Terminal:
    return terminal[0], LEADS[terminal[1] == LEADS[0]]


# --- sounds that keep links


def keeps_links(nodes: Mapping[Terminal, object], links: Iterable[Link]) -> bool:
    """Whether the leads of each link share a node, alone where it is buried.

    Parameters
    ----------
    nodes : mapping of Terminal to node
        Node of each lead in use; ``hot`` and ``cold`` are the ends.
    """
    for link in links:
        at = {nodes[lead] for lead in link.leads if lead in nodes}
        if len(at) > 1:
            return False
        if at and not link.out:
            (node,) = at
            if node in ENDS or {lead for lead, one in nodes.items() if one == node} != set(link.leads):
                return False
    return True


def arrange(expression: Expression, links: Collection[Link], coils: Collection[str]) -> Expression | None:
    """Find an order of an expression that its links allow.

    Parameters
    ----------
    coils : collection of str
        Parts with start and finish; all others have the leads a and b.

    Returns
    -------
    Expression or None
        The same sound, perhaps all of it reversed; None if no order works.
    """
    for turned in (False, True):
        whole = replace(expression, reversed=expression.reversed ^ turned)
        for one in _orders(whole):
            if keeps_links(dict(_lead_nodes(one, *ENDS, (), coils)), links):
                return one
    return None


def _orders(expression: Expression) -> Iterator[Expression]:
    """The expression with its chains in every order, its own first."""
    if isinstance(expression, Leaf):
        yield expression
        return
    orders = permutations(expression.members) if expression.series else iter((expression.members,))
    for order in orders:
        for members in product(*(list(_orders(member)) for member in order)):
            yield replace(expression, members=members)


def _lead_nodes(
    expression: Expression, hot: object, cold: object, place: tuple[int, ...], coils: Collection[str]
) -> Iterator[tuple[Terminal, object]]:
    """Nodes of all leads in a sketch of the expression."""
    if expression.reversed:
        hot, cold = cold, hot
    if isinstance(expression, Leaf):
        first, last = LEADS if expression.name in coils else ("a", "b")
        yield (expression.name, first), hot
        yield (expression.name, last), cold
        return
    count = len(expression.members)
    for i, member in enumerate(expression.members):
        above = hot if not expression.series or i == 0 else (*place, i)
        below = cold if not expression.series or i == count - 1 else (*place, i + 1)
        yield from _lead_nodes(member, above, below, (*place, -i), coils)
