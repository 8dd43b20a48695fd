"""The sounds that a chart must give, as expressions over two-lead parts, and their layouts.

The order of members in series or in parallel does not change a sound. Neither does exchanging the
leads of a part without polarity. Turning a whole position round only reverses its absolute
polarity. A layout is one choice of all of these.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import islice, permutations, product

from dsp.errors import InputError
from dsp.parts.expression import Expression, Leaf, format_expression, names_in
from dsp.parts.kind import Terminal
from dsp.parts.kinds import dc_paths, ends_of, is_polar, terminals_of
from dsp.parts.switch import Switch
from dsp.wiring.groups import coils_inside
from dsp.wiring.linked_coils import Link, arrange, keeps_links, links_of
from dsp.wiring.model import Wiring
from dsp.wiring.union import Merge

HOT, COLD = 0, 1
"""The two end nodes of a layout. The nodes between are numbered from 2."""
MOST_LAYOUTS = 4000
"""Most layouts of one sound to examine. Six coils in series have 1,440."""


@dataclass(frozen=True)
class TargetPart:
    """A two-lead part of the sounds.

    Attributes
    ----------
    leads : tuple of str
        Start and finish of a coil.
    coil : bool
        Its direction matters. Other parts may be either way round.
    coupled : frozenset of str
        Coils magnetically coupled to it, directly or through others. An unused coil must not be
        shorted or closed into a loop while one of these is heard: that would change the sound.
    guarded : bool
        It is coupled to a coil outside the sketch, which may be heard in any position.
    """

    name: str
    leads: tuple[str, str]
    coil: bool = True
    coupled: frozenset[str] = frozenset()
    guarded: bool = False


@dataclass(frozen=True)
class Target:
    """A sound that a position must give.

    Attributes
    ----------
    name : str
        Name of the sketch's position.
    at : str
        Its switch position if the order is fixed; see `assign_positions`.
    """

    name: str
    expression: Expression
    at: str = ""


@dataclass(frozen=True)
class Targets:
    """The sounds that a switch must give.

    Attributes
    ----------
    parts : tuple of TargetPart
        Every part that a target names, and coils linked to these.
    targets : tuple of Target
        The sounds in the sketch's order.
    alone : bool
        No coil outside the sketch is soldered to anything. Only the polarity among the sketch's
        own coils is then audible.
    tied : bool
        The controls tie hot to ground for direct current in every switch position.
    links : tuple of Link
        Leads of the parts that are soldered together permanently.
    """

    parts: tuple[TargetPart, ...]
    targets: tuple[Target, ...]
    alone: bool = True
    tied: bool = True
    links: tuple[Link, ...] = ()

    @property
    def leads(self) -> tuple[Terminal, ...]:
        """Both leads of every part, in the order of the parts."""
        return tuple((part.name, lead) for part in self.parts for lead in part.leads)

    def select(self, names: frozenset[str]) -> Targets:
        """Return the same parts with only the named targets."""
        return replace(self, targets=tuple(t for t in self.targets if t.name in names))


def targets_of(wiring: Wiring, link_leads: Collection[Terminal] = ()) -> Targets:
    """Return the sounds of a wiring's sketch.

    Parameters
    ----------
    link_leads : collection of Terminal
        Coil leads whose link comes out of its pickup as a lead of its own.

    Raises
    ------
    InputError
        If the selector is not a sketch, if a part of its expressions is also soldered elsewhere, so
        that its leads are not free for the switch, or if a sound would need a link undone.
    """
    sketch = wiring.sketch
    if sketch is None:
        got = "no selector" if wiring.selector is None else f"'{wiring.selector}', a switch"
        raise InputError(f"{wiring.file}: selector", got, "a sketch (kind: sketch, positions: …)")
    used = {name for expression in sketch.positions.values() for name in names_in(expression)}
    inside = coils_inside(wiring, used)
    links = links_of(wiring, used, link_leads)
    used |= {name for one in links for name, _ in one.leads}
    linked = {terminal for one in links for terminal in one.leads}
    for joint in wiring.joints:
        for name, lead in joint.terminals:
            if name in used and (name, lead) not in linked and name not in inside:
                where = f"{wiring.file}:{joint.line}: joints" if joint.line else f"{wiring.file}: joints"
                raise InputError(
                    where,
                    f"{name}.{lead}",
                    f"no joint of {name}, but one of coil leads alone: the sketch places it",
                )
    classes: Merge[str] = Merge(wiring.parts)
    for pair in wiring.couplings:
        if pair.coefficient:
            classes.join((pair.first, pair.second))
    joined = {name for joint in wiring.joints for name, _ in joint.terminals} | wiring.placed
    sounding = {coil: name for name, coils in inside.items() for coil in coils}
    outside = [name for name in wiring.coils if name not in {*used, *sounding} and name in joined]
    parts = []
    for name, part in wiring.parts.items():
        if name in used:
            first, last = ends_of(part)
            polar = is_polar(part)
            own = inside.get(name, (name,)) if polar else ()
            alike = [other for other in wiring.coils if any(classes.same(one, other) for one in own)]
            others = {sounding.get(other, other) for other in alike if other not in own}
            guarded = any(other in outside for other in alike)
            parts.append(TargetPart(name, (first, last), polar, frozenset(others), guarded))
    targets = tuple(Target(name, expression) for name, expression in sketch.positions.items())
    for target in targets if links else ():
        _refuse_undone(wiring, target, tuple(parts), links)
    return Targets(tuple(parts), targets, alone=not outside, tied=_tied(wiring), links=links)


def _refuse_undone(
    wiring: Wiring, target: Target, parts: tuple[TargetPart, ...], links: tuple[Link, ...]
) -> None:
    """Refuse a sound that breaks a link or whose order a link shorts."""
    coils = {part.name for part in parts if part.coil}
    found = layouts_of(target, parts, links)
    if found.upright or found.turned:
        order = arrange(target.expression, links, coils)
        if order is not None and order != target.expression:
            got = f"'{format_expression(target.expression)}', whose order shorts what is soldered together"
            raise InputError(f"{wiring.file}: position {target.name}", got, f"'{format_expression(order)}'")
        return
    names = set(names_in(target.expression))
    mine = [one for one in links if any(name in names for name, _ in one.leads)]
    soldered = "; ".join(one.text for one in mine)
    verb = "are" if len(mine) > 1 else "is"
    got = f"'{format_expression(target.expression)}', where {soldered} {verb} soldered"
    allowed = "sounds that keep it, or a link that comes out as a lead (--link-lead)"
    raise InputError(f"{wiring.file}: position {target.name}", got, allowed)


def _tied(wiring: Wiring) -> bool:
    """Return whether direct current can pass from the sketch's hot to ground.

    Coils do not count, since a sound may leave them out.
    """
    merge: Merge[Terminal] = Merge(
        (name, lead) for name, part in wiring.parts.items() for lead in terminals_of(part)
    )
    for joint in wiring.joints:
        merge.join(joint.terminals)
    for name, part in wiring.parts.items():
        for pair in dc_paths(part):
            merge.join((name, lead) for lead in pair)
    selector = str(wiring.selector)
    return merge.same((selector, "hot"), (selector, "cold"))


def assign_positions(wanted: Targets, switch: Switch) -> Targets:
    """Return the targets with their switch positions for a fixed order.

    If every sound has the name of a switch position, names decide; otherwise the order does.

    Raises
    ------
    InputError
        If there are more sounds than the switch has positions, or none.

    Examples
    --------
    >>> from dsp.parts.expression import parse_expression
    >>> from dsp.parts.switch import on_off_on
    >>> both = Target("both", parse_expression("neck | bridge"))
    >>> assign_positions(Targets((), (both,)), on_off_on(1)).targets[0].at
    '1'
    """
    names = [target.name for target in wanted.targets]
    if not 1 <= len(names) <= len(switch.positions):
        allowed = f"1 to {len(switch.positions)} sounds, as the switch has positions"
        raise InputError("positions", f"{len(names)} sounds", allowed)
    same = all(name in switch.positions for name in names)
    at = names if same else switch.positions
    targets = (replace(target, at=place) for target, place in zip(wanted.targets, at, strict=False))
    return replace(wanted, targets=tuple(targets))


# --- a sound in plain form


@dataclass(frozen=True, order=True)
class Sound:
    """An expression in plain form: flat, members sorted, signs on the leaves.

    Attributes
    ----------
    kind : str
        ``part``, ``series`` or ``parallel``.
    name : str
        Name of the part; empty for a group.
    turned : bool
        The part's leads are reversed. Always False for a part without polarity.
    """

    kind: str
    name: str = ""
    turned: bool = False
    members: tuple[Sound, ...] = ()


def sound_of(expression: Expression, polar: Mapping[str, bool], *, turned: bool = False) -> Sound:
    """Return the plain form of an expression; equal forms sound equal.

    Parameters
    ----------
    polar : mapping of str to bool
        Whether a part's direction matters.
    turned : bool
        Reverse the whole expression.

    Examples
    --------
    >>> from dsp.parts.expression import parse_expression
    >>> polar = {"neck": True, "bridge": True}
    >>> one, other = (parse_expression(text) for text in ("neck | -bridge", "-bridge | neck"))
    >>> sound_of(one, polar) == sound_of(other, polar)
    True
    """
    turned ^= expression.reversed
    if isinstance(expression, Leaf):
        return Sound("part", expression.name, turned and polar[expression.name])
    kind = "series" if expression.series else "parallel"
    members: list[Sound] = []
    for member in expression.members:
        inner = sound_of(member, polar, turned=turned)
        members += inner.members if inner.kind == kind else (inner,)
    return Sound(kind, members=tuple(sorted(members)))


def sound_key(expression: Expression, polar: Mapping[str, bool]) -> str:
    """Return a text that all expressions of one sound share, turned or not.

    Parameters
    ----------
    polar : mapping of str to bool
        Whether a part's direction matters.

    Examples
    --------
    >>> from dsp.parts.expression import parse_expression
    >>> polar = {"neck": True, "bridge": True}
    >>> sound_key(parse_expression("-neck | bridge"), polar)
    '(-bridge | neck)'
    >>> sound_key(parse_expression("-bridge | neck"), polar)
    '(-bridge | neck)'
    """
    return min(_key(sound_of(expression, polar, turned=turned)) for turned in (False, True))


def _key(sound: Sound) -> str:
    if not sound.members:
        return f"-{sound.name}" if sound.turned else sound.name
    sign = " + " if sound.kind == "series" else " | "
    return f"({sign.join(sorted(map(_key, sound.members)))})"


# --- layouts

Layout = tuple[tuple[Terminal, int], ...]
"""The node of every lead of the parts in use, sorted by lead."""


@dataclass(frozen=True)
class Layouts:
    """Every layout of a sound.

    Attributes
    ----------
    upright, turned : tuple of Layout
        Layouts as written, and with the whole sound turned round.
    complete : bool
        False if there are more than `MOST_LAYOUTS` of a kind.
    """

    upright: tuple[Layout, ...]
    turned: tuple[Layout, ...]
    complete: bool


def layouts_of(target: Target, parts: tuple[TargetPart, ...], links: tuple[Link, ...] = ()) -> Layouts:
    """Return every layout of a sound between hot and cold that keeps links."""
    by_name = {part.name: part for part in parts}
    polar = {part.name: part.coil for part in parts}
    found = []
    for turned in (False, True):
        sound = sound_of(target.expression, polar, turned=turned)
        every = (one for one in _layouts(sound, by_name) if keeps_links(one, links))
        several = islice(every, MOST_LAYOUTS * 4)
        found.append(tuple(dict.fromkeys(map(_numbered, several))))
    complete = max(map(len, found)) <= MOST_LAYOUTS
    return Layouts(found[0][:MOST_LAYOUTS], found[1][:MOST_LAYOUTS], complete)


_Ends = tuple[object, object]


def _layouts(sound: Sound, parts: Mapping[str, TargetPart]) -> Iterator[dict[Terminal, object]]:
    yield from _between(sound, parts, ("hot", "cold"), ())


def _between(
    sound: Sound, parts: Mapping[str, TargetPart], ends: _Ends, place: tuple[int, ...]
) -> Iterator[dict[Terminal, object]]:
    """Yield layouts between two nodes; inner nodes are places in the tree."""
    if sound.kind == "part":
        part = parts[sound.name]
        first, last = ((part.name, lead) for lead in part.leads)
        for way in (sound.turned,) if part.coil else (False, True):
            yield {first: ends[way], last: ends[not way]}
        return
    orders = permutations(sound.members) if sound.kind == "series" else iter((sound.members,))
    for order in orders:
        cuts: list[object] = [(*place, i) for i in range(1, len(order))]
        chain = [ends[0], *cuts, ends[1]]
        choices = [
            tuple(
                _between(
                    member, parts, (chain[i], chain[i + 1]) if sound.kind == "series" else ends, (*place, -i)
                )
            )
            for i, member in enumerate(order)
        ]
        for chosen in product(*choices):
            yield {lead: node for piece in chosen for lead, node in piece.items()}


def _numbered(nodes: Mapping[Terminal, object]) -> Layout:
    """Number inner nodes from 2 by first lead, so that layouts compare."""
    numbers: dict[object, int] = {"hot": HOT, "cold": COLD}
    return tuple((lead, numbers.setdefault(nodes[lead], len(numbers))) for lead in sorted(nodes))
