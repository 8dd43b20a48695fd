"""Read what connects parts: joints and magnetic couplings."""

from __future__ import annotations

from collections.abc import Collection
from math import floor

from dsp.documents import values
from dsp.documents.tree import Entries, Items, Node, Reading
from dsp.errors import some
from dsp.parts import fields
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import inductive_of, terminals_of
from dsp.wiring.coupling import Excess, find_excess
from dsp.wiring.model import Coupling, Joint


def read_joints(reading: Reading, tree: Entries, parts: dict[str, Part]) -> tuple[Joint, ...]:
    """Read the joints, each of at least two different terminals."""
    joints = []
    node = tree.get("joints")
    part_nodes = tree.get("parts")
    named = tuple(key.text for key, _ in part_nodes.entries) if isinstance(part_nodes, Entries) else ()
    for item in reading.items(node, "joints"):
        terminals = [
            terminal
            for text in reading.items(item, "joints")
            if (terminal := _terminal(reading, text, parts, named)) is not None
        ]
        if isinstance(item, Items) and len(item.items) < 2:
            reading.refuse(item, "joints", "at least two terminals in a joint")
        for terminal in sorted({t for t in terminals if terminals.count(t) > 1}):
            reading.refuse(
                item, "joints", "each terminal once in a joint", got=f"'{'.'.join(terminal)}' twice"
            )
        joints.append(Joint(tuple(terminals), item.line))
    return tuple(joints)


def _terminal(
    reading: Reading, node: Node, parts: dict[str, Part], named: tuple[str, ...]
) -> Terminal | None:
    text = reading.text(node, "joints")
    if text is None:
        return None
    name, _, lead = text.partition(".")
    if not lead:
        reading.refuse(node, "joints", "part.terminal, such as volume.2")
        return None
    if name not in named:
        allowed = f"a part of this file: {some(named)}"
        reading.refuse(node, "joints", allowed, hint=reading.guess(name, named))
        return None
    if name not in parts:
        return None  # its own problem is noted already
    leads = terminals_of(parts[name])
    if lead not in leads:
        allowed = some(f"{name}.{x}" for x in leads)
        reading.refuse(node, "joints", allowed, hint=reading.guess(lead, leads))
        return None
    return name, lead


def read_couplings(
    reading: Reading, tree: Entries, parts: dict[str, Part], unread: Collection[str]
) -> tuple[Coupling, ...]:
    """Read the magnetic couplings, each pair of coils at most once.

    Parameters
    ----------
    parts : dict of str to Part
        Parts read without problems.
    unread : collection of str
        Parts with problems of their own; naming one is no further problem.
    """
    inductive = inductive_of(parts)
    coils = list(inductive)
    found: list[Coupling] = []
    places: dict[Coupling, Node] = {}
    node = tree.get("couplings")
    for item in reading.items(node, "couplings"):
        given = values.read_map(reading, fields.COUPLING_FIELDS, item, "couplings")
        names = values.read_names(reading, given["coils"], "couplings") if "coils" in given else ()
        coefficient = given.get("coefficient")
        unknown = [name for name in names if name not in coils]
        for name in unknown:
            if name not in unread:
                hint = reading.guess(name, coils)
                allowed = some(coils) or "coils and inductors"
                reading.refuse(item, "couplings", allowed, got=f"'{name}'", hint=hint)
        if "coils" in given and (len(names) != 2 or len(set(names)) != 2):
            reading.refuse(
                item, "couplings", "two different coils or inductors", got=", ".join(names) or "none"
            )
        elif coefficient is not None and abs(coefficient) >= 1.0:
            reading.refuse(
                item, "couplings", "a coefficient strictly between -1 and 1", got=f"{coefficient:g}"
            )
        elif coefficient is not None and len(names) == 2 and not unknown:
            if any({old.first, old.second} == set(names) for old in found):
                reading.refuse(item, "couplings", "each pair once", got=" and ".join(names))
            else:
                found.append(Coupling(names[0], names[1], coefficient))
                places[found[-1]] = item
    for excess in find_excess(found, inductive):
        _refuse_couplings(reading, places[excess.couplings[-1]], excess)
    return tuple(found)


def _refuse_couplings(reading: Reading, node: Node, excess: Excess) -> None:
    """Refuse couplings that would make energy, with the largest coefficients allowed."""
    got = [f"{pair.first} and {pair.second} with {pair.coefficient:g}" for pair in excess.couplings]
    limits = ", ".join(f"{floor(limit * 1e4) / 1e4:.4g}" for limit in excess.limits)  # never above the limit
    allowed = f"|k| below {limits}" + (" in this proportion" if len(got) > 1 else "")
    if not any(excess.limits):
        allowed = "0, since a coil here is all eddy share"
    reading.refuse(node, "couplings", f"{allowed}: coupled coils never make energy", got=", ".join(got))
